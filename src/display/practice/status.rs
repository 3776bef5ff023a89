//! What to do, section, bar, stage and tempo in small print; what is armed in their place.

use super::super::bitmap::{Area, Bitmap};
use super::super::glyphs::{Align, Type, draw_fit, draw_in, wrap};
use super::super::page::{PracticePage, tempo_parts};

/// Joins the parts that fit, in order; none is cut.
fn fitting(parts: &[String], kind: Type, w: i32) -> String {
    let mut line = String::new();
    for part in parts.iter().filter(|part| !part.is_empty()) {
        let longer = match line.as_str() {
            "" => part.clone(),
            line => format!("{line} {part}"),
        };
        if kind.width(&longer) <= w {
            line = longer;
        }
    }
    line
}

/// A text without what it says in brackets, where it has any.
fn without_brackets(text: &str) -> Option<String> {
    let (before, rest) = text.split_once(" (")?;
    let (_, after) = rest.split_once(')')?;
    Some(format!("{before}{after}"))
}

/// What to do in words, the fullest first.
fn told(task: &[String], then: &[String]) -> Vec<String> {
    let shorter = |parts: &[String]| -> Vec<String> {
        (1..=parts.len())
            .rev()
            .map(|count| parts[..count].join(" "))
            .collect()
    };
    let (now, later) = (shorter(task), shorter(then));
    // What was to be done is done; only what comes is told.
    if now.is_empty() {
        let all = later.first().map(|all| format!("then {all}"));
        return all.into_iter().chain(later).collect();
    }
    let (Some(full), Some(verb)) = (now.first(), now.last()) else {
        return Vec::new();
    };
    // What is done now has been told all along: it gives way to what comes.
    let Some(all) = later.first() else {
        return now;
    };
    // A verb that stays need not be said again.
    let verbs = task.iter().take(1).eq(then.iter().take(1));
    let only_parts = then.get(1..).filter(|parts| verbs && !parts.is_empty());
    if let Some(parts) = only_parts {
        let parts = shorter(parts);
        let mut told = vec![format!("{full}, then {}", parts[0])];
        told.extend(parts.iter().map(|part| format!("{verb}, then {part}")));
        return told;
    }
    let mut told = vec![format!("{full}, then {all}")];
    told.extend(without_brackets(all).map(|all| format!("{verb}, then {all}")));
    told.extend(later.iter().map(|later| format!("{verb}, then {later}")));
    told
}

/// Whether a text stands in lines of `w` columns without a broken word.
fn unbroken(text: &str, kind: Type, w: i32, most: usize) -> Option<Vec<String>> {
    let fits = |w: i32| text.split_whitespace().all(|word| kind.width(word) <= w);
    // A beat that begins a line would be read as a count.
    let begins_with_a_beat = |line: &String| line.starts_with(|c: char| c.is_ascii_digit());
    let widths = (0..=w).rev().take_while(|w| fits(*w));
    let mut wrapped = widths.map(|w| wrap(text, kind, w));
    let lines =
        wrapped.find(|lines| lines.len() > most || !lines.iter().any(begins_with_a_beat))?;
    (lines.len() <= most).then_some(lines)
}

/// What to do in at most `most` lines of `w` columns, as full as it goes; nothing where not even the verb fits.
pub(super) fn task_lines(page: &PracticePage, kind: Type, w: i32, most: usize) -> Vec<String> {
    let told = told(&page.task, &page.then);
    let mut fitting = told.iter().filter_map(|text| unbroken(text, kind, w, most));
    fitting.next().unwrap_or_default()
}

/// Whether `w` columns hold all that is to be told of what to do.
pub(super) fn holds_task(page: &PracticePage, kind: Type, w: i32, most: usize) -> bool {
    let told = told(&page.task, &page.then);
    told.first()
        .is_none_or(|text| unbroken(text, kind, w, most).is_some())
}

/// The stage by its name, or by its call where the name has no room.
fn stage(page: &PracticePage, kind: Type, w: i32) -> String {
    let names = [&page.stage, &page.call];
    let fitting = names.into_iter().find(|name| kind.width(name) <= w);
    fitting.cloned().unwrap_or_default()
}

/// States first, else section, bar or count, tempo.
fn place_parts(page: &PracticePage) -> Vec<String> {
    if !page.states.is_empty() {
        return vec![page.states.join(" ")];
    }
    let within = match (page.count, page.bar) {
        (Some(_), _) => "count-in".to_string(),
        (None, 0) => String::new(),
        (None, bar) => format!("bar {bar}"),
    };
    let mut parts = vec![page.section.clone(), within];
    parts.extend(tempo_parts(page.tempo_qpm, page.dotted_qpm));
    parts
}

/// Columns that the block needs: for what is armed, or for all that is to be told of what to do.
pub(super) fn block_columns(page: &PracticePage) -> i32 {
    match &page.armed {
        Some(armed) => {
            let lines = [&armed.what, &armed.when];
            let widest = lines.map(|line| Type::Small.width(line)).into_iter().max();
            widest.unwrap_or(0) + 1
        }
        None => (0..160)
            .step_by(5)
            .find(|w| holds_task(page, Type::Small, *w, 2))
            .unwrap_or(0),
    }
}

/// Two short lines of small print: what to do, then where; the `distance` before that where it has no other place. What is armed stands in
/// their place, inverted.
pub(super) fn draw_block(bitmap: &mut Bitmap, page: &PracticePage, area: Area, distance: &str) {
    let most = (area.h.max(0) / 7) as usize;
    let mut lines = match &page.armed {
        Some(armed) => vec![armed.what.clone(), armed.when.clone()],
        None => task_lines(page, Type::Small, area.w, most),
    };
    if lines.len() < most {
        let mut parts = vec![distance.to_string()];
        parts.extend(place_parts(page));
        lines.push(fitting(&parts, Type::Small, area.w));
    }
    let rows = Area::new(area.x, area.y - 1, area.w, area.h);
    draw_rows(bitmap, &lines, rows, Type::Small, Align::Right);
    if page.armed.is_some() {
        bitmap.invert(area);
    }
}

/// Lines one below the other from the top.
pub(super) fn draw_rows(
    bitmap: &mut Bitmap,
    lines: &[String],
    area: Area,
    kind: Type,
    align: Align,
) {
    for (place, line) in lines.iter().enumerate() {
        let row = Area::new(
            area.x,
            area.y + kind.line() * place as i32,
            area.w,
            kind.line(),
        );
        draw_in(bitmap, line, row, kind, align, true);
    }
}

/// The lower left corner while what comes after has no set there: the distance, then a teacher's note or the stage.
pub(super) fn draw_lower(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    area: Area,
    distance: &str,
    kind: Type,
) {
    let most = (area.h / kind.line() - i32::from(!distance.is_empty())).max(0) as usize;
    let note = unbroken(&page.note, kind, area.w, most).filter(|lines| !lines.is_empty());
    let named = || vec![stage(page, kind, area.w)];
    let mut lines = vec![distance.to_string()];
    lines.extend(note.unwrap_or_else(named));
    lines.retain(|line| !line.is_empty());
    lines.truncate((area.h / kind.line()).max(0) as usize);
    let top = area.bottom() - kind.line() * lines.len() as i32;
    for (place, line) in lines.iter().take(most + 1).enumerate() {
        let row = Area::new(
            area.x,
            top + kind.line() * place as i32,
            area.w,
            kind.line(),
        );
        draw_in(bitmap, line, row, kind, Align::Left, true);
    }
}

/// One line: the armed action, else what to do where it is not told elsewhere, section, bar, stage, tempo, as far as they fit.
pub(super) fn draw_line(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    area: Area,
    kind: Type,
    told: bool,
) {
    if let Some(armed) = &page.armed {
        let text = format!("{} {}", armed.what, armed.when);
        let within = area.inset(2, 0);
        draw_fit(bitmap, &text, within, kind.cap(), Align::Left, true);
        bitmap.invert(area);
        return;
    }
    let mut parts = match told {
        true => Vec::new(),
        false => task_lines(page, kind, area.w, 1),
    };
    let states = place_parts(page);
    let (where_to, others) = states.split_at(states.len().min(2));
    parts.extend(where_to.iter().cloned());
    let gap = kind.width("  ");
    let left = area.w - kind.width(&fitting(&parts, kind, area.w)) - gap;
    let note = Some(page.note.clone()).filter(|note| !note.is_empty() && kind.width(note) <= left);
    parts.push(note.unwrap_or_else(|| stage(page, kind, left)));
    parts.extend(others.iter().cloned());
    let text = fitting(&parts, kind, area.w);
    draw_in(bitmap, &text, area, kind, Align::Left, true);
}
