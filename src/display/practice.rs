//! The practice page.
//!
//! One slot in the middle holds what is to be played next, so the eye has one place to go to and nothing moves when the chord
//! changes: what was the next set a moment ago is then the set of the chord that sounds. The chord that the large set belongs to is inverted in its corner.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, Type, draw_fit, draw_in, fit};
use super::layout::{Arrangement, Panel, Places, Row, places};
use super::neck;
use super::page::{ArmedLine, Large, NeckOnPage, Phase, PracticePage, SetOnPage};
use super::set::{draw_large, draw_row};

/// Draws the whole page.
pub(super) fn draw(bitmap: &mut Bitmap, page: &PracticePage, panel: Panel) {
    let places = places(panel);
    if panel.arrangement() == Arrangement::OnlyTheSet {
        draw_only(bitmap, page, places.big, places.big_cap);
        return;
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
    draw_big(bitmap, page, big, places.big_cap);
    draw_rows(bitmap, page, &places);
}

/// Where a single note lies, in words beside it, if it leaves them room.
fn draw_place(bitmap: &mut Bitmap, set: &SetOnPage, places: &Places) {
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
pub(super) fn draw_only(bitmap: &mut Bitmap, page: &PracticePage, area: Area, cap: i32) {
    let mut room = area;
    let line = |bitmap: &mut Bitmap, text: &str| {
        let strip = Area::new(area.x, area.bottom() - 8, area.w, 8);
        draw_in(
            bitmap,
            text,
            strip.inset(1, 0),
            Type::Small,
            Align::Middle,
            true,
        );
        bitmap.invert(strip);
    };
    if let Some(armed) = &page.armed {
        line(bitmap, &format!("{} {}", armed.what, armed.when));
        room.h -= 9;
    } else if !page.states.is_empty() {
        line(bitmap, &page.states.join(" "));
        room.h -= 9;
    }
    draw_big(bitmap, page, room, cap.min(room.h));
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

fn draw_big(bitmap: &mut Bitmap, page: &PracticePage, area: Area, cap: i32) {
    let now = shown(&page.now, &page.chord_now);
    let next = shown(&page.next, &page.chord_next);
    match page.large {
        Large::Now => draw_large(bitmap, &now, area, cap),
        Large::Next => draw_large(bitmap, &next, area, cap),
        Large::Both => {
            let half = (area.h - 1) / 2;
            let upper = Area::new(area.x, area.y, area.w, half);
            let lower = Area::new(area.x, area.bottom() - half, area.w, half);
            draw_row(bitmap, &now, upper, half, Align::Middle);
            draw_row(bitmap, &next, lower, half, Align::Middle);
            let middle = area.y + half;
            for x in (area.x..area.right()).step_by(4) {
                bitmap.set(x, middle, true);
            }
        }
    }
}

/// The two rows with chords, small sets, section, stage and distance.
fn draw_rows(bitmap: &mut Bitmap, page: &PracticePage, places: &Places) {
    let (large_now, large_next) = (page.large == Large::Now, page.large == Large::Next);
    let shared = places.now.set == places.now.chord;
    let (upper_align, lower_align) = if shared {
        (Align::Right, Align::Left)
    } else {
        (Align::Left, Align::Left)
    };
    let next_align = if shared { Align::Right } else { Align::Left };
    // The cells of a group bring their chords with them.
    let corner = |set: &SetOnPage, chord: &str| {
        if set.cells.is_empty() {
            chord.to_string()
        } else {
            String::new()
        }
    };
    let chord_now = &corner(&page.now, &page.chord_now);
    let chord_next = &corner(&page.next, &page.chord_next);
    let now = draw_chord(bitmap, chord_now, places.now, Align::Left, large_now);
    let next = draw_chord(bitmap, chord_next, places.next, next_align, large_next);
    let gap = 4 + places.now.cap / 6 - 2;
    let mut upper = places.now.set;
    let mut lower = places.next.set;
    if shared {
        upper = Area::new(
            now.right() + gap,
            upper.y,
            upper.right() - now.right() - gap,
            upper.h,
        );
        lower.w = next.x - lower.x - gap;
    }
    let distance = distance_text(page.beats_to_change);
    let at = places.distance.unwrap_or_else(|| {
        let wide = places.count.width("in 4");
        let at = Area::new(lower.right() - wide, lower.y, wide, lower.h);
        lower.w -= wide + gap;
        at
    });
    draw_in(bitmap, &distance, at, places.count, Align::Right, true);
    // Off the very edge, where a bezel may hide a column.
    let (upper, lower) = (upper.inset(1, 0), lower.inset(1, 0));
    if large_next {
        draw_row(bitmap, &page.now, upper, places.now.cap - 1, upper_align);
    }
    if large_now {
        draw_row(bitmap, &page.next, lower, places.next.cap - 1, lower_align);
    }
    match places.status {
        Some(area) => draw_status_line(bitmap, page, area, places.print),
        None if large_next => draw_status_block(bitmap, page, lower, Align::Left),
        None => draw_status_block(bitmap, page, upper, Align::Right),
    }
}

fn distance_text(beats: u32) -> String {
    if beats == 0 {
        String::new()
    } else {
        format!("in {beats}")
    }
}

/// A chord in its corner; inverted where the large set is its own. Returns what it covers.
fn draw_chord(bitmap: &mut Bitmap, chord: &str, row: Row, align: Align, inverted: bool) -> Area {
    let corner = row.chord;
    if chord.is_empty() {
        let x = if align == Align::Left {
            corner.x
        } else {
            corner.right()
        };
        return Area::new(x, corner.y, 0, corner.h);
    }
    let most = corner.w.min(row.cap * 5).min(corner.w - 6);
    let widest = corner.w - 6;
    // A very long symbol may take more of its row rather than lose its end.
    let kind = fit(chord, most, corner.h - 2, row.cap)
        .or_else(|| fit(chord, widest, corner.h - 2, row.cap))
        .unwrap_or(Type::Small);
    let wide = kind.width(chord).min(widest) + 6;
    let x = if align == Align::Left {
        corner.x
    } else {
        corner.right() - wide
    };
    let tab = Area::new(x, corner.y, wide, corner.h);
    draw_in(bitmap, chord, tab.inset(3, 1), kind, Align::Middle, true);
    if inverted {
        bitmap.invert(tab);
    }
    tab
}

fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Listen => "listen",
        Phase::Sing => "sing",
        Phase::Play => "play",
        Phase::Breathe => "breathe",
    }
}

/// Joins the parts that fit, in order; at least the first, shortened if need be when it is drawn.
fn fitting(parts: &[String], kind: Type, w: i32) -> String {
    let mut line = String::new();
    for part in parts.iter().filter(|part| !part.is_empty()) {
        let longer = if line.is_empty() {
            part.clone()
        } else {
            format!("{line} {part}")
        };
        if !line.is_empty() && kind.width(&longer) > w {
            break;
        }
        line = longer;
    }
    line
}

fn place_parts(page: &PracticePage) -> Vec<String> {
    vec![
        page.section.clone(),
        format!("bar {}", page.bar),
        format!("♩={}", page.tempo_qpm),
    ]
}

/// States first, then a teacher's note, else what is asked of the player. Playing is the usual thing and goes without saying.
fn second_line(page: &PracticePage, kind: Type, w: i32) -> String {
    if !page.states.is_empty() {
        return page.states.join(" ");
    }
    if !page.note.is_empty() {
        return page.note.clone();
    }
    match page.phase {
        Phase::Play => page.stage.clone(),
        other => fitting(
            &[phase_word(other).to_string(), page.stage.clone()],
            kind,
            w,
        ),
    }
}

/// Two short lines of small print; what is armed inverted.
fn draw_status_block(bitmap: &mut Bitmap, page: &PracticePage, area: Area, align: Align) {
    let (first, second) = match &page.armed {
        Some(ArmedLine { what, when }) => (what.clone(), when.clone()),
        None => (
            fitting(&place_parts(page), Type::Small, area.w),
            second_line(page, Type::Small, area.w),
        ),
    };
    let upper = Area::new(area.x, area.y - 1, area.w, 8);
    let lower = Area::new(area.x, area.y + 7, area.w, 8);
    draw_in(bitmap, &first, upper, Type::Small, align, true);
    draw_in(bitmap, &second, lower, Type::Small, align, true);
    if page.armed.is_some() {
        bitmap.invert(area);
    }
}

/// One line: the armed action, else section, bar, phase, stage, tempo.
fn draw_status_line(bitmap: &mut Bitmap, page: &PracticePage, area: Area, kind: Type) {
    if let Some(armed) = &page.armed {
        let text = format!("{} {}", armed.what, armed.when);
        draw_fit(
            bitmap,
            &text,
            area.inset(2, 0),
            kind.cap(),
            Align::Left,
            true,
        );
        bitmap.invert(area);
        return;
    }
    let mut parts = place_parts(page);
    let tempo = parts.pop().unwrap_or_default();
    parts.push(second_line(page, kind, area.w));
    parts.push(tempo);
    let text = fitting(&parts, kind, area.w);
    draw_in(bitmap, &text, area, kind, Align::Left, true);
}
