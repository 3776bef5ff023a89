//! Stems, flags and beams.

use super::canvas::{Group, Mark};
use super::fonts::Face;
use super::score::{Element, Measure};
use super::staff::{BEAM, STEM, Staff, signs};

/// The length of a stem in staff spaces.
const STEM_SPACES: f32 = 3.5;
/// A stem with a flag is as much longer as the flag needs to end before the head.
const FLAG_SPACES: f32 = 3.9;
/// From a beam to the next.
const BEAM_STEP: f32 = 0.75;

/// A note that has a stem.
struct Stemmed {
    /// The head's left edge.
    left: f32,
    half_spaces: i32,
    part: i64,
}

/// The head of a value.
pub fn head_of(part: i64) -> char {
    match part {
        1 => signs::WHOLE,
        2 => signs::HALF,
        _ => signs::BLACK,
    }
}

/// Draws what hangs on the heads of a bar; `lefts` are the left edges of heads, one an element.
pub fn stems(group: &mut Group, staff: Staff, measure: &Measure<'_>, lefts: &[f32]) {
    let count = measure.bar.meter.count_ticks().0;
    let mut index = 0;
    while index < measure.elements.len() {
        let mut end = index + 1;
        if beamed(&measure.elements[index]) {
            let of_count = measure.elements[index].at.0 / count;
            while measure
                .elements
                .get(end)
                .is_some_and(|next| beamed(next) && next.at.0 / count == of_count)
            {
                end += 1;
            }
        }
        let stemmed = measure.elements[index..end].iter().zip(&lefts[index..end]);
        let stemmed: Vec<Stemmed> = stemmed
            .filter_map(|(element, left)| {
                let note = element.note.filter(|_| element.value.part > 1)?;
                Some(Stemmed {
                    left: *left,
                    half_spaces: staff.place(note),
                    part: element.value.part,
                })
            })
            .collect();
        if !stemmed.is_empty() {
            draw(group, staff, &stemmed);
        }
        index = end;
    }
}

fn beamed(element: &Element<'_>) -> bool {
    element.note.is_some() && element.value.part >= 8
}

/// Whether stems of these notes go up: where they lie below the middle line.
fn is_up(notes: &[Stemmed]) -> bool {
    let sum: i32 = notes.iter().map(|note| note.half_spaces - 4).sum();
    sum > 0
}

fn draw(group: &mut Group, staff: Staff, notes: &[Stemmed]) {
    let (space, up) = (staff.space, is_up(notes));
    let head = Face::Music.advance(signs::BLACK) * 4.0 * space;
    let x = |note: &Stemmed| match up {
        true => note.left + head - STEM * space / 2.0,
        false => note.left + STEM * space / 2.0,
    };
    let has_flag = matches!(notes, [one] if one.part >= 8);
    let long = if has_flag { FLAG_SPACES } else { STEM_SPACES } * space;
    let own_end = |note: &Stemmed| {
        let y = staff.y(note.half_spaces);
        match up {
            true => (y - long).min(staff.y(4)),
            false => (y + long).max(staff.y(4)),
        }
    };
    let ends = notes.iter().map(own_end);
    let end = if up {
        ends.fold(f32::MAX, f32::min)
    } else {
        ends.fold(f32::MIN, f32::max)
    };
    for note in notes {
        group.line(
            (x(note), staff.y(note.half_spaces)),
            (x(note), end),
            STEM * space,
            0.0,
        );
    }
    let toward = if up { space } else { -space };
    match notes {
        [one] if one.part >= 8 => {
            let sign = match (one.part, up) {
                (8, true) => signs::FLAG_8_UP,
                (8, false) => signs::FLAG_8_DOWN,
                (_, true) => signs::FLAG_16_UP,
                (_, false) => signs::FLAG_16_DOWN,
            };
            group.sign(sign, (x(one) - STEM * space / 2.0, end), space);
        }
        [_] => {}
        [first, .., last] => {
            let half = STEM * space / 2.0;
            beam(group, (x(first) - half, x(last) + half), end, toward * BEAM);
            let second = end + toward * BEAM_STEP;
            for (from, to) in sixteenths(notes) {
                let (mut left, mut right) = (x(&notes[from]) - half, x(&notes[to]) + half);
                // A lone sixteenth has a stub toward its neighbour.
                if from == to && from == 0 {
                    right += head;
                } else if from == to {
                    left -= head;
                }
                beam(group, (left, right), second, toward * BEAM);
            }
        }
        [] => {}
    }
}

fn beam(group: &mut Group, (left, right): (f32, f32), y: f32, thick: f32) {
    let points = vec![(left, y), (right, y), (right, y + thick), (left, y + thick)];
    group.marks.push(Mark::Shape { points });
}

/// Runs of sixteenths: from and to.
fn sixteenths(notes: &[Stemmed]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (index, note) in notes.iter().enumerate() {
        if note.part < 16 {
            continue;
        }
        match runs.last_mut() {
            Some(run) if run.1 + 1 == index => run.1 = index,
            _ => runs.push((index, index)),
        }
    }
    runs
}
