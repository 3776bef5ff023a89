//! Judging: what was to be played against what was heard. Pure; times are milliseconds of the take.
//!
//! In this order: the take's own tuning is taken out, notes too short to count are left out, a steady offset is
//! found and taken out, then notes and targets are matched (`judge_match`) and each target gets its verdict. The
//! values are common practice, without a published source, and all of them settings ([`Rules`]).

use crate::judging::align::{Pair, pair};
use std::collections::VecDeque;

/// When a note is in time, right, or counted.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Early by this share of a beat is in time ...
    pub early_beats: f64,
    /// ... at least and at most by so many milliseconds.
    pub early_ms: (f64, f64),
    /// Late may be so many times what early may be.
    pub late_times: f64,
    /// A steady offset up to so much is taken out; 0: none.
    pub offset_ms: f64,
    /// The take's own tuning up to so much is taken out.
    pub tuning_cents: f64,
    /// A note is the one it is this near to.
    pub cents: f64,
    /// Shorter notes are grace notes.
    pub grace_ms: f64,
    /// Notes outside the set count from this length on.
    pub other_ms: f64,
    /// Notes the ear is less sure of are not judged.
    pub confidence: f32,
    /// A next-chord note may come so early, in beats.
    pub push_beats: f64,
    /// Whether such a note is right.
    pub push_is_right: bool,
    /// A wrong note put right within so many beats is found.
    pub found_beats: f64,
}

impl Default for Rules {
    fn default() -> Rules {
        Rules {
            early_beats: 0.1,
            early_ms: (35.0, 80.0),
            late_times: 1.4,
            offset_ms: 40.0,
            tuning_cents: 40.0,
            cents: 50.0,
            grace_ms: 80.0,
            other_ms: 120.0,
            confidence: 0.6,
            push_beats: 0.5,
            push_is_right: true,
            found_beats: 1.0,
        }
    }
}

impl Rules {
    /// How early and how late a note may be at this beat and still be in time, in milliseconds.
    pub fn window_ms(&self, beat_ms: f64) -> (f64, f64) {
        let early = (self.early_beats * beat_ms).clamp(self.early_ms.0, self.early_ms.1);
        (early, early * self.late_times)
    }
}

/// A note that is to be played.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Index of its chord, for whoever reads the verdict.
    pub chord: usize,
    /// The degree by name.
    pub degree: String,
    /// The note by name.
    pub note: String,
    /// As MIDI note: its pitch class counts, the octave only if `fixed`.
    pub midi: u8,
    /// Whether the stage asks for this octave.
    pub fixed: bool,
    /// Its place; for an off-beat the straight one.
    pub at_ms: f64,
    /// The last place that is as right: the ride's for an off-beat.
    pub at_last_ms: f64,
    /// Whether it is the chord's first beat, which may be pushed.
    pub on_change: bool,
    /// A beat here.
    pub beat_ms: f64,
    /// Where its chord ends.
    pub until_ms: f64,
    /// The pitch classes of the stage's set over this chord, a bit each.
    pub set: u16,
    /// What every pitch class is called over this chord: its degree and its note.
    pub names: [(String, String); 12],
}

/// A note that was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeardNote {
    /// When it began.
    pub onset_ms: f64,
    /// When it ended, if it did.
    pub off_ms: Option<f64>,
    /// The nearest MIDI note.
    pub midi: u8,
    /// Cents above it.
    pub cents: f64,
    /// How sure the ear is, 0 to 1.
    pub confidence: f32,
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
    /// A note outside the set, beside the targets.
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

/// How it stood in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timing {
    /// In time.
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

/// A verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// The chord.
    pub chord: usize,
    /// Index into the list of what was wanted; none for other notes.
    pub target: Option<usize>,
    /// Index into the list of what was played; none if missed.
    pub played: Option<usize>,
    /// The degree wanted; for other notes none.
    pub degree: Option<String>,
    /// The note wanted.
    pub want: Option<String>,
    /// The note played.
    pub got: Option<String>,
    /// Its degree.
    pub got_degree: Option<String>,
    /// The take's tuning taken out.
    pub cents: Option<f64>,
    /// Lateness, the steady offset taken out; negative is early.
    pub late_ms: Option<f64>,
    /// When, for the order.
    pub at_ms: f64,
    /// What became of it.
    pub outcome: Outcome,
    /// How it stood in time.
    pub timing: Option<Timing>,
    /// A wrong note that was put right in time.
    pub found: bool,
}

#[cfg(test)]
impl Verdict {
    /// A verdict without words or times, on chord and target `place` (no target for other notes).
    pub(crate) fn plain(place: usize, outcome: Outcome, timing: Option<Timing>) -> Verdict {
        Verdict {
            chord: place,
            target: (outcome != Outcome::Other).then_some(place),
            played: None,
            degree: None,
            want: None,
            got: None,
            got_degree: None,
            cents: None,
            late_ms: None,
            at_ms: 0.0,
            outcome,
            timing,
            found: false,
        }
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

/// The fewest matches that say anything about an offset or a tuning.
const FEWEST: usize = 4;
/// Three notes within this are a strum.
const STRUM_MS: f64 = 60.0;

/// How a player stood in time and in tune so far in a take: a few notes alone say little.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PlayerBias {
    late_ms: VecDeque<f64>,
    cents: VecDeque<f64>,
}

/// How many notes a bearing keeps.
const KEPT: usize = 32;

fn keep(kept: &mut VecDeque<f64>, new: &[f64]) {
    kept.extend(new.iter().copied());
    kept.drain(..kept.len().saturating_sub(KEPT));
}

/// Judges `played` against `wanted`, both in the order of time.
pub fn judge(wanted: &[Wanted], played: &[HeardNote], rules: &Rules) -> Judged {
    judge_on(wanted, played, rules, &mut PlayerBias::default())
}

/// Judges a stretch of a take that goes on: offset and tuning also go by what was played before, and what was played
/// here is kept in mind.
pub fn judge_on(
    wanted: &[Wanted],
    played: &[HeardNote],
    rules: &Rules,
    bearing: &mut PlayerBias,
) -> Judged {
    keep(&mut bearing.cents, &sure_cents(played, rules));
    let tuning_cents = tuning(&bearing.cents, rules);
    let mut notes: Vec<Note> = notes(played, tuning_cents, rules);
    let first = pair(wanted, &notes, rules);
    keep(&mut bearing.late_ms, &latenesses(wanted, &notes, &first));
    let offset_ms = steady_offset(&bearing.late_ms, rules);
    notes.iter_mut().for_each(|note| note.at_ms -= offset_ms);
    let pairs = pair(wanted, &notes, rules);
    Judged {
        verdicts: verdicts(wanted, &notes, &pairs, rules),
        offset_ms,
        tuning_cents,
    }
}

/// A played note made ready.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Note {
    /// Index into what was played.
    pub(crate) index: usize,
    pub(crate) at_ms: f64,
    pub(crate) long_ms: f64,
    pub(crate) midi: i32,
    pub(crate) cents: f64,
    /// Whether it can be judged at all.
    pub(crate) clear: bool,
}

impl Note {
    pub(crate) fn class(&self) -> u8 {
        self.midi.rem_euclid(12) as u8
    }
}

fn sure_cents(played: &[HeardNote], rules: &Rules) -> Vec<f64> {
    let sure = played
        .iter()
        .filter(|note| note.confidence >= rules.confidence);
    sure.map(|note| note.cents).collect()
}

fn tuning(cents: &VecDeque<f64>, rules: &Rules) -> f64 {
    let mut cents: Vec<f64> = cents.iter().copied().collect();
    if cents.len() < FEWEST {
        return 0.0;
    }
    // Cents go round: a guitar half a semitone flat reads now as +50 and now as -50. The mean of the directions tells.
    let (mut x, mut y) = (0.0, 0.0);
    for cent in &cents {
        let angle = cent / 100.0 * std::f64::consts::TAU;
        (x, y) = (x + angle.cos(), y + angle.sin());
    }
    let around = y.atan2(x) / std::f64::consts::TAU * 100.0;
    cents
        .iter_mut()
        .for_each(|cent| *cent = (*cent - around + 50.0).rem_euclid(100.0) - 50.0);
    (around + median(&mut cents)).clamp(-rules.tuning_cents, rules.tuning_cents)
}

fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    values.sort_by(f64::total_cmp);
    (values[(values.len() - 1) / 2] + values[values.len() / 2]) / 2.0
}

fn notes(played: &[HeardNote], tuning_cents: f64, rules: &Rules) -> Vec<Note> {
    let mut notes = Vec::with_capacity(played.len());
    for (index, note) in played.iter().enumerate() {
        let next = played
            .get(index + 1)
            .map_or(f64::INFINITY, |next| next.onset_ms);
        let end = note.off_ms.unwrap_or(f64::INFINITY).min(next);
        let long_ms = end - note.onset_ms;
        let exact = f64::from(note.midi) + (note.cents - tuning_cents) / 100.0;
        let midi = exact.round();
        let near = |other: Option<&HeardNote>| {
            other.is_some_and(|other| (other.onset_ms - note.onset_ms).abs() < STRUM_MS)
        };
        let before = index.checked_sub(1).and_then(|before| played.get(before));
        let two_before = index.checked_sub(2).and_then(|before| played.get(before));
        let (after, two_after) = (played.get(index + 1), played.get(index + 2));
        let strummed = near(before) && near(after) || near(two_before) || near(two_after);
        // A grace note leads on to the next one; a short last note of a phrase is short and no grace.
        if long_ms < rules.grace_ms && next - note.onset_ms < rules.grace_ms && !strummed {
            continue;
        }
        notes.push(Note {
            index,
            at_ms: note.onset_ms,
            long_ms,
            midi: midi as i32,
            cents: (exact - midi) * 100.0,
            clear: note.confidence >= rules.confidence
                && (exact - midi).abs() * 100.0 <= rules.cents
                && !strummed,
        });
    }
    notes
}

/// How late a note is at a place that is right anywhere between two moments.
pub(crate) fn lateness(wanted: &Wanted, at_ms: f64) -> f64 {
    at_ms - at_ms.clamp(wanted.at_ms, wanted.at_last_ms.max(wanted.at_ms))
}

/// How late the right notes are that were not brought forward on purpose.
fn latenesses(wanted: &[Wanted], notes: &[Note], pairs: &[Pair]) -> Vec<f64> {
    let on = pairs.iter().filter(|pair| pair.right && !pair.pushed);
    on.map(|pair| lateness(&wanted[pair.wanted], notes[pair.note].at_ms))
        .collect()
}

fn steady_offset(late_ms: &VecDeque<f64>, rules: &Rules) -> f64 {
    let mut late: Vec<f64> = late_ms.iter().copied().collect();
    if late.len() < FEWEST {
        return 0.0;
    }
    let offset = median(&mut late);
    if offset.abs() <= rules.offset_ms {
        offset
    } else {
        0.0
    }
}

fn verdicts(wanted: &[Wanted], notes: &[Note], pairs: &[Pair], rules: &Rules) -> Vec<Verdict> {
    let mut of_wanted = vec![None; wanted.len()];
    let mut used = vec![false; notes.len()];
    for pair in pairs {
        of_wanted[pair.wanted] = Some(*pair);
        used[pair.note] = true;
    }
    let mut verdicts: Vec<Verdict> = Vec::with_capacity(wanted.len());
    for (target, (want, pair)) in wanted.iter().zip(&of_wanted).enumerate() {
        let mut verdict = match pair {
            Some(pair) => paired(want, &notes[pair.note], pair, rules),
            None => missed(want),
        };
        verdict.target = Some(target);
        if verdict.outcome == Outcome::Wrong {
            let until = want.at_ms + rules.found_beats * want.beat_ms;
            let put_right = |(index, note): (usize, &Note)| {
                !used[index]
                    && note.at_ms > want.at_ms
                    && note.at_ms <= until
                    && note.class() == want.midi % 12
            };
            verdict.found = notes.iter().enumerate().any(put_right);
        }
        verdicts.push(verdict);
    }
    let free = notes
        .iter()
        .zip(&used)
        .filter(|(_, used)| !**used)
        .map(|(note, _)| note);
    verdicts.extend(free.filter_map(|note| other(wanted, note, rules)));
    verdicts.sort_by(|a, b| a.at_ms.total_cmp(&b.at_ms));
    verdicts
}

fn missed(want: &Wanted) -> Verdict {
    Verdict {
        chord: want.chord,
        target: None,
        played: None,
        degree: Some(want.degree.clone()),
        want: Some(want.note.clone()),
        got: None,
        got_degree: None,
        cents: None,
        late_ms: None,
        at_ms: want.at_ms,
        outcome: Outcome::Missed,
        timing: None,
        found: false,
    }
}

fn paired(want: &Wanted, note: &Note, pair: &Pair, rules: &Rules) -> Verdict {
    let late_ms = lateness(want, note.at_ms);
    let (early, late) = rules.window_ms(want.beat_ms);
    let timing = match late_ms {
        _ if pair.pushed => Timing::Pushed,
        late_ms if late_ms < -early => Timing::Early,
        late_ms if late_ms > late => Timing::Late,
        _ => Timing::InTime,
    };
    let outcome = match () {
        () if !note.clear => Outcome::NotJudged,
        () if !pair.right => Outcome::Wrong,
        () if want.fixed && note.midi != i32::from(want.midi) => Outcome::Octave,
        () => Outcome::Right,
    };
    Verdict {
        played: Some(note.index),
        got: note
            .clear
            .then(|| want.names[usize::from(note.class())].1.clone()),
        got_degree: note
            .clear
            .then(|| want.names[usize::from(note.class())].0.clone()),
        cents: note.clear.then_some(note.cents),
        late_ms: Some(late_ms),
        outcome,
        timing: Some(timing),
        ..missed(want)
    }
}

/// A note beside the targets counts if it is long enough and outside the set of its chord.
fn other(wanted: &[Wanted], note: &Note, rules: &Rules) -> Option<Verdict> {
    let after = wanted.partition_point(|want| want.at_ms <= note.at_ms + 1.0);
    let want = &wanted[after.checked_sub(1)?];
    if note.at_ms > want.until_ms || !note.clear || note.long_ms < rules.other_ms {
        return None;
    }
    let next = wanted.get(after).filter(|next| next.chord != want.chord);
    let early = |next: &&Wanted| note.at_ms > next.at_ms - rules.push_beats * next.beat_ms;
    let in_set = |want: &Wanted| want.set >> note.class() & 1 == 1;
    if in_set(want) || next.filter(early).is_some_and(in_set) {
        return None;
    }
    Some(Verdict {
        played: Some(note.index),
        degree: None,
        want: None,
        got: Some(want.names[usize::from(note.class())].1.clone()),
        got_degree: Some(want.names[usize::from(note.class())].0.clone()),
        cents: Some(note.cents),
        at_ms: note.at_ms,
        outcome: Outcome::Other,
        ..missed(want)
    })
}
