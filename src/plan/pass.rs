//! One pass, written out: its lap, target sets and notes.

use super::{Material, Standing};
use crate::chart::{Lap, LapChord};
use crate::drill::{self, Help, LapChordView, Phase, TargetSet};
use crate::fretboard::{Neck, NeckPlace};
use crate::harmony::ChordInContext;
use crate::time::{Part, TimedNote, UsPerQuarter};
use std::sync::Arc;

/// What a pass is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PassKind {
    /// The count before the first bar; with the pickup, where there is one.
    CountIn,
    /// Once through what goes round.
    Music(Phase),
    /// Time goes on, the summary stands there.
    Breathe,
    /// One chord held, out of time.
    Held,
}

/// A pass with everything that sounds and is to be played in it. Ticks count from its lap's first bar.
#[derive(Debug, Clone)]
pub struct Pass {
    pub kind: PassKind,
    /// The chart and drill it was written from.
    pub material: Arc<Material>,
    /// Where it stands in the course.
    pub standing: Standing,
    /// Its bars and chords.
    pub lap: Lap,
    /// Chords of the lap refer to the pickup's contexts, not the form's.
    pub of_pickup: bool,
    /// The target sets, one a chord of the lap.
    pub targets: Vec<TargetSet>,
    /// Where their notes lie, one list a set; empty where nothing is to be played.
    pub places: Vec<Vec<Option<NeckPlace>>>,
    /// Which chords of the lap lie in a bar of rest; empty where nothing is to be played.
    pub rests: Vec<bool>,
    pub notes: Vec<TimedNote>,
    /// The tempo it was written for.
    pub tempo: UsPerQuarter,
    /// The help in force.
    pub help: Help,
}

/// Settings of the player that shape every pass.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PassSettings {
    /// Chooses where there is a choice.
    pub seed: u64,
    /// How much of people's time feel the band has, 0 to 1.
    pub feel_amount: f64,
    /// Parts that the foot muted.
    pub muted: Vec<Part>,
    /// The neck that the notes are looked for on.
    pub neck: Neck,
    /// Model tones wanted whatever the stage says (`None`: as the stage says).
    pub model: Option<drill::Model>,
    /// A clock from outside drives the take: no stage has a tempo of its own.
    pub driven: bool,
}

impl PassSettings {
    /// The tempo of a pass, where the player's is `full`.
    pub fn tempo_of(&self, standing: &Standing, full: UsPerQuarter) -> UsPerQuarter {
        if self.driven {
            full
        } else {
            standing.tempo(full)
        }
    }
}

impl Pass {
    /// Whether the band is out in a bar of the lap: it plays some bars and drops out for as many, in turn, as long as the
    /// player plays.
    pub fn is_band_out(&self, bar: usize) -> bool {
        let stage = self.standing.stage_of(&self.material);
        let played = u64::from(self.standing.played_in_round(&self.material));
        let before = played * self.lap.bars.len() as u64 + bar as u64;
        self.kind == PassKind::Music(Phase::Play) && is_out(stage.band_out, before)
    }

    /// The context of a chord of the lap.
    pub fn context(&self, lap_chord: usize) -> Option<&ChordInContext> {
        let chord = self.lap.chords.get(lap_chord)?;
        let from = &self.material;
        let contexts = if self.of_pickup {
            &from.pickup_contexts
        } else {
            &from.contexts
        };
        contexts.get(chord.form_chord)
    }
}

/// The chords of a lap as a drill sees them; `contexts` has an entry for each chord of the form.
pub fn as_drilled<'a>(lap: &Lap, contexts: &'a [ChordInContext]) -> Vec<LapChordView<'a>> {
    let view = |chord: &LapChord| LapChordView {
        start: chord.start,
        len: chord.len,
        meter: lap.bars[chord.bar].meter,
        context: &contexts[chord.form_chord],
    };
    lap.chords.iter().map(view).collect()
}

/// Whether the band is out, where it plays `bars` and drops out for as many in turn; `before`: bars of the round that
/// went before, the band in at first. 0 bars: never.
fn is_out(bars: u32, before: u64) -> bool {
    bars > 0 && (before / u64::from(bars)) % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_band_is_out_every_other_time() {
        // Bars in turn, and what sounds in each of twelve: x with the band, . without.
        for (bars, expected) in [
            (0, "xxxxxxxxxxxx"),
            (1, "x.x.x.x.x.x."),
            (2, "xx..xx..xx.."),
            (4, "xxxx....xxxx"),
        ] {
            let sign = |bar| if is_out(bars, bar) { '.' } else { 'x' };
            assert_eq!((0..12).map(sign).collect::<String>(), expected);
        }
    }
}
