//! "What to play": a row a chord. Symbol, staff, tablature, neck and beats side by side, and where the page is wide enough an
//! empty staff for the student's own.

use super::canvas::{Block, Group, Role, Style};
use super::fonts::Face;
use super::model::{Clef, SheetChord, SheetModel, SheetNote};
use super::neck_map::{MapArea, draw, strip};
use super::staff::{Staff, Tab, accidental_signs, signs, signs_width};

/// How rows are laid out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowStyle {
    /// Rows side by side on a page.
    pub columns: usize,
    /// The distance of staff lines, in millimetres.
    pub space: f32,
    /// Whether each row has an empty staff.
    pub own: bool,
}

/// The columns of a row: where each begins and how wide it is.
struct Columns {
    symbol: (f32, f32),
    staff: (f32, f32),
    tab: (f32, f32),
    neck: (f32, f32),
    own: Option<(f32, f32)>,
}

/// The space between columns.
const GUTTER: f32 = 2.0;
/// The least height of a row in staff spaces, and between rows.
const BETWEEN: f32 = 2.2;

impl Columns {
    fn of(style: &RowStyle, width: f32) -> Columns {
        // Shares of the width: found by looking at pages, with four notes over each chord.
        let shares: &[f32] = match style.own {
            true => &[0.12, 0.30, 0.16, 0.17, 0.25],
            false => &[0.19, 0.38, 0.19, 0.24],
        };
        let mut x = 0.0;
        let mut column = |index: usize| {
            let share = shares.get(index)? * width;
            let this = (x, share - GUTTER);
            x += share;
            Some(this)
        };
        let mut next = |index| column(index).unwrap_or_default();
        Columns {
            symbol: next(0),
            staff: next(1),
            tab: next(2),
            neck: next(3),
            own: style.own.then(|| next(4)),
        }
    }
}

/// The row of a chord, or several where its notes need more than one; `width` is that of the column.
pub fn row(model: &SheetModel, chord: &SheetChord, style: &RowStyle, width: f32) -> Block {
    let columns = Columns::of(style, width);
    let clef = Clef::of(&model.neck);
    let room = columns.staff.1 - 4.2 * style.space;
    let lines = in_lines(model, chord, style, room);
    let mut block = Block::default();
    for (index, notes) in lines.iter().enumerate() {
        let mut line = Block::default();
        let mut figure = Group::new(Role::Figure(told(model, chord, notes)));
        let staff = Staff {
            x: columns.staff.0,
            top: 0.0,
            width: columns.staff.1,
            space: style.space,
            clef,
        };
        let slots = draw_staff(&mut figure, model, notes, staff);
        draw_tab(
            &mut figure,
            model,
            notes,
            (columns.tab, style.space, slots.len()),
        );
        if index == 0 {
            let (x, w) = columns.neck;
            let gap = style.space * 0.92;
            let area = MapArea {
                x,
                top: -0.8 * style.space,
                width: w,
                gap,
            };
            let high = draw(&mut figure, model, chord, area);
            strip(
                &mut figure,
                chord,
                (x + 1.0, area.top + high + 3.4, w - 2.0),
            );
        }
        if index == 0 {
            line.groups.push(symbol(chord, columns.symbol, style.space));
        }
        line.groups.push(figure);
        line.groups.extend(
            columns
                .own
                .map(|(x, width)| own(Staff { x, width, ..staff })),
        );
        let line = line.settled();
        let height = line.height;
        let moved = line.moved(0.0, block.height);
        block.groups.extend(moved.groups);
        block.height += height + BETWEEN * style.space * 0.6;
    }
    block
}

/// What the figure is in words.
fn told(model: &SheetModel, chord: &SheetChord, notes: &[&SheetNote]) -> String {
    let told = notes.iter().map(|note| {
        let place = note
            .neck
            .map(|at| format!(", string {} fret {}", at.string, at.fret));
        let name = note.name(model.names);
        format!(
            "{name} ({}){}",
            note.degree_text(),
            place.unwrap_or_default()
        )
    });
    let notes: Vec<String> = told.collect();
    let rhythm: Vec<&str> = chord
        .rhythm
        .iter()
        .map(|(place, _)| place.text.as_str())
        .collect();
    let at = if rhythm.is_empty() {
        String::new()
    } else {
        format!(", on {}", rhythm.join(" "))
    };
    let choose = if chord.is_free { "choose among " } else { "" };
    match notes.is_empty() {
        true => format!("{}: nothing to play", chord.symbol),
        false => format!("{}: {choose}{}{at}", chord.symbol, notes.join("; ")),
    }
}

/// How wide a note is with its accidental and what stands below it: what lies left of the head's middle, and right of it.
fn sides(model: &SheetModel, note: &SheetNote, space: f32) -> (f32, f32) {
    let head = Face::Music.advance(signs::BLACK) * 4.0 * space / 2.0;
    let accidental = match note.pitch.alter {
        0 => 0.35 * space,
        alter => (signs_width(&accidental_signs(alter)) + 0.3) * space,
    };
    let label = [
        degree_style(space).width(&note.degree_text()),
        name_style(space).width(&note.name(model.names)),
    ];
    let half = label[0].max(label[1]) / 2.0;
    ((head + accidental).max(half), half.max(head + 0.35 * space))
}

/// The notes in lines that have room for them.
fn in_lines<'a>(
    model: &SheetModel,
    chord: &'a SheetChord,
    style: &RowStyle,
    room: f32,
) -> Vec<Vec<&'a SheetNote>> {
    let mut lines: Vec<Vec<&SheetNote>> = vec![Vec::new()];
    let mut used = 0.0;
    for note in &chord.notes {
        let (left, right) = sides(model, note, style.space);
        let wide = left + right + 0.6 * style.space;
        let full = used + wide > room;
        match lines.last_mut() {
            Some(line) if !full || line.is_empty() => line.push(note),
            _ => {
                lines.push(vec![note]);
                used = 0.0;
            }
        }
        used += wide;
    }
    lines
}

fn degree_style(space: f32) -> Style {
    Style::bold(7.0).times(space / 1.6)
}

fn name_style(space: f32) -> Style {
    Style::plain(6.5).times(space / 1.6)
}

/// Symbol, place and scale of a chord.
fn symbol(chord: &SheetChord, (x, width): (f32, f32), space: f32) -> Group {
    let mut group = Group::new(Role::Heading(3));
    let scale = space / 1.6;
    let small = Style::plain(6.5).times(scale).gray(0.25);
    group.text(
        &chord.place,
        (x, -0.4 * space),
        small.within(&chord.place, width),
    );
    let large = Style::bold(13.0).times(scale).within(&chord.symbol, width);
    group.text(&chord.symbol, (x, 2.8 * space), large);
    if let Some(name) = &chord.scale {
        group.text(name, (x, 4.7 * space), small.within(name, width));
    }
    group
}

/// Staff and notes; gives the middle of each note.
fn draw_staff(
    group: &mut Group,
    model: &SheetModel,
    notes: &[&SheetNote],
    staff: Staff,
) -> Vec<f32> {
    staff.lines(group);
    let begin = staff.draw_clef(group) + 0.5 * staff.space;
    let room = staff.x + staff.width - begin;
    let wide: Vec<(f32, f32)> = notes
        .iter()
        .map(|note| sides(model, note, staff.space))
        .collect();
    let used: f32 = wide.iter().map(|(left, right)| left + right).sum();
    let gap = ((room - used) / notes.len().max(1) as f32).min(3.0 * staff.space);
    let head = Face::Music.advance(signs::BLACK) * 4.0 * staff.space;
    let mut x = begin;
    let mut middles = Vec::new();
    for (note, (left, right)) in notes.iter().zip(&wide) {
        let middle = x + left;
        staff.head(
            group,
            note,
            (middle - head / 2.0, signs::BLACK),
            note.pitch.alter != 0,
        );
        middles.push(middle);
        x = middle + right + gap;
    }
    labels(group, model, notes, (&middles, staff));
    middles
}

/// Degree and name below each note.
fn labels(
    group: &mut Group,
    model: &SheetModel,
    notes: &[&SheetNote],
    (middles, staff): (&[f32], Staff),
) {
    let space = staff.space;
    let lowest = notes
        .iter()
        .map(|note| staff.place(note))
        .max()
        .unwrap_or(0)
        .max(8);
    let (degree, name) = (degree_style(space), name_style(space));
    let first = staff.y(lowest) + 1.1 * space + degree.size * 0.75;
    let second = first + name.size * 1.12;
    for (note, x) in notes.iter().zip(middles) {
        group.centred(&note.degree_text(), (*x, first), degree);
        group.centred(&note.name(model.names), (*x, second), name);
    }
}

/// The tablature, its frets as evenly spaced as there is room.
fn draw_tab(
    group: &mut Group,
    model: &SheetModel,
    notes: &[&SheetNote],
    ((x, width), space, _): ((f32, f32), f32, usize),
) {
    let strings = model.neck.tuning.open_keys().len() as u8;
    let gap = (space * 1.15).min(6.0 * space * 1.15 / f32::from(strings.max(1)).max(6.0) * 1.0);
    let tab = Tab {
        x,
        top: -0.5 * space,
        width,
        gap,
        strings,
    };
    tab.lines(group);
    let step = (width / notes.len().max(1) as f32).min(4.5 * space);
    for (index, note) in notes.iter().enumerate() {
        if let Some(place) = note.neck {
            tab.fret(group, place, x + (index as f32 + 0.5) * step);
        }
    }
}

/// An empty staff to write on.
fn own(staff: Staff) -> Group {
    let mut group = Group::new(Role::Decoration);
    staff.lines(&mut group);
    for x in [staff.x, staff.x + staff.width] {
        group.line((x, staff.top), (x, staff.y(8)), 0.15, 0.25);
    }
    group
}
