//! What the band is to play over.

use crate::chart::{Feel, Lap, PlayedNote};
use crate::drill::{BandStyle, Comping, Drums, Model, TargetSet};
use crate::harmony::ChordInContext;
use crate::time::UsPerQuarter;

/// One pass of what loops, as the band needs to know it.
#[derive(Debug, Clone)]
pub struct Score<'a> {
    /// Bars and chords of the lap, ticks from its first bar.
    pub lap: &'a Lap,
    /// The form's chords in context, indexed by `LapChord::form_chord`.
    pub contexts: &'a [ChordInContext],
    /// With which bars of the lap a section begins, besides the first.
    pub sections: &'a [usize],
    /// The target sets of this pass, one a chord of the lap.
    pub targets: &'a [TargetSet],
    /// The chord that follows the lap's last bar (its own first chord when it loops); `None`: the take ends.
    pub next: Option<&'a ChordInContext>,
    /// How the tune is played.
    pub feel: Feel,
    /// The tempo: swing and leaving out go by it.
    pub tempo: UsPerQuarter,
    /// The tune's own tempo, however slowly it is practised: the two-feel goes by it.
    pub tune_tempo: UsPerQuarter,
    /// How often the lap was played in this stage, from 0.
    pub pass: u32,
    /// Chooses where there is a choice.
    pub seed: u64,
    /// How much people play it: 0 is the grid itself, 1 a good band.
    pub feel_amount: f64,
    /// How much the comping gives away.
    pub comping: Comping,
    /// Whether the bass plays.
    pub bass: bool,
    /// What keeps the time.
    pub drums: Drums,
    /// The tune itself in ticks of the lap, straight; empty: it does not sound.
    pub melody: &'a [PlayedNote],
    pub model: Model,
    /// How richly the band plays.
    pub band: BandStyle,
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
            sections: &[],
            targets: &[],
            next: None,
            feel,
            tempo,
            tune_tempo: tempo,
            pass: 0,
            seed: 0,
            feel_amount: 0.0,
            comping: Comping::Off,
            bass: false,
            drums: Drums::Off,
            melody: &[],
            model: Model::Off,
            band: BandStyle::Plain,
            last_time: false,
        }
    }

    /// A stage where the player still learns the notes: every chord on its first beat, plain cells, no push, two-feel.
    pub(super) fn is_plain(&self) -> bool {
        self.band == BandStyle::Plain
    }
}
