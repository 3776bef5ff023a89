//! The form unrolled: every bar and chord in the order of playing.

use super::Feel;
use crate::harmony::{KeyDeclaration, TimedChord};
use crate::time::{Meter, Tick};

/// A chart's form, written out once through, endings chosen by pass. Tick 0 is the first full bar; the
/// pickup, where there is one, stands before it in `pickup` with negative ticks.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// The title.
    pub title: String,
    /// Quarter notes a minute.
    pub tempo_qpm: f64,
    /// How it is played.
    pub feel: Feel,
    /// The bars in order, without the pickup.
    pub bars: Vec<FormBar>,
    /// The chords in order, without the pickup's. A chord that goes on over a bar line is one chord.
    pub chords: Vec<FormChord>,
    /// The pickup bar and its chords, if there is one.
    pub pickup: Option<(FormBar, Vec<FormChord>)>,
    /// Names of the sections, in the order of the file.
    pub section_names: Vec<String>,
}

/// A bar of the unrolled form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FormBar {
    /// Where it starts.
    pub start: Tick,
    /// Its meter.
    pub meter: Meter,
    /// The key declared here.
    pub key: Option<KeyDeclaration>,
    /// Index of its section.
    pub section: usize,
    /// Which item of the form it belongs to, from 0: AABA has items 0 to 3.
    pub item: usize,
    /// Its number in the section, from 1; the pickup is 0.
    pub bar: u32,
}

/// A chord of the unrolled form.
#[derive(Debug, Clone, PartialEq)]
pub struct FormChord {
    /// The chord with its place in the form.
    pub timed: TimedChord,
    /// Index into `Form::bars` of the bar it starts in (0 for the pickup's).
    pub form_bar: usize,
    /// The beat it starts on, from 1, in denominator notes of its bar's meter.
    pub beat: f64,
    /// Its length in denominator notes of its bar's meter.
    pub beats: f64,
    /// A teacher's note to the player.
    pub note: Option<String>,
}

/// What loops: some bars of the form in the order of playing, with their chords. Ticks count from its first
/// bar. A chord that the choice of bars cuts is shortened; one whose start is cut away begins with the lap.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lap {
    /// The bars.
    pub bars: Vec<LapBar>,
    /// The chords.
    pub chords: Vec<LapChord>,
    /// The length of all bars.
    pub len: Tick,
}

/// A bar of a lap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LapBar {
    /// Index into `Form::bars`.
    pub form_bar: usize,
    /// Where it starts in the lap.
    pub start: Tick,
    /// Its meter.
    pub meter: Meter,
}

/// A chord of a lap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LapChord {
    /// Index into `Form::chords`.
    pub form_chord: usize,
    /// Where it starts in the lap.
    pub start: Tick,
    /// How long it lasts in the lap.
    pub len: Tick,
    /// Index into `Lap::bars` of the bar it starts in.
    pub bar: usize,
}

impl Form {
    /// The lap of the given bars (indices into `bars`, in the order of playing).
    ///
    /// # Panics
    /// When an index lies outside the form.
    pub fn lap(&self, bars: &[usize]) -> Lap {
        let _ = bars;
        Lap::default()
    }
}
