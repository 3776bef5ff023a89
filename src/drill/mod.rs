//! Drills: stages of restriction, their figures and places, and the target notes that come of them.

mod degrees;
mod keys;
mod line;
mod model;
mod model_tone;
mod orders;
mod places;
mod targets;
mod toml;
mod words;

pub use keys::KeyWalk;
pub use model::{
    Advance, Approach, Click, Comping, Cycle, DegreeWord, Direction, Drill, Drums, Each,
    FIGURE_CHOICES, FigureNote, Help, Model, Names, Order, PageHelp, Place, Places, Stage,
    StringRule, StringSet, Voice,
};
pub use model_tone::{Lack, ModelTone, NoRoom, check, model_room, model_tones};
pub use targets::{LapChordView, LayOut, TargetNote, TargetSet, lay_out};
pub use words::{WordError, note_value};
