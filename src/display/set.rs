//! A target set in an area: its words in playing order as large as they fit.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, LEAST_CAP_PX, Type, draw_fit, draw_in, wrap};
use super::page::{Cell, SetOnPage};

/// From so many words on, the first stands huge and the others beside it.
const MANY: usize = 4;

/// Draws `set`. Four words and more: the first huge, beside it what is special, below that the others.
pub(super) fn draw_large(bitmap: &mut Bitmap, set: &SetOnPage, area: Area, most: i32) {
    if !set.cells.is_empty() {
        draw_cells(bitmap, set, area);
        return;
    }
    if set.words.len() < MANY {
        draw_row(bitmap, set, area, most, Align::Middle);
        return;
    }
    let first = &set.words[0];
    let root_cap = most.min(area.h);
    let room = area.w * 2 / 5;
    let kind = super::glyphs::fit(first, room, area.h, root_cap).unwrap_or(Type::Small);
    let left = Area::new(area.x, area.y, kind.width(first).min(room), area.h);
    draw_in(bitmap, first, left, kind, Align::Left, true);
    let gap = (kind.cap() / 3).max(3);
    let right = Area::new(
        left.right() + gap,
        area.y,
        area.right() - left.right() - gap,
        area.h,
    );
    let others = set.words[1..].join(" ");
    if set.special.is_empty() {
        let half = set.words.len().div_ceil(2);
        draw_halves(
            bitmap,
            &set.words[1..half].join(" "),
            &set.words[half..].join(" "),
            right,
        );
    } else {
        draw_halves(bitmap, &set.special.join(" "), &others, right);
    }
}

fn draw_halves(bitmap: &mut Bitmap, upper: &str, lower: &str, area: Area) {
    let half = (area.h - 2) / 2;
    let above = Area::new(area.x, area.y, area.w, half);
    let below = Area::new(area.x, area.bottom() - half, area.w, half);
    draw_fit(bitmap, upper, above, half * 9 / 10, Align::Left, true);
    draw_fit(bitmap, lower, below, half * 9 / 10, Align::Left, true);
}

/// Draws the words of `set` in one row, each with its mark below it.
pub(super) fn draw_row(bitmap: &mut Bitmap, set: &SetOnPage, area: Area, most: i32, align: Align) {
    if !set.cells.is_empty() {
        draw_cells(bitmap, set, area);
        return;
    }
    if set.words.is_empty() {
        return;
    }
    let marked = set.marks.iter().any(|mark| !mark.is_empty());
    let mark_type = if area.h >= 80 {
        Type::Large(14)
    } else {
        Type::Small
    };
    let mark_rows = if marked && area.h >= 24 {
        mark_type.line() + 1
    } else {
        0
    };
    let room = Area::new(area.x, area.y, area.w, area.h - mark_rows);
    let mark_of = |place: usize| -> &str {
        match set.marks.get(place) {
            Some(mark) if mark_rows > 0 => mark,
            _ => "",
        }
    };
    let Some(kind) = row_type(set, room, most, mark_type, &mark_of) else {
        draw_wrapped(bitmap, &set.words.join(" "), area, align);
        return;
    };
    let gap = word_gap(kind);
    let widths: Vec<i32> = set
        .words
        .iter()
        .enumerate()
        .map(|(place, word)| kind.width(word).max(mark_type.width(mark_of(place))))
        .collect();
    let total = widths.iter().sum::<i32>() + gap * (widths.len() as i32 - 1);
    let height = set
        .words
        .iter()
        .map(|word| kind.height(word))
        .max()
        .unwrap_or(0);
    let mut x = area.x
        + match align {
            Align::Left => 0,
            Align::Middle => (area.w - total).max(0) / 2,
            Align::Right => (area.w - total).max(0),
        };
    let y = room.y + (room.h - height).max(0) / 2;
    for (place, (word, width)) in set.words.iter().zip(widths).enumerate() {
        kind.draw(bitmap, word, x + (width - kind.width(word)) / 2, y, true);
        let below = Area::new(x, y + kind.cap() + 2, width, mark_type.line());
        draw_in(
            bitmap,
            mark_of(place),
            below,
            mark_type,
            Align::Middle,
            true,
        );
        x += width + gap;
    }
}

fn word_gap(kind: Type) -> i32 {
    match kind {
        Type::Large(cap) => (cap * 9 / 20).max(5),
        Type::Small => 5,
    }
}

fn row_type<'set>(
    set: &SetOnPage,
    room: Area,
    most: i32,
    mark_type: Type,
    mark_of: &dyn Fn(usize) -> &'set str,
) -> Option<Type> {
    (LEAST_CAP_PX..=most.min(room.h))
        .rev()
        .map(Type::Large)
        .chain([Type::Small])
        .find(|kind| {
            let gaps = word_gap(*kind) * (set.words.len() as i32 - 1);
            let words: i32 = set
                .words
                .iter()
                .enumerate()
                .map(|(place, word)| kind.width(word).max(mark_type.width(mark_of(place))))
                .sum();
            words + gaps <= room.w && set.words.iter().all(|word| kind.height(word) <= room.h)
        })
}

/// Words too long for one line, in small print.
fn draw_wrapped(bitmap: &mut Bitmap, text: &str, area: Area, align: Align) {
    let pitch = Type::Small.line();
    let room = (area.h + 1) / pitch;
    let mut lines = wrap(text, Type::Small, area.w);
    if lines.len() as i32 > room {
        let rest = lines.split_off((room - 1).max(0) as usize);
        lines.push(rest.join(" "));
    }
    let top = area.y + (area.h - lines.len() as i32 * pitch) / 2;
    for (place, line) in lines.iter().enumerate() {
        let row = Area::new(area.x, top + place as i32 * pitch, area.w, pitch);
        draw_in(bitmap, line, row, Type::Small, align, true);
    }
}

/// A group of short chords, a cell each, the sounding one inverted; in one row or two, whichever has the larger letters.
fn draw_cells(bitmap: &mut Bitmap, set: &SetOnPage, area: Area) {
    let count = set.cells.len() as i32;
    // A word is about as wide as five thirds of its height; the chord below takes a third of the cell.
    let cap = |columns: i32| {
        let rows = (count + columns - 1) / columns;
        (area.w / columns * 3 / 5).min(area.h / rows * 2 / 3)
    };
    let two_rows = (count + 1) / 2;
    let columns = if cap(two_rows) > cap(count) {
        two_rows
    } else {
        count
    };
    let rows = (count + columns - 1) / columns;
    let (cell_w, cell_h) = (area.w / columns, area.h / rows);
    for (place, cell) in set.cells.iter().enumerate() {
        let (column, row) = (place as i32 % columns, place as i32 / columns);
        let whole = Area::new(
            area.x + column * cell_w,
            area.y + row * cell_h,
            cell_w - 1,
            cell_h,
        );
        draw_cell(
            bitmap,
            cell,
            whole.inset((cell_w / 14).max(1), (cell_h / 16).max(1)),
        );
        if set.current == Some(place) {
            bitmap.invert(whole);
        }
    }
}

/// The words to play, their chord small below; in a low row whichever there is, the words first.
fn draw_cell(bitmap: &mut Bitmap, cell: &Cell, area: Area) {
    let words = cell.words.join(" ");
    let (words, chord) = match (words.is_empty(), cell.chord.as_str()) {
        (true, chord) => (chord, ""),
        (false, chord) => (words.as_str(), chord),
    };
    if chord.is_empty() || area.h < 18 {
        draw_fit(bitmap, words, area, area.h, Align::Middle, true);
        return;
    }
    let below = (area.h * 2 / 7).max(8);
    let upper = Area::new(area.x, area.y, area.w, area.h - below - 1);
    let lower = Area::new(area.x, area.bottom() - below, area.w, below);
    draw_fit(bitmap, words, upper, upper.h, Align::Middle, true);
    draw_fit(bitmap, chord, lower, below * 6 / 7, Align::Middle, true);
}
