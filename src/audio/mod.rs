//! The player (the callback's body), synth, mixer and clips; the JACK client.
//!
//! Commands go in, notices come out, both through bounded queues; nothing here knows what a chart or a drill
//! is.
//!
//! Promise: nothing in the callback allocates, frees, locks, calls the system, logs or panics, and the size of a block
//! changes no sound.

mod bars;
mod clips;
mod command;
mod cue_level;
mod denormal;
mod desk;
mod following;
mod font_parts;
#[cfg(feature = "jack")]
pub mod jack;
mod loudness;
mod mixer;
mod notice;
mod played;
mod player;
mod prepared;
mod queue;
mod seats;
pub mod smf;
pub mod smf_join;
pub mod soundfont;
mod synth;
mod take;
mod tap;
mod tones;
mod trims;
mod voices;
mod weighting;

pub use command::{
    AheadFrames, CUE_CHOICES, CUE_WINDOWS, ClockSource, Command, Cue, CueChoice, CueForm,
    FollowSettings, Level, REPLACE_BARS,
};
pub use font_parts::{PartSound, part_sounds};
pub use loudness::{BAND_LUFS, CUE_ABOVE_LU, DEFAULT_DB, Loudness};
pub use mixer::{BLOCK_FRAMES, MAX_DB, SILENT_DB, db_to_gain};
pub use notice::Notice;
pub use played::{MidiSink, Played};
pub use player::{Outputs, Player};
pub use prepared::Prepared;
pub use queue::{Counters, Counts, PlayerEnd};
pub use seats::{Seat, Seats, SoundStyle};
pub use synth::{Band, LateBand, Synth, SynthError};
pub use tap::{DEAD_MS, TAP_FRAMES, Tap, TapEnd, TapWatch, TappedBlock, tap};
pub use trims::Trims;
