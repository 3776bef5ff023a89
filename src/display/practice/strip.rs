//! The strip below the set where nothing else has room: its chord and what to do.

use super::super::bitmap::{Area, Bitmap};
use super::super::glyphs::{Align, Type, draw_fit, draw_in, fit};
use super::super::page::{Large, PracticePage, SetOnPage};
use super::status;

/// Least rows of a page that has room for larger letters below its set.
const HIGH_PX: i32 = 40;

/// The strip at the bottom: the chord of the large set and what to do in at most `most_lines`; what is armed or wrong in their
/// place. The rows it takes.
pub(super) fn draw(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    first: &SetOnPage,
    area: Area,
    most_lines: usize,
) -> i32 {
    if let Some(told) = in_its_place(page, area.w - 2) {
        let strip = Area::new(area.x, area.bottom() - 8, area.w, 8);
        let within = strip.inset(1, 0);
        draw_in(bitmap, &told, within, Type::Small, Align::Middle, true);
        bitmap.invert(strip);
        return 9;
    }
    // Cells bring their chords with them.
    let in_cells =
        !first.cells.is_empty() || page.large == Large::Both && !page.next.cells.is_empty();
    let chord = match (!in_cells, page.large) {
        (false, _) => "",
        (true, Large::Next) => &page.chord_next,
        (true, _) => &page.chord_now,
    };
    if chord.is_empty() && page.task.is_empty() && page.then.is_empty() {
        return 0;
    }
    draw_task(bitmap, page, chord, area, most_lines)
}

/// What is armed or wrong, as much of it as fits.
fn in_its_place(page: &PracticePage, w: i32) -> Option<String> {
    let told = match &page.armed {
        Some(armed) => vec![format!("{} {}", armed.what, armed.when), armed.what.clone()],
        None => vec![page.states.join(" "), page.states.first().cloned()?],
    };
    let fitting = told.iter().find(|text| Type::Small.width(text) <= w);
    fitting.or(told.last()).cloned()
}

fn draw_task(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    chord: &str,
    area: Area,
    most_lines: usize,
) -> i32 {
    let high = area.h >= HIGH_PX;
    let chord_of = |h: i32| match high {
        true => fit(chord, area.w / 2, h - 3, 12).unwrap_or(Type::Small),
        false => Type::Small,
    };
    let tab = |h: i32| match chord {
        "" => 0,
        chord => chord_of(h).width(chord) + 4,
    };
    let left = |h: i32| area.w - tab(h) - 4;
    let one_line = status::holds_task(page, Type::Small, left(8), 1);
    let two_lines = most_lines > 1 && status::holds_task(page, Type::Small, left(16), 2);
    let h = if high || !one_line && two_lines {
        16
    } else {
        8
    };
    let strip = Area::new(area.x, area.bottom() - h, area.w, h);
    let box_of = Area::new(strip.x, strip.y, tab(h), h);
    draw_in(
        bitmap,
        chord,
        box_of.inset(2, 0),
        chord_of(h),
        Align::Middle,
        true,
    );
    bitmap.invert(box_of);
    let lines = status::task_lines(page, Type::Small, left(h), h as usize / 8);
    let at = Area::new(box_of.right() + 3, strip.y, left(h), h);
    match &lines[..] {
        [line] => {
            draw_fit(bitmap, line, at, 12, Align::Left, true);
        }
        lines => status::draw_rows(bitmap, lines, at, Type::Small, Align::Left),
    }
    h
}
