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
//! - Time: every onset stands on the tick that [`swung`] (or, for drums, [`swung_ride`]) gives.
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
mod grid;
mod leading;
mod line;
mod melody;
mod model;
mod rhythm;
mod scene;
mod swing;
mod voicing;
mod way;

pub use count_in::count_in;
pub use swing::{
    comping_offset, comping_ratio, ride_offset, swing_ratio, swings, swung, swung_ride,
};

/// The ranges of the parts and the percussion keys, as `midi_out` shows them.
pub mod keys {
    pub use super::bass::{HIGHEST as HIGHEST_BASS, LOWEST as LOWEST_BASS};
    pub use super::drums::{
        CLOSED_HI_HAT, HIGH_CLICK, KICK, LOW_CLICK, PEDAL_HI_HAT, RIDE, SIDE_STICK, SNARE,
    };
    pub use super::voicing::{HIGHEST as HIGHEST_COMPING, LOWEST as LOWEST_COMPING};
}

use crate::chart::{Feel, Lap, PlayedNote};
use crate::drill::{Comping, Drums, Model, TargetSet};
use crate::harmony::ChordInContext;
use crate::time::{BAR_NOTES, Meter, Part, Tick, TimedNote, UsPerQuarter};

/// One pass of what loops, as the band needs to know it.
#[derive(Debug, Clone)]
pub struct Score<'a> {
    /// Bars and chords of the lap, ticks from its first bar.
    pub lap: &'a Lap,
    /// The form's chords in context, indexed by `LapChord::form_chord`.
    pub contexts: &'a [ChordInContext],
    /// The target sets of this pass, one a chord of the lap.
    pub targets: &'a [TargetSet],
    /// The chord that follows the lap's last bar (its own first chord when it loops); `None`: the take ends.
    pub next: Option<&'a ChordInContext>,
    /// How the tune is played.
    pub feel: Feel,
    /// The tempo: swing, two-feel and leaving out go by it.
    pub tempo: UsPerQuarter,
    /// How often the lap was played in this stage, from 0.
    pub pass: u32,
    /// Chooses where there is a choice.
    pub seed: u64,
    /// How much the comping gives away.
    pub comping: Comping,
    /// Whether the bass plays.
    pub bass: bool,
    /// What keeps the time.
    pub drums: Drums,
    /// The tune itself in ticks of the lap, straight; empty: it does not sound.
    pub melody: &'a [PlayedNote],
    /// The model tones.
    pub model: Model,
    /// A learning stage: every chord on its first beat, plain cells, no push, two-feel.
    pub learning: bool,
    /// The last time: the last bar gets the tonic on 1, let ring, instead of a turnaround.
    pub last_time: bool,
}

impl<'a> Score<'a> {
    /// A lap over which nobody plays yet.
    pub fn silent(
        lap: &'a Lap,
        contexts: &'a [ChordInContext],
        feel: Feel,
        tempo: UsPerQuarter,
    ) -> Score<'a> {
        Score {
            lap,
            contexts,
            targets: &[],
            next: None,
            feel,
            tempo,
            pass: 0,
            seed: 0,
            comping: Comping::Off,
            bass: false,
            drums: Drums::Off,
            melody: &[],
            model: Model::Off,
            learning: true,
            last_time: false,
        }
    }
}

/// The notes of one pass, ticks from the lap's first bar, sorted by start then part then key; swing is
/// already in the ticks. The push into what follows the lap (`next`) belongs to this pass; notes never lie
/// before the lap's start or at or after its end.
///
/// Every bar's notes fit the 128 of a [`crate::time::Bar`].
pub fn play(score: &Score<'_>) -> Vec<TimedNote> {
    let scene = scene::Scene::of(score);
    let mut notes = comping::comping(&scene);
    notes.extend(bass::bass(&scene));
    notes.extend(drums::drums(&scene));
    notes.extend(melody::melody(&scene));
    notes.extend(model::model(&scene));
    notes.retain(|note| note.at >= Tick(0) && note.at < score.lap.len);
    notes.sort_by_key(|note| (note.at, note.part, note.key));
    fit_bars(&scene, &mut notes);
    notes
}

/// Thins the melody, then the drums, then the click, of a bar that has more notes than a bar carries. No tune or meter
/// that people play comes near; thirty-two whole notes to the bar would.
fn fit_bars(scene: &scene::Scene<'_>, notes: &mut Vec<TimedNote>) {
    for bar in &scene.bars {
        for part in [Part::Melody, Part::Drums, Part::Click] {
            let from = notes.partition_point(|note| note.at < bar.start);
            let to = notes.partition_point(|note| note.at < bar.end);
            let mut surplus = (to - from).saturating_sub(BAR_NOTES);
            for i in (from..to).rev() {
                if surplus > 0 && notes[i].part == part {
                    notes.remove(i);
                    surplus -= 1;
                }
            }
        }
    }
}

/// A bar of the count-in.
#[derive(Debug, Clone, PartialEq)]
pub struct CountInBar {
    /// Its meter.
    pub meter: Meter,
    /// Its clicks, ticks from its own start.
    pub notes: Vec<TimedNote>,
}
