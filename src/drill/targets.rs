//! From a stage and a lap to the notes to play over each chord.

use super::{Direction, Place, Stage};
use crate::harmony::{ChordInContext, Degree, Pitch};
use crate::time::{Meter, Tick};

/// One chord of the lap as the drill sees it.
#[derive(Debug, Clone, Copy)]
pub struct LapChordView<'a> {
    /// Where it starts in the lap.
    pub start: Tick,
    /// How long it lasts in the lap.
    pub len: Tick,
    /// The meter of the bar it starts in.
    pub meter: Meter,
    /// The chord.
    pub context: &'a ChordInContext,
}

/// What `lay_out` needs besides the stage.
#[derive(Debug, Clone, Copy)]
pub struct LayOut<'a> {
    /// The lap's chords in order.
    pub chords: &'a [LapChordView<'a>],
    /// How often the lap was played in this stage, from 0: rotation and orders go by it.
    pub pass: u32,
    /// Chooses where there is a choice; the same seed gives the same notes.
    pub seed: u64,
}

/// One note to play.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetNote {
    /// The degree over the root, within the octave.
    pub degree: Degree,
    /// Spelled.
    pub pitch: Pitch,
    /// Where it lies.
    pub direction: Direction,
    /// The place as the drill wrote it (or, for later notes of a stepped figure, as it is counted).
    pub place: Place,
    /// Where it starts in the lap, straight (swing is put on when it sounds). May lie before the chord (a
    /// push), then also before the lap's start.
    pub at: Tick,
    /// How long it is meant to sound.
    pub len: Tick,
    /// The MIDI key in a guitar's range (40 to 76 where it can): the model tone and the neck use it.
    pub midi: u8,
}

/// The notes of a stage over one chord, in playing order; empty for silence and for open choice.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TargetSet {
    /// The notes.
    pub notes: Vec<TargetNote>,
}

/// Lays a stage out over a lap: one set a chord, in the chords' order.
pub fn lay_out(stage: &Stage, over: &LayOut<'_>) -> Vec<TargetSet> {
    let _ = stage;
    over.chords.iter().map(|_| TargetSet::default()).collect()
}
