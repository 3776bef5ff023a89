//! What stands in a bar: heads, rests, dots, ties, triplets.

use super::beams::{head_of, stems};
use super::canvas::{Group, Mark, Style};
use super::fonts::Face;
use super::score::Element;
use super::spacing::{Drawn, Spaced};
use super::staff::{Staff, signs};
use crate::time::PPQ;

/// Heads, rests, stems and ties of a bar.
pub fn notes(group: &mut Group, staff: Staff, bar: &Spaced<'_>, at: &Drawn) {
    let space = staff.space;
    if bar.measure.elements.is_empty() {
        let from = at.middles.first().copied().unwrap_or(at.end);
        let wide = Face::Music.advance(signs::REST_WHOLE) * 4.0 * space;
        group.sign(
            signs::REST_WHOLE,
            ((from + at.end - wide) / 2.0, staff.y(2)),
            space,
        );
        return;
    }
    let middle = |index: usize| {
        let column = bar
            .columns
            .iter()
            .position(|column| column.element == Some(index));
        column.map_or(at.end, |column| at.middles[column])
    };
    let mut lefts = Vec::new();
    for (index, element) in bar.measure.elements.iter().enumerate() {
        let sign = sign_of(element);
        let left = middle(index) - Face::Music.advance(sign) * 2.0 * space;
        lefts.push(left);
        match element.note {
            Some(note) => staff.head(group, note, (left, sign), bar.accidentals[index]),
            None => group.sign(sign, (left, staff.y(rest_line(element.value.part))), space),
        }
        dot(
            group,
            staff,
            element,
            left + Face::Music.advance(sign) * 4.0 * space,
        );
    }
    stems(group, staff, bar.measure, &lefts);
    triplets(group, staff, bar, &lefts);
    for (index, element) in bar.measure.elements.iter().enumerate() {
        let next = if index + 1 < lefts.len() {
            Some(lefts[index + 1])
        } else {
            None
        };
        tie(group, staff, element, (lefts[index], next, at.end));
    }
}

fn sign_of(element: &Element<'_>) -> char {
    match (element.note, element.value.part) {
        (Some(_), part) => head_of(part),
        (None, 1) => signs::REST_WHOLE,
        (None, 2) => signs::REST_HALF,
        (None, 4) => signs::REST_QUARTER,
        (None, 8) => signs::REST_8,
        (None, _) => signs::REST_16,
    }
}

/// The line that a rest hangs on or lies around.
fn rest_line(part: i64) -> i32 {
    if part == 1 { 2 } else { 4 }
}

fn dot(group: &mut Group, staff: Staff, element: &Element<'_>, right: f32) {
    if !element.value.dotted {
        return;
    }
    let at = element.note.map_or(4, |note| staff.place(note));
    // A dot stands in a space.
    let at = if at % 2 == 0 { at - 1 } else { at };
    group.sign(
        signs::DOT,
        (right + 0.3 * staff.space, staff.y(at)),
        staff.space,
    );
}

fn tie(
    group: &mut Group,
    staff: Staff,
    element: &Element<'_>,
    (left, next, end): (f32, Option<f32>, f32),
) {
    let Some(note) = element.note else { return };
    let space = staff.space;
    let head = Face::Music.advance(signs::BLACK) * 4.0 * space;
    let at = staff.place(note);
    // Stems go up below the middle line: ties hang under these.
    let depth = if at > 4 { 0.7 * space } else { -0.7 * space };
    let y = staff.y(at) + depth.signum() * 0.7 * space;
    if element.tied_to {
        let to = next.map_or(end - 0.1 * space, |next| next + 0.3 * head);
        group.marks.push(Mark::Tie {
            from: (left + 0.7 * head, y),
            to: (to, y),
            depth,
        });
    }
}

/// A 3 over each quarter of triplets.
fn triplets(group: &mut Group, staff: Staff, bar: &Spaced<'_>, lefts: &[f32]) {
    let start = bar.measure.bar.start.0;
    let quarter = |element: &Element<'_>| (start + element.at.0).div_euclid(PPQ);
    let of = |index: usize| {
        let element = bar.measure.elements.get(index)?;
        element.value.triplet.then(|| quarter(element))
    };
    let style = Style::bold(6.5).times(staff.space / 1.6);
    let top = group.ink().top.min(staff.top) - 0.4 * staff.space;
    let mut index = 0;
    while index < lefts.len() {
        let mut end = index + 1;
        if let Some(this) = of(index) {
            while of(end) == Some(this) {
                end += 1;
            }
            group.centred(
                "3",
                (
                    (lefts[index] + lefts[end - 1]) / 2.0 + 0.6 * staff.space,
                    top,
                ),
                style,
            );
        }
        index = end;
    }
}
