//! A line with bars in it.

use super::draft::Draft;
use super::labels::{self, is_hold};
use crate::time::Meter;
use std::ops::Range;

/// Whether a line has a bar line.
pub(super) fn has_bars(line: &str) -> bool {
    line.contains(['|', '\u{2016}', '\u{1d106}', '\u{1d107}'])
}

/// Bar lines that stand together: where, and whether a repeat ends or begins with them.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Lines {
    at: Range<usize>,
    closes: bool,
    opens: bool,
}

fn is_line(sign: char) -> bool {
    matches!(sign, '|' | '\u{2016}' | '\u{1d106}' | '\u{1d107}')
}

/// The bar lines of a line in their order.
fn lines(line: &str) -> Vec<Lines> {
    let mut found: Vec<Lines> = Vec::new();
    let mut at = 0;
    while let Some(next) = line[at..].find(is_line) {
        let first = at + next;
        let mut start = first;
        // A colon before it, perhaps with room between.
        let before = line[at..first].trim_end();
        if before.ends_with(':') {
            start = at + before.len() - 1;
        }
        let mut end = first;
        for sign in line[first..].chars() {
            if !(is_line(sign) || matches!(sign, ':' | ']')) {
                break;
            }
            end += sign.len_utf8();
        }
        let signs = &line[start..end];
        let last = signs.rfind(is_line).unwrap_or(0);
        let from_first = signs.find(is_line).unwrap_or(0);
        found.push(Lines {
            at: start..end,
            closes: signs[..from_first].contains(':')
                || signs.contains('\u{1d107}')
                || signs[from_first..last].contains(':'),
            opens: signs[last..].contains(':') || signs.contains('\u{1d106}'),
        });
        at = end;
    }
    found
}

/// Reads a line that begins at byte `at`.
pub(super) fn read(draft: &mut Draft<'_, '_>, at: usize, line: &str) {
    let mut lines = lines(line);
    let Some(first) = lines.first_mut() else {
        return;
    };
    let mut before = &line[..first.at.start];
    // "A:|" is a name before a bar; "C :|" is a bar before a repeat.
    let colon = line[first.at.start..].starts_with(':');
    if colon && !before.is_empty() && !before.ends_with(char::is_whitespace) {
        let named = labels::is_letter(before.trim()) || !labels::are_chords(before);
        first.closes &= !named;
        if named {
            before = &line[..=first.at.start];
        }
    }
    let closed = line.ends_with(|sign| is_line(sign) || sign == ']');
    let may_be_letter = closed && !first.closes;
    begin(draft, at, before, may_be_letter);
    for (index, here) in lines.iter().enumerate() {
        if here.closes {
            draft.close_repeat();
        }
        if here.opens {
            draft.open_repeat();
        }
        let next = lines.get(index + 1);
        let end = next.map_or(line.len(), |next| next.at.start);
        let inside = &line[here.at.end..end];
        let start = at + here.at.end;
        if inside.trim().is_empty() {
            let plain = next.is_some_and(|next| !(here.closes || here.opens || next.opens));
            if plain && !inside.is_empty() {
                draft.push_bar(start, "%".to_string());
            }
        } else if let Some(times) = times(inside.trim()) {
            draft.repeat(start, times);
        } else if labels::is_jump(inside) {
            draft.refuse_jump(start + inside.len() - inside.trim_start().len());
        } else {
            bar(draft, start, inside, true);
        }
    }
}

/// What stands before the first bar line: the name of a section, a bar, or one after the other.
fn begin(draft: &mut Draft<'_, '_>, at: usize, before: &str, may_be_letter: bool) {
    let text = before.trim();
    if text.is_empty() {
        return;
    }
    let at = at + before.len() - before.trim_start().len();
    if let Some((name, rest)) = labels::marked(text) {
        draft.begin_section(at, name);
        return bar(draft, at + rest, &text[rest..], false);
    }
    if may_be_letter && labels::is_letter(text) && draft.expects(text) {
        return draft.begin_section(at, text);
    }
    let name = labels::label(text).or_else(|| plain_name(text));
    match name.filter(|_| !labels::are_chords(text)) {
        Some(name) => draft.begin_section(at, name),
        None => bar(draft, at, text, false),
    }
}

/// A name of several words that is no chord: it has no sign that a chord would have.
fn plain_name(text: &str) -> Option<&str> {
    let is_word = |word: &str| word.len() > 2 && word.chars().all(char::is_alphabetic);
    let first = text.split_whitespace().next()?;
    (is_word(first) && !labels::are_chords(first)).then_some(text)
}

/// Reads a bar with what may stand at its beginning: the number of an ending, a time.
fn bar(draft: &mut Draft<'_, '_>, at: usize, text: &str, after_line: bool) {
    let mut rest = text;
    if let Some((passes, len)) = ending(rest, after_line) {
        draft.begin_ending(at, passes);
        rest = &rest[len..];
    }
    let trimmed = rest.trim_start();
    let word = trimmed.split_whitespace().next().unwrap_or_default();
    let bare = word.trim_matches(['(', ')']);
    let is_time = bare.starts_with(|sign: char| sign.is_ascii_digit()) && bare.contains('/');
    if let Some(meter) = bare.parse::<Meter>().ok().filter(|_| is_time) {
        draft.set_meter(meter);
        rest = &trimmed[word.len()..];
    }
    let from = text.len() - rest.len();
    let (from, body) = (from + rest.len() - rest.trim_start().len(), rest.trim());
    if !body.is_empty() {
        draft.push_bar(at + from, plain(body));
    } else if rest.len() < text.len() && after_line {
        draft.push_bar(at + from, "%".to_string());
    }
}

/// The passes of an ending and how many bytes tell them: "1.", "[1", "1,3.", "2nd".
fn ending(text: &str, after_line: bool) -> Option<(Vec<u32>, usize)> {
    let lead = text.len() - text.trim_start().len();
    let attached = lead == 0 && after_line;
    let body = text.trim_start();
    let (bracket, body) = match body.strip_prefix('[') {
        Some(rest) => (1, rest),
        None => (0, body),
    };
    let len = body.find(|sign: char| !(sign.is_ascii_digit() || ",-&".contains(sign)))?;
    let (numbers, after) = body.split_at(len);
    let passes = passes(numbers)?;
    let sign = ["st", "nd", "rd", "th", "."]
        .iter()
        .find(|sign| after.starts_with(**sign));
    let sign = sign.map_or(0, |sign| sign.len());
    let more = after[sign..].starts_with([')', ':', '.', ']']) as usize;
    let told = sign + more > 0 || bracket > 0 || attached && after.starts_with(' ');
    (told && !after.starts_with('/')).then_some((passes, lead + bracket + len + sign + more))
}

fn passes(text: &str) -> Option<Vec<u32>> {
    let mut passes = Vec::new();
    for part in text.split([',', '&']) {
        let (from, to) = part.split_once('-').unwrap_or((part, part));
        let (from, to) = (from.parse::<u32>().ok()?, to.parse::<u32>().ok()?);
        if !(1..=99).contains(&from) || !(from..=99).contains(&to) {
            return None;
        }
        passes.extend(from..=to);
    }
    Some(passes)
}

/// How often something is played: "x3", "(3x)", "3 times".
fn times(text: &str) -> Option<u32> {
    let text = text
        .trim_matches(['(', ')'])
        .to_lowercase()
        .replace(['\u{d7}', ' '], "x");
    let number = text
        .strip_suffix("xtimes")
        .or_else(|| text.strip_suffix("times"));
    let number = number
        .or_else(|| text.strip_prefix('x'))
        .or_else(|| text.strip_suffix('x'));
    number?.trim_matches('x').parse().ok()
}

/// A bar in the words of the chart file, every sign where it was.
fn plain(body: &str) -> String {
    let mut depth = 0;
    let mut out = String::with_capacity(body.len());
    for sign in body.chars() {
        match sign {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        out.push(if depth <= 0 && sign == ',' { ' ' } else { sign });
    }
    let words: Vec<&str> = out.split_whitespace().collect();
    let alone = words.len() == 1;
    if alone
        && (is_hold(words[0])
            || matches!(
                words[0],
                "./." | ".//." | "//" | "x" | "\u{1d10e}" | "sim." | "simile"
            ))
    {
        return padded("%", out.len());
    }
    let mut plain = String::with_capacity(out.len());
    for piece in out.split_inclusive(char::is_whitespace) {
        let word = piece.trim_end();
        match is_hold(word) {
            true => plain.push_str(&padded("/", piece.len())),
            false => plain.push_str(piece),
        }
    }
    plain
}

fn padded(sign: &str, len: usize) -> String {
    format!("{sign:<len$}")
}
