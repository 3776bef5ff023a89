//! A target set in an area: its words in playing order as large as they fit.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, LEAST_CAP_PX, Type, draw_in};
use super::group::{self, draw_cells};
use super::page::SetOnPage;
use super::words::{PageWords, draw_flow, draw_words, flow, least_width, with_arrows, word_gap};

/// From so many words on, the root stands huge and the order beside it.
const MANY: usize = 4;
/// Least rows of a set with marks below its words.
const LEAST_WITH_MARKS_PX: i32 = 26;

/// Draws `set`. Four notes and more: the root huge, beside it all of them in their order.
pub(super) fn draw_large(bitmap: &mut Bitmap, set: &SetOnPage, area: Area, most: i32) -> PageWords {
    if !set.cells.is_empty() {
        return draw_cells(bitmap, set, area);
    }
    if set.words.len() < MANY {
        return draw_row(bitmap, set, area, most, Align::Middle);
    }
    let most = most.min(area.h);
    if draw_many(bitmap, set, area, most) {
        return PageWords::Whole;
    }
    let words = with_arrows(&set.words, &set.marks);
    PageWords::of(draw_words(bitmap, &words, area, most, Align::Middle))
}

/// The root huge, and beside it all words in their order; draws nothing where they do not fit.
fn draw_many(bitmap: &mut Bitmap, set: &SetOnPage, area: Area, most: i32) -> bool {
    let words = with_arrows(&set.words, &set.marks);
    let Some(root) = set.root.and_then(|at| set.words.get(at..=at)) else {
        return false;
    };
    let Some(huge) = flow(root, area.w * 2 / 5, area.h, most.min(area.h)) else {
        return false;
    };
    let left = Area::new(area.x, area.y, huge.kind.width(&root[0]), area.h);
    let x = left.right() + (huge.kind.cap() / 3).max(3);
    let right = Area::new(x, area.y, area.right() - x, area.h);
    let Some(order) = flow(&words, right.w, right.h, huge.kind.cap() * 2 / 3) else {
        return false;
    };
    draw_flow(bitmap, root, &huge, left, Align::Left);
    draw_flow(bitmap, &words, &order, right, Align::Left);
    true
}

/// The capital of the words of a small set in `area`; 0 where they do not fit, and for a group.
pub(super) fn cap_of(set: &SetOnPage, area: Area) -> i32 {
    let words = with_arrows(&set.words, &set.marks);
    let fitting = flow(&words, area.w, area.h, area.h).filter(|_| set.cells.is_empty());
    fitting.map_or(0, |flow| flow.kind.cap())
}

/// The largest capital of a set as [`draw_large`] draws it; 0 where it draws nothing.
pub(super) fn drawn_cap(set: &SetOnPage, area: Area, most: i32) -> i32 {
    let mut probe = Bitmap::recording(area.right().max(0) as u32, area.bottom().max(0) as u32);
    draw_large(&mut probe, set, area, most);
    let caps = probe.into_texts().into_iter().map(|text| text.cap);
    caps.max().unwrap_or(0)
}

/// Whether the words of a small set fit into `area`.
pub(super) fn fits(set: &SetOnPage, area: Area) -> bool {
    if !set.cells.is_empty() {
        return group::fits(set, area);
    }
    let words = with_arrows(&set.words, &set.marks);
    flow(&words, area.w, area.h, area.h).is_some()
}

/// The least columns that a small set needs on `h` rows; none for a group.
pub(super) fn least_columns(set: &SetOnPage, h: i32) -> i32 {
    least_width(&with_arrows(&set.words, &set.marks), h)
}

/// Draws the words of `set` in one row, each with its mark below it; lower than that with arrows; in more lines
/// where one does not hold them.
pub(super) fn draw_row(
    bitmap: &mut Bitmap,
    set: &SetOnPage,
    area: Area,
    most: i32,
    align: Align,
) -> PageWords {
    if !set.cells.is_empty() {
        return draw_cells(bitmap, set, area);
    }
    let marked = set.marks.iter().any(|mark| !mark.is_empty());
    if marked && area.h >= LEAST_WITH_MARKS_PX && draw_marked(bitmap, set, area, most, align) {
        return PageWords::Whole;
    }
    let words = with_arrows(&set.words, &set.marks);
    PageWords::of(draw_words(bitmap, &words, area, most, align))
}

/// Words with their marks below; draws nothing where they do not fit.
fn draw_marked(bitmap: &mut Bitmap, set: &SetOnPage, area: Area, most: i32, align: Align) -> bool {
    let mark_type = if area.h >= 80 {
        Type::Large(14)
    } else {
        Type::Small
    };
    // Two rows of air above the mark; its type has one below it.
    let mark_rows = mark_type.line() + 2;
    let mark_of = |place: usize| set.marks.get(place).map_or("", String::as_str);
    let widths = |kind: Type| -> Vec<i32> {
        let words = set.words.iter().enumerate();
        words
            .map(|(place, word)| kind.width(word).max(mark_type.width(mark_of(place))))
            .collect()
    };
    let total = |kind: Type| {
        widths(kind).iter().sum::<i32>() + word_gap(kind) * (set.words.len() as i32 - 1)
    };
    let height = |kind: Type| set.words.iter().map(|word| kind.height(word)).max();
    let room_h = area.h - mark_rows;
    let kind = (LEAST_CAP_PX..=most.min(room_h))
        .rev()
        .map(Type::Large)
        .chain([Type::Small])
        .find(|kind| total(*kind) <= area.w && height(*kind).unwrap_or(0) <= room_h);
    let Some(kind) = kind else {
        return false;
    };
    let (total, height) = (total(kind), height(kind).unwrap_or(0));
    let mut x = area.x
        + match align {
            Align::Left => 0,
            Align::Middle => (area.w - total) / 2,
            Align::Right => area.w - total,
        };
    let y = area.y + (room_h - height) / 2;
    for (place, (word, width)) in set.words.iter().zip(widths(kind)).enumerate() {
        kind.draw(bitmap, word, x + (width - kind.width(word)) / 2, y, true);
        let below = Area::new(x, y + height + 2, width, mark_type.line());
        let mark = mark_of(place);
        draw_in(bitmap, mark, below, mark_type, Align::Middle, true);
        x += width + word_gap(kind);
    }
    true
}
