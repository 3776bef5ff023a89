//! How a take ends: three ways to play the last bar, all of them on the tonic from its first beat on.

use super::choice;
use super::kit::{CRASH, KICK, LOW_TOM, RIDE, SNARE};
use super::score::Score;
use crate::chart::Feel;
use crate::drill::BandStyle;
use crate::time::{PPQ, Tick};

/// Salt of the choices made here.
const SALT: u64 = 9;

/// A way to end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ending {
    /// Struck on the first beat, let ring.
    Ring,
    /// Struck on the first beat, and once more, short, after the second.
    Button,
    /// Struck on the first beat and let ring, while bass and drums go on to the third: root, fifth, root.
    Tag,
}

impl Ending {
    /// The ending of a pass, if it has one. A band that keeps to what is plain lets the first beat ring.
    pub fn of(score: &Score<'_>) -> Option<Ending> {
        let last = score.lap.bars.last().filter(|_| score.last_time)?;
        let roomy = last.meter.bar_ticks().0 == 4 * PPQ && last.meter.unit() <= 4;
        if score.band != BandStyle::Free || !roomy || score.feel == Feel::Ballad {
            return Some(Ending::Ring);
        }
        let draw = choice::mixed(score.seed, &[SALT, u64::from(score.pass)]);
        Some([Ending::Ring, Ending::Button, Ending::Tag][(draw % 3) as usize])
    }

    /// Where the comping strikes in the last bar.
    pub fn comping(self) -> Vec<Tick> {
        match self {
            Ending::Ring | Ending::Tag => vec![Tick(0)],
            Ending::Button => vec![Tick(0), Tick(3 * PPQ / 2)],
        }
    }

    /// Where the bass plays.
    pub fn bass(self) -> Vec<Tick> {
        match self {
            Ending::Ring | Ending::Button => self.comping(),
            Ending::Tag => (0..3).map(|beat| Tick(beat * PPQ)).collect(),
        }
    }

    /// What the drums strike, and how strongly.
    pub fn drums(self) -> &'static [(Tick, u8, u8)] {
        const AFTER_TWO: Tick = Tick(3 * PPQ / 2);
        match self {
            Ending::Ring => &[(Tick(0), KICK, 70), (Tick(0), RIDE, 88)],
            Ending::Button => &[
                (Tick(0), KICK, 70),
                (Tick(0), RIDE, 88),
                (AFTER_TWO, KICK, 70),
                (AFTER_TWO, SNARE, 62),
            ],
            Ending::Tag => &[
                (Tick(0), KICK, 70),
                (Tick(0), RIDE, 88),
                (Tick(PPQ), SNARE, 50),
                (AFTER_TWO, LOW_TOM, 56),
                (Tick(2 * PPQ), KICK, 72),
                (Tick(2 * PPQ), CRASH, 62),
            ],
        }
    }
}
