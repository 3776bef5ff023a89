//! The band: comping with voice leading, bass, drums and clicks, count-in and model tones.
//!
//! Everything is a pure function of a [`Score`] and its seed: asked twice for the same pass it gives the same
//! notes, so a bar that was called back can be written again without a seam.
//!
//! What an accompanist would promise, and what is kept here:
//! - Comping: rootless voicings between D3 and Bb4, third and seventh (or sixth) always, led so that the top
//!   voice of a loop moves least, its seam included. Every chord is struck or pushed; one or two strokes a
//!   bar; no rhythm for more than two bars running; fewer strokes in every fourth bar. Only the last off-beat
//!   of a bar anticipates: a stroke there takes the next bar's chord if one begins on that bar's first beat.
//! - Bass: E1 to D3; the written bass note where a chord begins and on every first beat; the note before a
//!   change is a semitone or a step away from the next or its fifth; no leap over an octave, no note three
//!   times running.
//! - Time: every onset stands within 20 ms of the tick that [`swung`] gives ([`FARTHEST_MS`], on it with no time feel), and in the
//!   same bar.
//! - The seam: the note and the voicing a lap begins with depend on its chords alone, so the pass before can
//!   lead into them.
//! - Melody: the chart's own, phrased with the same off-beats, never a note beside it.
//!
//! Common practice, no source; the numbers are the house's.

mod bass;
mod cells;
mod choice;
mod comping;
mod count_in;
mod drums;
mod dynamics;
mod ending;
mod fills;
mod grid;
mod kit;
mod leading;
mod line;
mod melody;
mod model;
mod onset;
mod play;
mod rhythm;
mod scene;
mod score;
mod skips;
mod swing;
mod timing;
mod voicing;
mod way;
mod wishes;

pub use count_in::{CountInBar, count_in, count_in_bars};
pub use play::play;
pub use score::Score;
pub use swing::{swing_offset, swing_ratio, swings, swung};
pub use timing::FARTHEST_MS;

/// The ranges of the parts and the percussion keys, as `midi_out` shows them.
pub mod keys {
    pub use super::kit::{
        BRUSH_SWEEP, BRUSH_TAP, CLOSED_HI_HAT, CRASH, HIGH_CLICK, HIGH_TOM, KICK, LOW_CLICK,
        LOW_TOM, PEDAL_HI_HAT, RIDE, SIDE_STICK, SNARE,
    };
    pub use super::line::{HIGHEST as HIGHEST_BASS, LOWEST as LOWEST_BASS};
    pub use super::voicing::{HIGHEST as HIGHEST_COMPING, LOWEST as LOWEST_COMPING};
}
