//! The places of a bass line, and what each has to do.

use super::scene::ChordRef;
use crate::time::Tick;

/// What a note of the bass has to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LineTask {
    /// The written bass note of its chord.
    Root,
    /// The chord goes on over the bar line: the written bass again (another chord tone only if it must).
    Again,
    /// The chord goes on over the bar line of a walk: its bass, third or fifth.
    Midway,
    /// A chord tone, the fifth by preference.
    Answer,
    Fifth,
    Tone,
    /// A tone of the chord or its scale.
    Free,
    /// Leads into the next note: a semitone, a step, or the fifth of it.
    Approach,
}

/// A place of the bass.
#[derive(Debug, Clone, Copy)]
pub(super) struct Onset {
    /// Where, in ticks of the lap, swung.
    pub at: Tick,
    pub chord: ChordRef,
    pub task: LineTask,
    /// On a pulse of the bar.
    pub on_pulse: bool,
    /// On the pulse that answers the first (3 of 4).
    pub half: bool,
}
