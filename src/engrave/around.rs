//! What stands around the notes of a line: symbols and sections above, degrees and tablature below, bar lines.

use super::canvas::{Group, Role, Style};
use super::model::SheetModel;
use super::spacing::{Drawn, Letters, Spaced};
use super::staff::{Staff, THICK_BAR, THIN_BAR, Tab};

/// The chord symbols over a line.
pub fn symbols(
    model: &SheetModel,
    bars: &[Spaced<'_>],
    drawn: &[Drawn],
    (y, space): (f32, f32),
) -> Group {
    let mut group = Group::new(Role::Paragraph);
    let style = Letters::of(space).symbol;
    for (bar, at) in bars.iter().zip(drawn) {
        for (column, x) in bar.columns.iter().zip(&at.middles) {
            if let Some(chord) = column.chord {
                group.text(&model.chords[chord].symbol, (*x - 0.6 * space, y), style);
            }
        }
    }
    group
}

/// Names of sections, and the number of the first bar.
pub fn marks(group: &mut Group, bars: &[Spaced<'_>], drawn: &[Drawn], (lead, space): (f32, f32)) {
    let ink = group.ink();
    let top = if ink.top > ink.bottom {
        -2.0 * space
    } else {
        ink.top
    };
    let mut start = 0.0;
    let style = Style::bold(10.0).times(space / 1.6);
    let y = top - 0.8 * space;
    for (bar, at) in bars.iter().zip(drawn) {
        if let Some(mark) = &bar.measure.bar.mark {
            group.text(
                mark,
                (start, y),
                style.within(mark, (at.end - start).max(4.0 * space)),
            );
        }
        start = at.end;
    }
    if let Some(first) = bars.first().filter(|bar| bar.measure.bar.number > 0) {
        let number = first.measure.bar.number.to_string();
        let small = Style::plain(6.5)
            .times(space / 1.6)
            .gray(0.3)
            .within(&number, lead - 1.5 * space);
        group.text(&number, (0.0, -1.9 * space), small);
    }
}

/// Degrees and names below the notes; gives where they end.
pub fn labels(
    group: &mut Group,
    model: &SheetModel,
    bars: &[Spaced<'_>],
    (drawn, top, space): (&[Drawn], f32, f32),
) -> f32 {
    let letters = Letters::of(space);
    let first = top + letters.degree.size * 0.75;
    let second = first + letters.name.size * 1.12;
    for (bar, at) in bars.iter().zip(drawn) {
        for (column, x) in bar.columns.iter().zip(&at.middles) {
            let element = column.element.map(|index| &bar.measure.elements[index]);
            let note = element
                .filter(|element| !element.tied_from)
                .and_then(|element| element.note);
            if let Some(note) = note {
                group.centred(&note.degree_text(), (*x, first), letters.degree);
                group.centred(&note.name(model.names), (*x, second), letters.name);
            }
        }
    }
    second + letters.name.size * 0.25
}

/// The frets of a line.
pub fn tablature(group: &mut Group, tab: Tab, bars: &[Spaced<'_>], drawn: &[Drawn]) {
    tab.lines(group);
    tab.clef(group);
    for (bar, at) in bars.iter().zip(drawn) {
        for (column, x) in bar.columns.iter().zip(&at.middles) {
            let element = column.element.map(|index| &bar.measure.elements[index]);
            let note = element
                .filter(|element| !element.tied_from)
                .and_then(|element| element.note);
            if let Some(place) = note.and_then(|note| note.neck) {
                tab.fret(group, place, *x);
            }
        }
    }
}

/// Its bar lines.
pub fn bar_lines(
    group: &mut Group,
    (staff, tab): (Staff, Tab),
    drawn: &[Drawn],
    (ends, section_ends): (bool, bool),
) {
    let space = staff.space;
    let tab_bottom = tab.top + tab.height();
    group.line((0.0, staff.top), (0.0, tab_bottom), THIN_BAR * space, 0.0);
    let last = drawn.len().saturating_sub(1);
    for (index, bar) in drawn.iter().enumerate() {
        let mut upright = |x: f32, width: f32| {
            group.line((x, staff.top), (x, staff.y(8)), width * space, 0.0);
            group.line((x, tab.top), (x, tab_bottom), width * space, 0.0);
        };
        let x = bar.end;
        if index == last && ends {
            upright(x - THICK_BAR * space / 2.0, THICK_BAR);
            upright(x - 1.0 * space, THIN_BAR);
        } else if index == last && section_ends {
            upright(x - THIN_BAR * space / 2.0, THIN_BAR);
            upright(x - 0.55 * space, THIN_BAR);
        } else {
            upright(x - THIN_BAR * space / 2.0, THIN_BAR);
        }
    }
}
