//! The practice page.
//!
//! One slot in the middle holds what is to be played first, so the eye has one place to go to and nothing moves when the chord
//! changes: what was the next set a moment ago is then the set of the chord that sounds. The chord that the large set belongs to is inverted in its corner.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, Type, draw_in, fit};
use super::layout::{Arrangement, Panel, SlotPlaces, places};
use super::neck;
use super::page::{Large, NeckOnPage, PracticePage, SetOnPage};
use super::set::{cap_of, draw_large, draw_row, drawn_cap, fits};
use super::words::PageWords;
use order::{after, first, in_a_row};

mod order;
mod rows;
mod status;
mod strip;

/// Draws the whole page; what of its sets can be read.
pub(super) fn draw(bitmap: &mut Bitmap, page: &PracticePage, panel: Panel) -> PageWords {
    let places = places(panel);
    if panel.arrangement() == Arrangement::OnlyTheSet {
        return draw_only(bitmap, page, places.big, places.big_cap);
    }
    // A group to come that has no room in its row goes on in the large one.
    let in_row = rows::goes_on(page, &places).then(|| in_a_row(page, &first(page), &page.next));
    if let Some(row) = in_row {
        let one = PracticePage {
            now: row,
            next: SetOnPage::default(),
            large: Large::Now,
            chord_next: String::new(),
            ..page.clone()
        };
        return draw(bitmap, &one, panel);
    }
    let first = first(page);
    let mut big = rows::big(page, &places);
    if panel.arrangement() == Arrangement::Corners {
        draw_place(bitmap, &first, &places);
    } else {
        let (words, neck) = neck::share(&first, big);
        big = words;
        if let (Some(area), Some(picture)) = (neck, &first.neck) {
            neck::draw(bitmap, picture, area);
        }
    }
    let large = draw_large(bitmap, &first, big, places.big_cap);
    // What is to be played has the largest letters; a group brings its chords with it.
    let large_cap = match drawn_cap(&first, big, places.big_cap) {
        cap @ 1.. if first.cells.is_empty() => cap,
        _ => i32::MAX,
    };
    large.max(rows::draw(bitmap, page, &places, large_cap))
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

/// Only what to play first, in `area`, with its chord and what to do below it; where both sets are needed, the second
/// in a lower row with its chord at the end. While something is armed or wrong, that stands below.
pub(super) fn draw_only(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    area: Area,
    cap: i32,
) -> PageWords {
    let first = first(page);
    // Off the very edge, where a bezel may hide a column.
    let mut room = area.inset(1, 0);
    let after = after(page).filter(|_| page.large == Large::Both);
    // What is to be played comes before all of what to do.
    let in_two = |after: &SetOnPage| {
        let row = in_a_row(page, &first, after);
        fits(
            &row,
            Area {
                h: room.h - 16,
                ..room
            },
        )
    };
    let most_lines = if after.as_ref().is_none_or(in_two) {
        2
    } else {
        1
    };
    room.h -= strip::draw(bitmap, page, &first, area, most_lines);
    let Some(after) = after else {
        return draw_large(bitmap, &first, room, cap.min(room.h));
    };
    if !first.cells.is_empty() || !after.cells.is_empty() {
        let row = in_a_row(page, &first, &after);
        return draw_large(bitmap, &row, room, cap.min(room.h));
    }
    let chord = page.chord_next.as_str();
    let wide = Type::Small.width(chord);
    let split = |above_h: i32| {
        let lower_h = room.h - above_h;
        let upper = Area::new(room.x, room.y, room.w, above_h);
        let lower = Area::new(room.x, upper.bottom(), room.w - wide - 4, lower_h);
        (upper, lower)
    };
    let mut above_h = room.h * 3 / 5;
    while !fits(&after, split(above_h).1) && fits(&first, split(above_h - 1).0) {
        above_h -= 1;
    }
    let (upper, lower) = split(above_h);
    let lower_h = lower.h;
    let end = Area::new(room.right() - wide, lower.y, wide, lower_h.min(8));
    let above = draw_large(bitmap, &first, upper, above_h);
    let most = cap_of(&first, upper) * 4 / 5;
    let below = draw_row(bitmap, &after, lower, most.min(lower_h), Align::Left);
    draw_in(bitmap, chord, end, Type::Small, Align::Right, true);
    above.max(below)
}
