//! Which note belongs to which target: the cheapest way to go through both lists in order.

use crate::judging::judge::{Note, Rules, Wanted, lateness};

/// A note that belongs to a target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pair {
    /// Index of the target.
    pub(crate) wanted: usize,
    /// Index of the note.
    pub(crate) note: usize,
    /// Whether it is of the right pitch class.
    pub(crate) right: bool,
    /// Whether it was brought forward over the change.
    pub(crate) pushed: bool,
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
pub(crate) fn pair(wanted: &[Wanted], notes: &[Note], rules: &Rules) -> Vec<Pair> {
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
fn cost(want: &Wanted, note: &Note, rules: &Rules) -> Option<(f32, Pair)> {
    let late_ms = lateness(want, note.at_ms);
    let (early, late) = rules.window_ms(want.beat_ms);
    let right = note.clear && note.class() == want.midi % 12;
    let pair = |pushed| Pair {
        wanted: 0,
        note: 0,
        right,
        pushed,
    };
    if (-2.0 * early..=2.0 * late).contains(&late_ms) {
        let far = if late_ms < 0.0 {
            -late_ms / early
        } else {
            late_ms / late
        } as f32;
        let cost = if right { 0.5 * far } else { WRONG + 0.25 * far };
        return Some((cost, pair(false)));
    }
    let pushes = want.on_change && rules.push_is_right && right;
    (pushes && late_ms < 0.0 && late_ms >= -rules.push_beats * want.beat_ms)
        .then(|| (PUSHED, pair(true)))
}

fn pair_stretch(wanted: &[Wanted], notes: &[Note], rules: &Rules) -> Vec<Pair> {
    let width = notes.len() + 1;
    // Row by row: the cheapest way to be done with so many targets and so many notes, and how it came there.
    let mut before: Vec<f32> = (0..width).map(|spare| spare as f32 * SPARE).collect();
    let mut now = vec![0.0; width];
    let mut steps: Vec<u8> = vec![SPARE_STEP; width];
    for want in wanted {
        now[0] = before[0] + MISSED;
        steps.push(MISSED_STEP);
        for (index, note) in notes.iter().enumerate() {
            let mut best = (before[index + 1] + MISSED, MISSED_STEP);
            let spare = now[index] + SPARE;
            if spare < best.0 {
                best = (spare, SPARE_STEP);
            }
            if let Some((cost, _)) = cost(want, note, rules) {
                let paired = before[index] + cost;
                if paired < best.0 {
                    best = (paired, PAIRED_STEP);
                }
            }
            now[index + 1] = best.0;
            steps.push(best.1);
        }
        std::mem::swap(&mut before, &mut now);
    }
    trace(wanted, notes, &steps, rules)
}

const MISSED_STEP: u8 = 0;
const SPARE_STEP: u8 = 1;
const PAIRED_STEP: u8 = 2;

fn trace(wanted: &[Wanted], notes: &[Note], steps: &[u8], rules: &Rules) -> Vec<Pair> {
    let width = notes.len() + 1;
    let (mut target, mut note) = (wanted.len(), notes.len());
    let mut pairs = Vec::new();
    while target > 0 {
        match steps[target * width + note] {
            PAIRED_STEP => {
                (target, note) = (target - 1, note - 1);
                if let Some((_, pair)) = cost(&wanted[target], &notes[note], rules) {
                    pairs.push(Pair {
                        wanted: target,
                        note,
                        ..pair
                    });
                }
            }
            SPARE_STEP if note > 0 => note -= 1,
            _ => target -= 1,
        }
    }
    pairs.reverse();
    pairs
}
