//! The page of the foot menu.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, Type, draw_fit, draw_in, shorten};
use super::layout::{Panel, print};
use super::message::MARGIN;
use super::page::PracticePage;
use super::practice;

/// Draws the menu: while the band plays as two lines above what to play, on low panels alone, for it leaves by itself.
pub(super) fn draw(
    bitmap: &mut Bitmap,
    panel: Panel,
    items: &[String],
    chosen: usize,
    told: &str,
    below: Option<&PracticePage>,
) {
    let whole = Area::new(0, 0, panel.width as i32, panel.height as i32);
    let print = print(panel);
    match below {
        _ if whole.h < 48 => list(bitmap, whole, print, (items, chosen), told, 2),
        Some(below) => {
            let top = lines(bitmap, whole, print, (items, chosen), told);
            let room = Area::new(0, top, whole.w, whole.h - top);
            practice::draw_only(bitmap, below, room, room.h);
        }
        None => list(bitmap, whole, print, (items, chosen), told, 4),
    }
}

/// As many entries as there is room for, the chosen one inverted. What is told has the last row.
fn list(
    bitmap: &mut Bitmap,
    whole: Area,
    print: Type,
    (items, chosen): (&[String], usize),
    told: &str,
    all: usize,
) {
    let rows = all - usize::from(!told.is_empty());
    let row_h = whole.h / all as i32;
    let first = chosen.saturating_sub(rows / 2);
    let first = first.min(items.len().saturating_sub(rows));
    for (row, item) in items.iter().skip(first).take(rows).enumerate() {
        let area = Area::new(0, row as i32 * row_h, whole.w, row_h - 1);
        let cap = (row_h * 3 / 5).max(9);
        draw_fit(bitmap, item, area.inset(4, 1), cap, Align::Left, true);
        if first + row == chosen {
            bitmap.invert(area);
        }
    }
    if !told.is_empty() {
        let y = rows as i32 * row_h + (row_h - print.line()) / 2;
        text(bitmap, whole, print, told, y);
    }
}

/// The chosen entry, inverted, and the next ones or what is told; gives the first row below.
fn lines(
    bitmap: &mut Bitmap,
    whole: Area,
    print: Type,
    (items, chosen): (&[String], usize),
    told: &str,
) -> i32 {
    let line = print.line();
    let item = items.get(chosen).map_or("", String::as_str);
    text(bitmap, whole, print, item, 0);
    bitmap.invert(Area::new(0, 0, whole.w, line + 1));
    let after = items.iter().cycle().skip(chosen + 1);
    let after = after.take(items.len().saturating_sub(1));
    let w = whole.w - 2 * MARGIN;
    let next = match told.is_empty() {
        true => whole_words(after, print, w),
        false => told.to_string(),
    };
    text(bitmap, whole, print, &next, line + 2);
    2 * line + 4
}

fn text(bitmap: &mut Bitmap, whole: Area, print: Type, text: &str, y: i32) {
    let area = Area::new(0, y, whole.w, print.line() + 1).inset(MARGIN, 0);
    let text = shorten(text, print, area.w);
    draw_in(bitmap, &text, area, print, Align::Left, true);
}

/// As many of these as fit whole.
fn whole_words<'word>(words: impl Iterator<Item = &'word String>, print: Type, w: i32) -> String {
    let mut line = String::new();
    for word in words {
        let longer = match line.is_empty() {
            true => word.clone(),
            false => format!("{line}  {word}"),
        };
        if print.width(&longer) > w {
            break;
        }
        line = longer;
    }
    line
}
