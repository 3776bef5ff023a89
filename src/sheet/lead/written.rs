//! A lead sheet as its file tells it, bar by bar, before anybody plays it.

use super::warnings::Warnings;
use crate::chart::{Feel, MelodyNote};
use crate::harmony::{Harmony, KeyDeclaration};
use crate::time::{Meter, Tick};

/// A lead sheet in concert pitch.
#[derive(Debug, Default)]
pub(in crate::sheet) struct Sheet {
    pub title: Option<String>,
    pub tempo_qpm: Option<f64>,
    pub feel: Option<Feel>,
    pub measures: Vec<Measure>,
    pub warnings: Warnings,
}

/// A bar as written.
#[derive(Debug, Clone, Default)]
pub(in crate::sheet) struct Measure {
    /// What stands over it: a label, not a number to count with.
    pub label: String,
    /// Not counted, such as a pickup.
    pub implicit: bool,
    /// The meter in force.
    pub meter: Option<Meter>,
    /// The key in force.
    pub key: Option<KeyDeclaration>,
    /// As far as what stands in it reaches; zero if nothing does.
    pub len: Tick,
    /// Chords by where they start; several may stand at one place.
    pub chords: Vec<(Tick, Harmony)>,
    /// The melody, one note at a time.
    pub notes: Vec<MelodyNote>,
    pub mark: Option<String>,
    /// A double bar line at its end.
    pub double_bar: bool,
    /// Signs of the way through the bars.
    pub flow: Flow,
}

/// The signs at a bar that say which bar is played next.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(in crate::sheet) struct Flow {
    /// A repeat begins here.
    pub forward: bool,
    /// A repeat ends here.
    pub backward: Option<Backward>,
    /// An ending begins here, for these passes.
    pub ending: Option<Vec<u32>>,
    /// The ending stops here.
    pub ending_stop: bool,
    /// Where a dal segno goes.
    pub segno: bool,
    /// A coda sign without a word: the coda's start, or the place to leave for it.
    pub coda: bool,
    /// The place to leave for the coda.
    pub to_coda: Option<Act>,
    /// The place to end after a jump back.
    pub fine: Option<Act>,
    /// Back to the beginning.
    pub da_capo: Option<Act>,
    /// Back to the segno.
    pub dal_segno: Option<Act>,
}

/// The end of a repeat.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(in crate::sheet) struct Backward {
    /// How often the music is played in all, if it says so.
    pub times: Option<u32>,
    /// Taken after a jump too.
    pub after_jump: bool,
}

/// A jump, the coda's exit or the end.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(in crate::sheet) struct Act {
    /// The passes of its bar in which it acts; empty: the usual ones.
    pub only: Vec<u32>,
    /// A jump's words name the coda.
    pub to_coda: bool,
    /// A jump's words name the end.
    pub to_fine: bool,
}
