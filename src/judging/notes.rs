//! Heard notes made ready to be judged, or to be counted.

use crate::judging::rules::Rules;
use crate::judging::verdict::{HeardNote, Wanted};

/// Three notes within this are a strum.
const STRUM_MS: f64 = 60.0;
/// A bend or a slide comes to its note within this.
const ARRIVES_MS: f64 = 800.0;
/// Less sure than this is nothing heard.
const UNHEARD: f32 = 0.3;

/// A note with the take's own tuning taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TunedNote {
    /// Index into what was played.
    pub(crate) index: usize,
    pub(crate) at_ms: f64,
    pub(crate) long_ms: f64,
    pub(crate) midi: i32,
    /// Above that MIDI note, -50 to 50.
    pub(crate) cents: f64,
    /// Whether it can be judged at all.
    pub(crate) clear: bool,
    /// Whether it is sure enough to be told wrong; what is asked for is right without that.
    pub(crate) sure: bool,
    /// The pitch class of a note that was struck with it.
    also: Option<u8>,
    /// Where the stroke was that the pitch went on from, if it was not struck.
    pub(crate) stroke_ms: Option<f64>,
}

impl TunedNote {
    /// Its pitch class, 0 to 11.
    pub(crate) fn class(&self) -> u8 {
        self.midi.rem_euclid(12) as u8
    }

    /// Whether it is, or has beside it, what is asked for.
    pub(crate) fn meets(&self, want: &Wanted) -> bool {
        let also = self.also.is_some_and(|class| want.is_met_by(class));
        self.clear && (want.is_met_by(self.class()) || also)
    }

    /// All of its times, later by so much.
    pub(crate) fn move_by(&mut self, ms: f64) {
        self.at_ms += ms;
        self.stroke_ms = self.stroke_ms.map(|at_ms| at_ms + ms);
    }

    /// How late it is at its place. A note that the pitch came to (`arrived`) counts from there or from its stroke, whichever is
    /// nearer: how it got there is told, not judged.
    pub(crate) fn lateness_ms(&self, want: &Wanted, arrived: bool) -> f64 {
        let late_ms = want.lateness_ms(self.at_ms);
        let from_stroke = self.stroke_ms.filter(|_| arrived);
        let stroke_ms = from_stroke.map_or(late_ms, |at_ms| want.lateness_ms(at_ms));
        if stroke_ms.abs() < late_ms.abs() {
            stroke_ms
        } else {
            late_ms
        }
    }
}

/// The notes that count, of some in the order of time.
pub(crate) fn tuned(played: &[HeardNote], tuning_cents: f64, rules: &Rules) -> Vec<TunedNote> {
    let tuned = |(index, note): (usize, &HeardNote)| {
        let long_ms = long_ms(played, index);
        let exact = f64::from(note.midi) + (note.cents - tuning_cents) / 100.0;
        let cents = (exact - exact.round()) * 100.0;
        let strummed = is_strummed(played, index);
        // A grace note leads on to the next one; a short last note of a phrase is short and no grace.
        let to_next_ms = next_ms(played, index) - note.onset_ms;
        let is_grace = long_ms < rules.grace_ms && to_next_ms < rules.grace_ms && !strummed;
        let is_sure = note.confidence >= rules.confidence && note.also.is_none();
        (!is_grace).then(|| TunedNote {
            index,
            at_ms: note.onset_ms,
            long_ms,
            midi: exact.round() as i32,
            cents,
            clear: note.confidence >= UNHEARD && cents.abs() <= rules.cents && !strummed,
            sure: is_sure && cents.abs() <= rules.cents && !strummed,
            also: note.also.map(|midi| midi % 12),
            stroke_ms: stroke_ms(played, index),
        })
    };
    played.iter().enumerate().filter_map(tuned).collect()
}

/// The notes that were clear and long enough, of some in the order of time.
pub(crate) fn clear_notes<'a>(notes: &'a [HeardNote], rules: &Rules) -> Vec<&'a HeardNote> {
    let is_note = |(index, note): &(usize, &HeardNote)| {
        note.confidence >= rules.confidence && long_ms(notes, *index) >= rules.grace_ms
    };
    let clear = notes.iter().enumerate().filter(is_note);
    clear.map(|(_, note)| note).collect()
}

/// Where the stroke was that the pitch of a note without one went on from.
fn stroke_ms(notes: &[HeardNote], index: usize) -> Option<f64> {
    let at_ms = notes[index].onset_ms;
    let before = notes[..index].iter().rev();
    let near = before.take_while(|note| at_ms - note.onset_ms < ARRIVES_MS);
    let stroke = near.into_iter().find(|note| note.struck);
    stroke
        .filter(|_| !notes[index].struck)
        .map(|note| note.onset_ms)
}

/// How long a note sounds, at the most until the next one.
fn long_ms(notes: &[HeardNote], index: usize) -> f64 {
    let off_ms = notes[index].off_ms.unwrap_or(f64::INFINITY);
    off_ms.min(next_ms(notes, index)) - notes[index].onset_ms
}

fn next_ms(notes: &[HeardNote], index: usize) -> f64 {
    let next = notes.get(index + 1);
    next.map_or(f64::INFINITY, |next| next.onset_ms)
}

/// Whether a note is one of three that were struck together.
fn is_strummed(notes: &[HeardNote], index: usize) -> bool {
    let near = |by: isize| {
        let other = index.checked_add_signed(by);
        let other = other.and_then(|other| notes.get(other));
        other.is_some_and(|other| (other.onset_ms - notes[index].onset_ms).abs() < STRUM_MS)
    };
    near(-1) && near(1) || near(-2) || near(2)
}
