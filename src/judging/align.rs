//! Which note belongs to which target: the cheapest way to go through both lists in order.
//!
//! # Why does the judge align two lists instead of looking for the nearest note?
//!
//! One missed or doubled note must not
//! shift the verdicts of all that follow. `judging/align.rs` finds the cheapest way through both lists in order.

use crate::judging::notes::TunedNote;
use crate::judging::rules::Rules;
use crate::judging::verdict::Wanted;

/// How a note stands to its target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fit {
    /// Of the right pitch class, in its place.
    Right,
    /// Of the right pitch class, brought forward over the change.
    Pushed,
    /// Another note, or one that is not clear.
    Wrong,
}

/// A note that belongs to a target, both as indices.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pair {
    pub(crate) wanted: usize,
    pub(crate) note: usize,
    pub(crate) fit: Fit,
}

/// A target without a note.
const MISSED: f32 = 3.0;
/// A note without a target.
const SPARE: f32 = 1.0;
/// A wrong note at a target's place: dearer than a right one at the edge of it, cheaper than a miss and a spare note.
const WRONG: f32 = 2.4;
/// A right note brought forward.
const PUSHED: f32 = 1.5;
/// Targets are worked through in stretches of so many, cut in the widest of the last gaps.
const STRETCH: usize = 192;

/// Pairs notes and targets, both in the order of time.
pub(crate) fn pair(wanted: &[Wanted], notes: &[TunedNote], rules: &Rules) -> Vec<Pair> {
    let mut pairs = Vec::new();
    let (mut target, mut note) = (0, 0);
    while target < wanted.len() {
        let end = stretch_end(wanted, target);
        let until = match wanted.get(end) {
            Some(next) => (wanted[end - 1].at_ms + next.at_ms) / 2.0,
            None => f64::INFINITY,
        };
        let note_end = note + notes[note..].partition_point(|note| note.at_ms < until);
        let found = pair_stretch(&wanted[target..end], &notes[note..note_end], rules);
        pairs.extend(found.into_iter().map(|pair| Pair {
            wanted: pair.wanted + target,
            note: pair.note + note,
            ..pair
        }));
        (target, note) = (end, note_end);
    }
    pairs
}

fn stretch_end(wanted: &[Wanted], from: usize) -> usize {
    if wanted.len() - from <= STRETCH {
        return wanted.len();
    }
    let gap = |end: &usize| wanted[*end].at_ms - wanted[*end - 1].at_ms;
    let ends = from + STRETCH / 2..from + STRETCH;
    ends.max_by(|a, b| gap(a).total_cmp(&gap(b)))
        .unwrap_or(from + STRETCH)
}

/// What it costs that this note is that target's; none if it cannot be.
fn cost(want: &Wanted, note: &TunedNote, rules: &Rules) -> Option<(f32, Fit)> {
    let right = note.meets(want);
    let late_ms = note.lateness_ms(want, right);
    let (early, late) = rules.window_ms(want.beat_ms);
    if (-2.0 * early..=2.0 * late).contains(&late_ms) {
        let edge = if late_ms < 0.0 { -early } else { late };
        let far = (late_ms / edge) as f32;
        return Some(match right {
            true => (0.5 * far, Fit::Right),
            false => (WRONG + 0.25 * far, Fit::Wrong),
        });
    }
    let pushes = want.on_change && rules.push_is_right && right;
    (pushes && late_ms < 0.0 && late_ms >= -rules.push_beats * want.beat_ms)
        .then_some((PUSHED, Fit::Pushed))
}

/// How the cheapest way came to a number of targets and notes.
#[derive(Clone, Copy)]
enum AlignStep {
    Missed,
    Spare,
    Paired(Fit),
}

fn pair_stretch(wanted: &[Wanted], notes: &[TunedNote], rules: &Rules) -> Vec<Pair> {
    let width = notes.len() + 1;
    // Row by row: the cheapest way to be done with so many targets and so many notes, and how it came there.
    let mut before: Vec<f32> = (0..width).map(|spare| spare as f32 * SPARE).collect();
    let mut now = vec![0.0; width];
    let mut steps = vec![AlignStep::Spare; width];
    for want in wanted {
        now[0] = before[0] + MISSED;
        steps.push(AlignStep::Missed);
        for (index, note) in notes.iter().enumerate() {
            let mut best = (before[index + 1] + MISSED, AlignStep::Missed);
            let paired = cost(want, note, rules);
            let paired = paired.map(|(cost, fit)| (before[index] + cost, AlignStep::Paired(fit)));
            for other in [Some((now[index] + SPARE, AlignStep::Spare)), paired] {
                best = other.filter(|other| other.0 < best.0).unwrap_or(best);
            }
            now[index + 1] = best.0;
            steps.push(best.1);
        }
        std::mem::swap(&mut before, &mut now);
    }
    trace(&steps, width)
}

/// Goes back along the cheapest way, through rows of so many notes and none.
fn trace(steps: &[AlignStep], width: usize) -> Vec<Pair> {
    let (mut wanted, mut note) = (steps.len() / width - 1, width - 1);
    let mut pairs = Vec::new();
    while wanted > 0 {
        match steps[wanted * width + note] {
            AlignStep::Paired(fit) => {
                (wanted, note) = (wanted - 1, note - 1);
                pairs.push(Pair { wanted, note, fit });
            }
            AlignStep::Spare if note > 0 => note -= 1,
            AlignStep::Spare | AlignStep::Missed => wanted -= 1,
        }
    }
    pairs.reverse();
    pairs
}
