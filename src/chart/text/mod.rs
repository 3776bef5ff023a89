//! Changes as every musician types them: bars between `|` signs, sections by their letters, headings where there are any.
//!
//! ```text
//! Ferry at Six
//! Key: G minor   Time: 4/4   Tempo: 112
//! Form: A A B A
//!
//! A: | Gm6 | Em7b5 | Ebmaj7 | Am7b5 D7b9 |
//! [B] |: Cm7 / F7 / | Bb6 | % :| x3
//! |1. Am7b5 D7 :|2. Gm6 |
//! ```
//!
//! The syntax of a bar is the chart file's. What people type besides: `.`, `-` or `_` for a beat that goes on; nothing, `./.` or
//! a lone `/` for the bar before; `,` between chords; repeats with `x3`, endings by number, `3/4` where the time changes. Where a
//! `Form:` is given it says the whole order, and a repeat around a whole section is not played on top of it.

mod bars_line;
mod draft;
mod heading;
mod labels;
mod order;
mod part;
mod write;

use super::model::Chart;
use super::toml::MAX_BYTES;
use crate::fault::{Faults, Reader, Source, is_obeyed};
use draft::Draft;

impl Chart {
    /// Reads changes as plain text. `fallback` is the title where the text has none.
    ///
    /// # Errors
    /// All faults of the text in its order, each with line, column and the rule.
    pub fn read_text(source: &Source<'_>, fallback: &str) -> Result<Chart, Faults> {
        if source.text.len() > MAX_BYTES {
            let rule = format!(
                "the text has {} bytes, a chart at most {MAX_BYTES}",
                source.text.len()
            );
            return Err(Faults(vec![source.fault(0, rule)]));
        }
        let reader = Reader::new(source);
        let is_obeyed =
            |(_, sign): &(usize, char)| is_obeyed(*sign) && !matches!(sign, '\n' | '\r');
        if let Some((at, _)) = source.text.char_indices().find(is_obeyed) {
            reader.fault(at, "a control character has no place in a text");
        }
        let mut draft = Draft::new(&reader);
        let mut at = 0;
        for line in source.text.split_inclusive(['\n', '\r']) {
            read_line(&mut draft, at, line.trim_end());
            at += line.len();
        }
        let chart = draft.into_chart(fallback);
        reader.conclude(chart)
    }
}

/// Reads a line that begins at byte `at`.
fn read_line(draft: &mut Draft<'_, '_>, at: usize, line: &str) {
    let trimmed = line.trim_start();
    let at = at + line.len() - trimmed.len();
    let is_remark = ["#", ";", "//"]
        .iter()
        .any(|sign| trimmed.starts_with(sign));
    if trimmed.is_empty() || is_remark || draft.reader.is_full() {
        return;
    }
    if bars_line::has_bars(trimmed) {
        return bars_line::read(draft, at, trimmed);
    }
    if heading::read(draft, at, trimmed) {
        return;
    }
    if let Some(name) = labels::label(trimmed) {
        return draft.begin_section(at, name);
    }
    if labels::is_jump(trimmed) {
        return draft.refuse_jump(at);
    }
    if labels::are_chords(trimmed) {
        let rule = format!(
            "bars are written between | signs, such as | {} |",
            trimmed.split_whitespace().collect::<Vec<_>>().join(" | ")
        );
        return draft.reader.fault(at, rule);
    }
    if draft.title.is_none() && !draft.has_begun() {
        draft.title = Some(trimmed.to_string());
        return;
    }
    let rule = format!(
        "\"{}\" is neither bars (| Dm7 | G7 |) nor a section (A:) nor a heading (Key: C)",
        labels::short(trimmed)
    );
    draft.reader.fault(at, rule);
}
