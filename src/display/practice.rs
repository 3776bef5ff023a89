//! The practice page.
//!
//! One slot in the middle holds what is to be played next, so the eye has one place to go to and nothing moves when the chord
//! changes: what was the next set a moment ago is then the set of the chord that sounds. The chord that the large set belongs to is inverted in its corner.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, Type, draw_in, fit};
use super::layout::{Arrangement, Panel, SlotPlaces, places};
use super::neck;
use super::page::{Large, NeckOnPage, PracticePage, SetOnPage};
use super::set::{draw_large, draw_row};
use super::words::PageWords;

mod rows;
mod status;

/// Draws the whole page; what of its sets can be read.
pub(super) fn draw(bitmap: &mut Bitmap, page: &PracticePage, panel: Panel) -> PageWords {
    let places = places(panel);
    if panel.arrangement() == Arrangement::OnlyTheSet {
        return draw_only(bitmap, page, places.big, places.big_cap);
    }
    let large = match page.large {
        Large::Now => Some(&page.now),
        Large::Next => Some(&page.next),
        Large::Both => None,
    };
    let mut big = places.big;
    match large {
        Some(set) if panel.arrangement() == Arrangement::Corners => {
            draw_place(bitmap, set, &places)
        }
        Some(set) => {
            let (words, neck) = neck::share(set, big);
            big = words;
            if let (Some(area), Some(picture)) = (neck, &set.neck) {
                neck::draw(bitmap, picture, area);
            }
        }
        None => {}
    }
    let large = draw_big(bitmap, page, big, places.big_cap);
    large.max(rows::draw(bitmap, page, &places))
}

/// Where a single note lies, in words beside it, if it leaves them room.
fn draw_place(bitmap: &mut Bitmap, set: &SetOnPage, places: &SlotPlaces) {
    let ([word], Some(NeckOnPage { dots, .. })) = (&set.words[..], &set.neck) else {
        return;
    };
    let [dot] = &dots[..] else {
        return;
    };
    let Some(kind) = fit(word, places.big.w, places.big.h, places.big_cap) else {
        return;
    };
    let lines = neck::told(dot);
    let wide = lines.iter().map(|line| Type::Small.width(line)).max();
    let wide = wide.unwrap_or(0);
    if (places.big.w - kind.width(word)) / 2 < wide + 1 {
        return;
    }
    let left = places.big.right() - wide;
    for (line, y) in lines.iter().zip([places.big.y + 7, places.big.y + 17]) {
        let row = Area::new(left, y, wide, 8);
        draw_in(bitmap, line, row, Type::Small, Align::Right, true);
    }
}

/// Only what to play next, in `area`; a line below it while something is armed or wrong.
pub(super) fn draw_only(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    area: Area,
    cap: i32,
) -> PageWords {
    // Off the very edge, where a bezel may hide a column.
    let mut room = area.inset(1, 0);
    let line = |bitmap: &mut Bitmap, text: &str| {
        let strip = Area::new(area.x, area.bottom() - 8, area.w, 8);
        let within = strip.inset(1, 0);
        draw_in(bitmap, text, within, Type::Small, Align::Middle, true);
        bitmap.invert(strip);
    };
    if let Some(armed) = &page.armed {
        line(bitmap, &format!("{} {}", armed.what, armed.when));
        room.h -= 9;
    } else if !page.states.is_empty() {
        line(bitmap, &page.states.join(" "));
        room.h -= 9;
    }
    draw_big(bitmap, page, room, cap.min(room.h))
}

fn shown(set: &SetOnPage, chord: &str) -> SetOnPage {
    if set.words.is_empty() && set.cells.is_empty() && !chord.is_empty() {
        // Where the stage gives no notes away, what to play next is known by its chord alone.
        SetOnPage {
            words: vec![chord.to_string()],
            ..SetOnPage::default()
        }
    } else {
        set.clone()
    }
}

fn draw_big(bitmap: &mut Bitmap, page: &PracticePage, area: Area, cap: i32) -> PageWords {
    let now = shown(&page.now, &page.chord_now);
    let next = shown(&page.next, &page.chord_next);
    match page.large {
        Large::Now => draw_large(bitmap, &now, area, cap),
        Large::Next => draw_large(bitmap, &next, area, cap),
        Large::Both => {
            let half = (area.h - 1) / 2;
            let upper = Area::new(area.x, area.y, area.w, half);
            let lower = Area::new(area.x, area.bottom() - half, area.w, half);
            let above = draw_row(bitmap, &now, upper, half, Align::Middle);
            let below = draw_row(bitmap, &next, lower, half, Align::Middle);
            let middle = area.y + half;
            for x in (area.x..area.right()).step_by(4) {
                bitmap.set(x, middle, true);
            }
            above.max(below)
        }
    }
}
