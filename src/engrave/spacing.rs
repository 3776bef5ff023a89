//! How wide bars are, and where in them things stand.

use super::canvas::Style;
use super::fonts::Face;
use super::model::{SheetModel, SheetNote};
use super::score::Measure;
use super::staff::{accidental_signs, signs, signs_width};
use crate::time::Tick;

/// Things of a bar that begin together.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    pub at: Tick,
    /// The index of the bar's element.
    pub element: Option<usize>,
    /// The index of the model's chord.
    pub chord: Option<usize>,
    /// How far it reaches to the left of its middle.
    left: f32,
    /// How far away the next one is, or the bar line, before the line is filled.
    next: f32,
}

/// A bar with its columns.
#[derive(Debug, Clone, PartialEq)]
pub struct Spaced<'m> {
    pub measure: &'m Measure<'m>,
    /// For each element whether its accidental is written.
    pub accidentals: Vec<bool>,
    pub columns: Vec<Column>,
    /// What stands at the head of the bar: a new key, a new meter.
    pub head: f32,
}

/// A bar while its line is drawn.
pub struct Drawn {
    /// The middles of its columns.
    pub middles: Vec<f32>,
    pub end: f32,
}

/// Letters of a system.
#[derive(Debug, Clone, Copy)]
pub struct Letters {
    pub symbol: Style,
    pub degree: Style,
    pub name: Style,
}

impl Letters {
    /// By the distance of staff lines.
    pub fn of(space: f32) -> Letters {
        let scale = space / 1.6;
        Letters {
            symbol: Style::bold(10.5).times(scale),
            degree: Style::bold(6.5).times(scale),
            name: Style::plain(6.0).times(scale),
        }
    }
}

/// What stands between bar line and first note, at the least.
const PAD: f32 = 1.0;
/// Between two things.
const GAP: f32 = 0.5;

/// Lays a bar out by itself.
pub fn spaced<'m>(
    model: &SheetModel,
    measure: &'m Measure<'m>,
    accidentals: Vec<bool>,
    (space, head): (f32, f32),
) -> Spaced<'m> {
    let letters = Letters::of(space);
    let len = measure.bar.meter.bar_ticks();
    let mut ticks: Vec<Tick> = measure.elements.iter().map(|element| element.at).collect();
    ticks.extend(measure.chords.iter().map(|(at, _)| *at));
    ticks.push(Tick(0));
    ticks.sort_unstable();
    ticks.dedup();
    let sides: Vec<(f32, f32)> = ticks
        .iter()
        .map(|at| sides(model, measure, *at, (&accidentals, space, letters)))
        .collect();
    let mut columns = Vec::new();
    for (index, at) in ticks.iter().enumerate() {
        let until = ticks.get(index + 1).copied().unwrap_or(len);
        let by_time = by_time(until - *at) * space;
        let next_left = sides.get(index + 1).map_or(PAD * space, |next| next.0);
        let by_ink = sides[index].1 + next_left + GAP * space;
        columns.push(Column {
            at: *at,
            element: measure
                .elements
                .iter()
                .position(|element| element.at == *at),
            chord: measure
                .chords
                .iter()
                .find(|(start, _)| start == at)
                .map(|(_, index)| *index),
            left: sides[index].0,
            next: by_time.max(by_ink),
        });
    }
    let mut bar = Spaced {
        measure,
        accidentals,
        columns,
        head,
    };
    bar.make_room_for_symbols(model, letters.symbol, space);
    bar
}

/// How far the next note is by time alone, in staff spaces.
fn by_time(len: Tick) -> f32 {
    2.3 + 1.25 * (len.0.max(120) as f32 / 240.0).log2()
}

/// How far what begins at a tick reaches left and right of its middle.
fn sides(
    model: &SheetModel,
    measure: &Measure<'_>,
    at: Tick,
    (accidentals, space, letters): (&[bool], f32, Letters),
) -> (f32, f32) {
    let found = measure.elements.iter().position(|element| element.at == at);
    let Some(index) = found else {
        return (0.0, 0.0);
    };
    let element = &measure.elements[index];
    let half = Face::Music.advance(signs::BLACK) * 2.0 * space;
    let dot = if element.value.dotted {
        0.9 * space
    } else {
        0.0
    };
    let Some(note) = element.note else {
        return (half, half + dot);
    };
    let mut left = half + 0.3 * space;
    if accidentals[index] {
        left = half + (signs_width(&accidental_signs(note.pitch.alter)) + 0.3) * space;
    }
    let label = if element.tied_from {
        0.0
    } else {
        label(model, note, letters) / 2.0
    };
    (left.max(label), (half + dot + 0.35 * space).max(label))
}

fn label(model: &SheetModel, note: &SheetNote, letters: Letters) -> f32 {
    letters
        .degree
        .width(&note.degree_text())
        .max(letters.name.width(&note.name(model.names)))
}

impl Spaced<'_> {
    /// No symbol reaches the next one.
    fn make_room_for_symbols(&mut self, model: &SheetModel, style: Style, space: f32) {
        let starts: Vec<usize> = (0..self.columns.len())
            .filter(|index| self.columns[*index].chord.is_some())
            .collect();
        for (number, start) in starts.iter().enumerate() {
            let end = starts
                .get(number + 1)
                .copied()
                .unwrap_or(self.columns.len());
            let Some(chord) = self.columns[*start].chord else {
                continue;
            };
            let wanted = style.width(&model.chords[chord].symbol) + 1.2 * space;
            let there: f32 = self.columns[*start..end]
                .iter()
                .map(|column| column.next)
                .sum();
            if wanted > there {
                self.columns[end - 1].next += wanted - there;
            }
        }
    }

    /// What does not stretch: its head and the way to its first note.
    pub fn fixed(&self, space: f32) -> f32 {
        self.head + PAD * space + self.columns.first().map_or(0.0, |column| column.left)
    }

    /// What does.
    pub fn elastic(&self) -> f32 {
        self.columns.iter().map(|column| column.next).sum()
    }

    /// The middles of its columns, and its end, from `x` on.
    pub fn middles(&self, x: f32, stretch: f32, space: f32) -> (Vec<f32>, f32) {
        let mut at = x + self.fixed(space);
        let mut middles = Vec::new();
        for column in &self.columns {
            middles.push(at);
            at += column.next * stretch;
        }
        (middles, at)
    }
}
