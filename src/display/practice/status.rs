//! Section, bar, stage and tempo in small print; what is armed in their place.

use super::super::bitmap::{Area, Bitmap};
use super::super::glyphs::{Align, Type, draw_fit, draw_in, shorten};
use super::super::page::{PracticePage, tempo_parts};
use crate::drill::Phase;

/// A text that must be shortened is worth its place from so many letters on.
const LEAST_LETTERS: i32 = 10;

fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Listen => "listen",
        Phase::Sing => "sing",
        Phase::Play => "play",
        Phase::Breathe => "break",
    }
}

/// Joins the parts that fit, in order; at least the first, shortened if need be when it is drawn.
fn fitting(parts: &[String], kind: Type, w: i32) -> String {
    let mut line = String::new();
    for part in parts.iter().filter(|part| !part.is_empty()) {
        let longer = match line.as_str() {
            "" => part.clone(),
            line => format!("{line} {part}"),
        };
        if line.is_empty() || kind.width(&longer) <= w {
            line = longer;
        }
    }
    line
}

/// Section, and bar or count where there is one.
fn place_parts(page: &PracticePage) -> Vec<String> {
    let within = match (page.count, page.bar) {
        (Some(_), _) => "count-in".to_string(),
        (None, 0) => String::new(),
        (None, bar) => format!("bar {bar}"),
    };
    vec![page.section.clone(), within]
}

fn tempo(page: &PracticePage) -> Vec<String> {
    tempo_parts(page.tempo_qpm, page.dotted_qpm)
}

/// States first, then a teacher's note, else what is asked of the player. Playing is the usual thing and goes without
/// saying. What does not fit is shortened, a note only where enough is left of it.
fn second_line(page: &PracticePage, kind: Type, w: i32) -> String {
    if !page.states.is_empty() {
        return page.states.join(" ");
    }
    let is_worth = |text: &str| kind.width(text) <= w || w >= LEAST_LETTERS * kind.width("n");
    if !page.note.is_empty() && is_worth(&page.note) {
        return shorten(&page.note, kind, w);
    }
    let phase = match page.phase {
        Phase::Play => String::new(),
        other => phase_word(other).to_string(),
    };
    let parts = [phase, page.places.clone(), page.stage.clone()];
    shorten(&fitting(&parts, kind, w), kind, w)
}

/// Columns that what is armed needs in the block.
pub(super) fn armed_columns(page: &PracticePage) -> i32 {
    page.armed.as_ref().map_or(0, |armed| {
        let lines = [&armed.what, &armed.when];
        let widest = lines.map(|line| Type::Small.width(line)).into_iter().max();
        widest.unwrap_or(0) + 1
    })
}

/// Columns that what must be read whole needs in the block: what is armed, what is amiss, where the notes fall.
pub(super) fn needed_columns(page: &PracticePage) -> i32 {
    let states = page.states.join(" ");
    let told = if states.is_empty() {
        &page.places
    } else {
        &states
    };
    armed_columns(page).max(Type::Small.width(told))
}

/// Two short lines of small print, the `distance` before them where it has no other place; what is armed inverted.
pub(super) fn draw_block(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    area: Area,
    align: Align,
    distance: &str,
) {
    let (first, second) = match &page.armed {
        Some(armed) => (armed.what.clone(), armed.when.clone()),
        None => {
            let mut parts = vec![distance.to_string()];
            parts.extend(place_parts(page));
            parts.extend(tempo(page));
            // In a narrow block nothing is better than half a word.
            parts.retain(|part| Type::Small.width(part) <= area.w);
            let first = fitting(&parts, Type::Small, area.w);
            (first, second_line(page, Type::Small, area.w))
        }
    };
    let upper = Area::new(area.x, area.y - 1, area.w, 8);
    let lower = Area::new(area.x, area.y + 7, area.w, 8);
    draw_in(bitmap, &first, upper, Type::Small, align, true);
    draw_in(bitmap, &second, lower, Type::Small, align, true);
    if page.armed.is_some() {
        bitmap.invert(area);
    }
}

/// One line: the armed action, else section, bar, phase, stage, tempo; the stage or a note takes what the others
/// leave.
pub(super) fn draw_line(bitmap: &mut Bitmap, page: &PracticePage, area: Area, kind: Type) {
    if let Some(armed) = &page.armed {
        let text = format!("{} {}", armed.what, armed.when);
        let within = area.inset(2, 0);
        draw_fit(bitmap, &text, within, kind.cap(), Align::Left, true);
        bitmap.invert(area);
        return;
    }
    let place = fitting(&place_parts(page), kind, area.w);
    let mut parts = vec![place.clone()];
    let mut tempo = tempo(page);
    let others = |tempo: &[String]| kind.width(&format!("{place}  {}", tempo.join(" "))) + 4;
    // Quarters give way where dotted quarters are counted.
    if area.w - others(&tempo) < LEAST_LETTERS * kind.width("n") {
        tempo.truncate(1);
    }
    parts.push(second_line(page, kind, area.w - others(&tempo)));
    parts.extend(tempo);
    let text = fitting(&parts, kind, area.w);
    draw_in(bitmap, &text, area, kind, Align::Left, true);
}
