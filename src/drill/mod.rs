//! Drills: stages of restriction, their figures and places, and the target notes that come of them.
//!
//! Promise: pure; the same stage, lap, pass and seed give the same notes, and transposing the chart transposes them.

mod band_style;
mod cover;
mod days;
mod degrees;
mod figure;
mod help;
mod keys;
mod lacks;
mod line;
mod model;
mod model_tone;
mod motif;
mod names;
mod orders;
mod over;
mod phrase;
mod places;
mod qualities;
mod range;
mod read_rotation;
mod rotation;
mod rounds;
mod targets;
mod toml;
mod turn;
mod words;

pub use band_style::BandStyle;
pub use cover::least as least_cover;
pub use figure::{
    Approach, DegreeWord, Direction, Each, FIGURE_CHOICES, FigureNote, Order, Place, Places,
    StringRule, StringSet,
};
pub use help::{Click, Comping, Drums, Help, Model, PageHelp, Voice};
pub use keys::KeyWalk;
pub use lacks::{Lack, NoRoom, check};
pub use model::{Drill, Stage};
pub use model_tone::{ModelTone, model_room, model_tones};
pub use names::Names;
pub use over::{Every, GoesRound, TempoSteps};
pub use places::LapChordView;
pub use qualities::{quality_named, quality_word};
pub use range::{KeyRange, Octave};
pub use rotation::{Rotation, Turning};
pub use rounds::{Advance, Cycle, Phase};
pub use targets::{LayOut, TargetNote, TargetSet, lay_out, resting};
pub(crate) use toml::read_drill;
pub use words::{WordError, note_value};
