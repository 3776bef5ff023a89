//! Notes in time, written as notation: bars of notes and rests, split where a reader wants to see the beat.

use super::model::{SheetBar, SheetModel, SheetNote};
use crate::time::{Meter, PPQ, Tick};
use std::collections::BTreeSet;

/// A written length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Value {
    /// The undotted note as a fraction of a whole one: 1, 2, 4, 8, 16.
    pub part: i64,
    pub dotted: bool,
    /// One of three in the time of two.
    pub triplet: bool,
}

impl Value {
    /// How long it is.
    pub fn ticks(self) -> Tick {
        let plain = 4 * PPQ / self.part;
        let dotted = if self.dotted { plain * 3 / 2 } else { plain };
        Tick(if self.triplet { dotted * 2 / 3 } else { dotted })
    }
}

/// A note or a rest as it is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Element<'m> {
    /// From the bar's first tick.
    pub at: Tick,
    pub value: Value,
    /// `None`: a rest.
    pub note: Option<&'m SheetNote>,
    /// Whether it goes on from the element before, and into the next.
    pub tied_from: bool,
    pub tied_to: bool,
}

/// A bar as it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct Measure<'m> {
    pub bar: &'m SheetBar,
    /// Empty: a bar of rest.
    pub elements: Vec<Element<'m>>,
    /// The chords that begin in it: from its first tick, and the index.
    pub chords: Vec<(Tick, usize)>,
}

/// A sixteenth: the finest that is written.
const SIXTEENTH: i64 = PPQ / 4;
/// A note of a triplet of eighths.
const THIRD: i64 = PPQ / 3;
/// A note may end so much before its room does: it was a breath shorter.
const BREATH: i64 = 60;

/// A note with its place in time, on the grid that it is written in.
struct Placed<'m> {
    at: i64,
    end: i64,
    note: &'m SheetNote,
}

/// The bars of a model with the notes that have places in time. What is asked for before the first bar stands in a bar of its own
/// before it, which [`lead_in`] makes.
pub fn measures(model: &SheetModel) -> Vec<Measure<'_>> {
    let (placed, thirds) = placed(model);
    let mut measures = Vec::new();
    for bar in &model.bars {
        let chords = model.chords.iter().enumerate();
        let chords = chords.filter(|(_, chord)| chord.at >= bar.start && chord.at < bar.end());
        measures.push(Measure {
            bar,
            elements: elements(bar, &placed, &thirds),
            chords: chords
                .map(|(index, chord)| (chord.at - bar.start, index))
                .collect(),
        });
    }
    measures
}

/// A bar before the first, for notes that come before it; `None` where there are none.
pub fn lead_in(model: &SheetModel) -> Option<SheetBar> {
    let first = model.bars.first()?;
    let timed = model.chords.iter().filter(|chord| !chord.is_free);
    let mut early = timed.flat_map(|chord| &chord.notes);
    let is_early = early.any(|note| note.at < first.start);
    is_early.then(|| SheetBar {
        start: first.start - first.meter.bar_ticks(),
        meter: first.meter,
        key: first.key,
        mark: None,
        number: 0,
    })
}

/// All notes that have places, in time, none into the next; and the quarters that are written in triplets.
fn placed(model: &SheetModel) -> (Vec<Placed<'_>>, BTreeSet<i64>) {
    let timed = model.chords.iter().filter(|chord| !chord.is_free);
    let mut all: Vec<&SheetNote> = timed.flat_map(|chord| &chord.notes).collect();
    all.sort_by_key(|note| note.at);
    let in_thirds = |note: &&SheetNote| {
        let near = |step: i64| (note.at.0 + step / 2).div_euclid(step) * step;
        (near(THIRD) - note.at.0).abs() < (near(SIXTEENTH) - note.at.0).abs()
    };
    let thirds = all.iter().copied().filter(in_thirds);
    let thirds: BTreeSet<i64> = thirds.map(|note| note.at.0.div_euclid(PPQ)).collect();
    let step = |tick: i64| {
        if thirds.contains(&tick.div_euclid(PPQ)) {
            THIRD
        } else {
            SIXTEENTH
        }
    };
    let on_grid = |tick: i64| (tick + step(tick) / 2).div_euclid(step(tick)) * step(tick);
    let mut notes: Vec<Placed<'_>> = Vec::new();
    for note in all {
        let mut at = on_grid(note.at.0);
        if let Some(before) = notes.last_mut() {
            // Two on one place of the grid: the later one a step on.
            at = at.max(before.at + step(before.at));
            before.end = before.end.min(at);
        }
        let end = on_grid(note.at.0 + note.len.0 + BREATH.min(note.len.0 / 8 + 1));
        notes.push(Placed {
            at,
            end: end.max(at + step(at)),
            note,
        });
    }
    (notes, thirds)
}

/// What stands in a bar, without gaps; nothing where no note does.
fn elements<'m>(bar: &SheetBar, notes: &[Placed<'m>], thirds: &BTreeSet<i64>) -> Vec<Element<'m>> {
    let (start, end) = (bar.start.0, bar.end().0);
    let inside = notes
        .iter()
        .filter(|note| note.end > start && note.at < end);
    let mut out = Vec::new();
    let mut at = start;
    for note in inside {
        let from = note.at.max(start);
        let to = note.end.min(end);
        pieces((bar, thirds), at..from, None, &mut out);
        let first = out.len();
        pieces((bar, thirds), from..to, Some(note.note), &mut out);
        let count = out.len();
        for (index, piece) in out.iter_mut().enumerate().skip(first) {
            piece.tied_from = index > first || note.at < start;
            piece.tied_to = index + 1 < count || note.end > end;
        }
        at = to;
    }
    if !out.is_empty() {
        pieces((bar, thirds), at..end, None, &mut out);
    }
    out
}

/// Writes a stretch of a bar as values.
fn pieces<'m>(
    (bar, thirds): (&SheetBar, &BTreeSet<i64>),
    stretch: std::ops::Range<i64>,
    note: Option<&'m SheetNote>,
    out: &mut Vec<Element<'m>>,
) {
    let in_thirds = |at: i64| thirds.contains(&(bar.start.0 + at).div_euclid(PPQ));
    let mut at = stretch.start - bar.start.0;
    let end = stretch.end - bar.start.0;
    while at < end {
        let value = longest(bar.meter, at, end - at, in_thirds);
        out.push(Element {
            at: Tick(at),
            value,
            note,
            tied_from: false,
            tied_to: false,
        });
        at += value.ticks().0.max(1);
    }
}

/// The longest value that may begin at `at` of a bar and is no longer than `room`: from a count on any that ends with a count, or one
/// and a half of it; within a count none beyond its end. In a quarter of triplets a third or two of it.
fn longest(meter: Meter, at: i64, room: i64, in_thirds: impl Fn(i64) -> bool) -> Value {
    let count = meter.count_ticks().0;
    let within = at.rem_euclid(count);
    if in_thirds(at) && (at.rem_euclid(PPQ) != 0 || room < PPQ) {
        let part = if room.min(PPQ - at.rem_euclid(PPQ)) >= 2 * THIRD {
            4
        } else {
            8
        };
        return Value {
            part,
            dotted: false,
            triplet: true,
        };
    }
    let values = [1, 2, 4, 8, 16].into_iter().flat_map(|part| {
        [true, false].map(|dotted| Value {
            part,
            dotted,
            triplet: false,
        })
    });
    let fits = |value: &Value| {
        let len = value.ticks().0;
        // A dotted sixteenth is finer than the grid.
        let is_written = len % SIXTEENTH == 0 && len <= room;
        let half = len * 2 == count * 3 && !in_thirds(at + len - 1);
        let on_count = within == 0 && (len % count == 0 || half);
        is_written && (len <= count - within || on_count)
    };
    let mut values = values;
    values.find(fits).unwrap_or(Value {
        part: 16,
        dotted: false,
        triplet: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(meter: &str, at: i64, room: i64) -> String {
        let in_thirds = |at: i64| at < PPQ && room % SIXTEENTH != 0;
        let meter: Meter = meter.parse().unwrap();
        let (mut at, end) = (at, at + room);
        let mut told = Vec::new();
        while at < end {
            let value = longest(meter, at, end - at, in_thirds);
            let dot = if value.dotted { "." } else { "" };
            let three = if value.triplet { "t" } else { "" };
            told.push(format!("{}{dot}{three}", value.part));
            at += value.ticks().0;
        }
        assert_eq!(at, end, "{told:?}");
        told.join(" ")
    }

    #[test]
    fn lengths_show_the_beat() {
        // Common practice: what begins off a beat is tied over it. Ticks of 960 to the quarter.
        let cases = [
            ("4/4", 0, 3840, "1"),
            ("4/4", 0, 2880, "2."),
            ("4/4", 0, 1440, "4."),
            ("4/4", 480, 960, "8 8"),
            ("4/4", 480, 3360, "8 2."),
            ("4/4", 1920, 720, "8."),
            ("4/4", 240, 240, "16"),
            ("4/4", 0, 2400, "2 8"),
            ("3/4", 0, 2880, "2."),
            ("6/8", 0, 1440, "4."),
            ("6/8", 480, 960, "4"),
            ("6/8", 0, 2880, "2."),
            ("4/4", 0, 320, "8t"),
            ("4/4", 320, 640, "4t"),
            ("4/4", 640, 320, "8t"),
        ];
        for (meter, at, room, expected) in cases {
            assert_eq!(written(meter, at, room), expected, "{meter} {at} {room}");
        }
    }
}
