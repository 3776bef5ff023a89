//! What is judged, and what comes of it. Times are milliseconds of one clock: the audio clock's, or a recording's.

use crate::harmony::{Degree, Pitch};

/// What a note is called over a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoteName {
    /// Its degree, within the octave.
    pub degree: Degree,
    /// The note as it is spelled there.
    pub pitch: Pitch,
}

/// A note that is to be played.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Index of its chord, for whoever reads the verdict.
    pub chord: usize,
    /// What it is called.
    pub name: NoteName,
    /// As MIDI note: its pitch class counts, the octave only if `fixed`.
    pub midi: u8,
    /// Whether the stage asks for this octave.
    pub fixed: bool,
    /// Whether any note of the set will do: a place of a rhythm in open choice. `name` and `midi` then name nothing.
    pub choice: bool,
    /// Its place; for an off-beat the straight one.
    pub at_ms: f64,
    /// The last place that is as right: the ride's for an off-beat.
    pub at_last_ms: f64,
    /// Whether it is the chord's first beat, which may be pushed.
    pub on_change: bool,
    /// The length of a beat here.
    pub beat_ms: f64,
    /// Where its chord ends.
    pub until_ms: f64,
    /// The pitch classes of the stage's set over this chord, a bit each.
    pub set: u16,
    /// What every pitch class is called over this chord.
    pub names: [NoteName; 12],
}

impl Wanted {
    /// Whether a note of this pitch class is what is asked for.
    pub(crate) fn is_met_by(&self, class: u8) -> bool {
        match self.choice {
            true => self.set >> class & 1 == 1,
            false => class == self.midi % 12,
        }
    }

    /// How late a note is at a place that is right anywhere between two moments; negative is early.
    pub(crate) fn lateness_ms(&self, at_ms: f64) -> f64 {
        at_ms - at_ms.clamp(self.at_ms, self.at_last_ms.max(self.at_ms))
    }
}

/// A note that was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeardNote {
    pub onset_ms: f64,
    /// When it ended, if it did.
    pub off_ms: Option<f64>,
    /// The nearest MIDI note.
    pub midi: u8,
    /// How far above it, -50 to 50.
    pub cents: f64,
    /// How sure the ear is, 0 to 1.
    pub confidence: f32,
    /// Another note that was struck with it: either may be meant.
    pub also: Option<u8>,
    /// Whether it was struck; else the pitch went on to it from the note before.
    pub struck: bool,
}

/// What became of a target, or of a note without one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// The right note in its place.
    Right,
    /// The right note in another octave than the stage asks for.
    Octave,
    /// Another note in its place.
    Wrong,
    /// No note in its place.
    Missed,
    /// A note outside the set, beside the targets; beside a rhythm any note.
    Other,
    /// Something was there, but not clear enough to say what.
    NotJudged,
}

impl Outcome {
    /// The word for it in lines that programs read.
    pub fn name(self) -> &'static str {
        match self {
            Outcome::Right => "right",
            Outcome::Octave => "octave",
            Outcome::Wrong => "wrong",
            Outcome::Missed => "missed",
            Outcome::Other => "other",
            Outcome::NotJudged => "not judged",
        }
    }
}

/// How a note stood in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timing {
    /// Within the window around its place.
    InTime,
    /// Early, by less than twice what is in time.
    Early,
    /// Late, by less than twice what is in time.
    Late,
    /// Brought forward over the change of chord.
    Pushed,
}

impl Timing {
    /// The word for it in lines that programs read.
    pub fn name(self) -> &'static str {
        match self {
            Timing::InTime => "in time",
            Timing::Early => "early",
            Timing::Late => "late",
            Timing::Pushed => "pushed",
        }
    }
}

/// What became of one target, or of one note without a target.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// Index of the chord.
    pub chord: usize,
    /// Index into the list of what was wanted; none for other notes.
    pub target: Option<usize>,
    /// Index into the list of what was played; none if missed.
    pub played: Option<usize>,
    /// The note wanted; none for other notes, and where any note of the set will do.
    pub want: Option<NoteName>,
    /// The note played; none if missed, or not clear.
    pub got: Option<NoteName>,
    /// How far the note played is above its name, the take's tuning taken out.
    pub cents: Option<f64>,
    /// Lateness, the steady offset taken out; negative is early.
    pub late_ms: Option<f64>,
    /// Where it was asked for; where it was heard for other notes.
    pub at_ms: f64,
    /// What became of it.
    pub outcome: Outcome,
    /// How it stood in time; none where it had no place, or none was played.
    pub timing: Option<Timing>,
    /// A wrong note that was put right in time.
    pub found: bool,
}

impl Verdict {
    /// A verdict on a place of a chord, or on a note beside them: nothing was asked for and nothing heard, as yet.
    pub(crate) fn blank(chord: usize, at_ms: f64, outcome: Outcome) -> Verdict {
        Verdict {
            chord,
            target: None,
            played: None,
            want: None,
            got: None,
            cents: None,
            late_ms: None,
            at_ms,
            outcome,
            timing: None,
            found: false,
        }
    }

    /// Whether the note was there.
    pub(crate) fn is_right(&self) -> bool {
        self.outcome == Outcome::Right
    }

    /// Whether a note was asked for, and what was heard was clear enough to say what became of it.
    pub(crate) fn is_clear(&self) -> bool {
        self.target.is_some() && self.outcome != Outcome::NotJudged
    }

    /// Whether a note that was asked for was not there, and not put right in time.
    pub(crate) fn is_missed(&self) -> bool {
        self.is_clear() && !self.is_right() && !self.found
    }
}

/// All verdicts on a stretch of playing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Judged {
    /// In the order of time.
    pub verdicts: Vec<Verdict>,
    /// The steady offset that was taken out; positive sits behind.
    pub offset_ms: f64,
    /// The tuning that was taken out.
    pub tuning_cents: f64,
}

impl Judged {
    /// The verdicts on what was asked for.
    pub(crate) fn targets(&self) -> impl Iterator<Item = &Verdict> {
        self.verdicts
            .iter()
            .filter(|verdict| verdict.target.is_some())
    }
}
