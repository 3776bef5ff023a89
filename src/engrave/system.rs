//! A line of music: staff, symbols above, degrees below, tablature under it.

use super::around::{bar_lines, labels, marks, symbols, tablature};
use super::bar_notes::notes;
use super::canvas::{Block, Group, Role};
use super::fonts::Face;
use super::model::{Clef, SheetModel};
use super::spacing::{Drawn, Spaced};
use super::staff::{Staff, Tab, accidental_signs, signs, signs_width};
use crate::time::Meter;

/// What a system needs besides its bars.
#[derive(Debug, Clone, Copy)]
pub struct SystemStyle<'m> {
    pub model: &'m SheetModel,
    pub space: f32,
    pub width: f32,
    /// The signature at its beginning.
    pub fifths: i8,
    /// The meter, where it is told at the beginning.
    pub meter: Option<Meter>,
    /// Whether the music ends with it, and whether a section does.
    pub ends: bool,
    pub section_ends: bool,
}

/// No bar is stretched more than so much.
const MOST_STRETCH: f32 = 2.4;

/// The width of clef, signature and meter at the beginning.
pub fn lead(style: &SystemStyle<'_>) -> f32 {
    let sharp = if style.fifths > 0 {
        signs::SHARP
    } else {
        signs::FLAT
    };
    let each = Face::Music.advance(sharp) * 4.0 + 0.1;
    let meter = if style.meter.is_some() { 2.8 } else { 0.0 };
    (4.0 + f32::from(style.fifths.unsigned_abs()) * each + meter) * style.space
}

/// Draws a meter with its left edge at `x`.
fn meter_signs(group: &mut Group, staff: Staff, meter: Meter, x: f32) {
    for (number, line) in [(meter.beats(), 2), (meter.unit(), 6)] {
        let digits: Vec<char> = number
            .to_string()
            .chars()
            .filter_map(|digit| char::from_u32(signs::TIME_0 + digit.to_digit(10)?))
            .collect();
        let wide: f32 = digits
            .iter()
            .map(|sign| Face::Music.advance(*sign) * 4.0 * staff.space)
            .sum();
        let mut at = x + (2.0 * staff.space - wide) / 2.0;
        for sign in digits {
            group.sign(sign, (at, staff.y(line)), staff.space);
            at += Face::Music.advance(sign) * 4.0 * staff.space;
        }
    }
}

/// Where the bars of a line end up, and where the line ends.
fn stretched(bars: &[Spaced<'_>], style: &SystemStyle<'_>, lead: f32) -> (Vec<Drawn>, f32) {
    let space = style.space;
    let fixed: f32 = bars.iter().map(|bar| bar.fixed(space)).sum();
    let elastic: f32 = bars.iter().map(Spaced::elastic).sum();
    let stretch = ((style.width - lead - fixed) / elastic.max(1.0)).min(MOST_STRETCH);
    let mut drawn = Vec::new();
    let mut x = lead;
    for bar in bars {
        let (middles, end) = bar.middles(x, stretch, space);
        drawn.push(Drawn { middles, end });
        x = end;
    }
    (drawn, x)
}

/// Draws bars as one line.
pub fn system(bars: &[Spaced<'_>], style: &SystemStyle<'_>) -> Block {
    let space = style.space;
    let lead = lead(style);
    let (drawn, x) = stretched(bars, style, lead);
    let clef = Clef::of(&style.model.neck);
    let staff = Staff {
        x: 0.0,
        top: 0.0,
        width: x,
        space,
        clef,
    };
    let mut music = Group::new(Role::Figure(told(style.model, bars)));
    staff.lines(&mut music);
    let after_clef = staff.draw_clef(&mut music);
    let after_key = staff.signature(&mut music, style.fifths, false, after_clef);
    if let Some(meter) = style.meter {
        meter_signs(&mut music, staff, meter, after_key);
    }
    let mut start = lead;
    for (bar, at) in bars.iter().zip(&drawn) {
        bar_head(&mut music, staff, bar, start);
        notes(&mut music, staff, bar, at);
        start = at.end;
    }
    let ink = music.ink();
    let mut symbols = symbols(style.model, bars, &drawn, (ink.top - 0.9 * space, space));
    marks(&mut symbols, bars, &drawn, (lead, space));
    let below = labels(
        &mut music,
        style.model,
        bars,
        (&drawn, ink.bottom + 0.7 * space, space),
    );
    let strings = style.model.neck.tuning.open_keys().len() as u8;
    let tab = Tab {
        x: 0.0,
        top: below + 1.4 * space,
        width: x,
        gap: space * 1.15,
        strings,
    };
    tablature(&mut music, tab, bars, &drawn);
    bar_lines(
        &mut music,
        (staff, tab),
        &drawn,
        (style.ends, style.section_ends),
    );
    Block {
        groups: vec![symbols, music],
        height: 0.0,
    }
    .settled()
}

/// A new key or meter at the head of a bar within the line.
fn bar_head(group: &mut Group, staff: Staff, bar: &Spaced<'_>, start: f32) {
    if bar.head > 0.0 {
        let fifths = super::accidentals::fifths(bar.measure.bar.key);
        let x = staff.signature(group, fifths, false, start + 0.8 * staff.space);
        if bar.head > (staff.clef.signature(fifths).len() as f32 * 1.1 + 1.6) * staff.space {
            meter_signs(group, staff, bar.measure.bar.meter, x);
        }
    }
}

/// What the music is in words.
fn told(model: &SheetModel, bars: &[Spaced<'_>]) -> String {
    let bar = |bar: &Spaced<'_>| {
        let notes = bar
            .measure
            .elements
            .iter()
            .filter(|element| !element.tied_from);
        let notes: Vec<String> = notes
            .filter_map(|element| {
                let note = element.note?;
                let place = note
                    .neck
                    .map(|at| format!(" string {} fret {}", at.string, at.fret));
                Some(format!(
                    "{} ({}){}",
                    note.name(model.names),
                    note.degree_text(),
                    place.unwrap_or_default()
                ))
            })
            .collect();
        let notes = if notes.is_empty() {
            "rest".to_string()
        } else {
            notes.join(", ")
        };
        format!("bar {}: {notes}", bar.measure.bar.number)
    };
    bars.iter().map(bar).collect::<Vec<_>>().join("; ")
}

/// The width of a new key and meter at the head of a bar.
pub fn head_width(staff_space: f32, fifths: Option<i8>, meter: Option<Meter>) -> f32 {
    let key = fifths.map_or(0.0, |fifths| {
        let signs = accidental_signs(fifths.signum());
        f32::from(fifths.unsigned_abs()) * signs_width(&signs) + 1.4
    });
    let meter = if meter.is_some() { 3.0 } else { 0.0 };
    (key + meter) * staff_space
}
