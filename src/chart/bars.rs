//! The syntax of one bar: `Gm6`, `Abmaj7 Gm6`, `Ebmaj7 / D7#9 /`, `[["Gm6", 2.5], ["F7", 1.5]]`.

use super::model::{Cell, Unread};
use crate::fault::{Reader, Text, number_of};
use crate::harmony::{Harmony, SymbolError};
use crate::time::{Meter, Tick};
use serde_spanned::Spanned;
use toml::de::DeValue;

/// The most chords a bar can hold.
const MAX_CHORDS: usize = 32;
/// How far lengths in beats may be from the bar, in beats: thirds are written with three digits.
const SUM_TOLERANCE_BEATS: f64 = 0.005;

/// A bar as it stands in the file.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum WrittenBar {
    /// `%`: the bar before, again.
    Repeat,
    Cells(Vec<Cell>),
}

/// A token of a bar: a chord symbol or a slash, with its byte offset in the bar's text.
type Token<'t> = (usize, &'t str);

/// Reads a bar of the given meter; `None` after a fault.
pub(super) fn read_bar(
    reader: &Reader<'_>,
    value: &Spanned<DeValue<'_>>,
    meter: Meter,
) -> Option<WrittenBar> {
    if reader.is_full() {
        return None;
    }
    match value.get_ref() {
        DeValue::String(text) => {
            let text = Text {
                value: text.as_ref(),
                span: value.span(),
            };
            read_text(reader, &text, meter)
        }
        DeValue::Array(pairs) => {
            let pairs: Vec<&Spanned<DeValue<'_>>> = pairs.iter().collect();
            read_exact(reader, value.span().start, &pairs, meter).map(WrittenBar::Cells)
        }
        other => {
            let found = other.type_str();
            reader.fault(
                value.span().start,
                format!(
                    "a bar is a string (such as \"Dm7 G7\") or a list of [symbol, beats], not {found}"
                ),
            );
            None
        }
    }
}

fn read_text(reader: &Reader<'_>, text: &Text<'_>, meter: Meter) -> Option<WrittenBar> {
    let tokens = tokens(text.value);
    if tokens.is_empty() {
        let rule = "an empty bar: write % to repeat the bar before, a / a beat to go on with its chord, or N.C.";
        reader.fault(text.span.start, rule);
        return None;
    }
    if tokens.len() > MAX_CHORDS {
        let rule = format!(
            "a bar has at most {MAX_CHORDS} chords, not {}",
            tokens.len()
        );
        reader.fault(text.span.start, rule);
        return None;
    }
    if let [(_, "%")] = tokens[..] {
        return Some(WrittenBar::Repeat);
    }
    // "no chord" is two words but one symbol.
    let slashed = tokens.iter().any(|(_, token)| *token == "/");
    if tokens.len() > 1 && !slashed && text.value.parse() == Ok(Harmony::Silence) {
        let cell = cell(Tick(0), meter.bar_ticks(), Some(Symbol::silence()));
        return Some(WrittenBar::Cells(vec![cell]));
    }
    for (at, token) in &tokens {
        let rule = match *token {
            "%" => "% repeats a whole bar and stands alone in it",
            "|" => "each bar is a string of its own: \"Dm7 G7\", \"Cmaj7\", not \"Dm7 G7 | Cmaj7\"",
            _ => continue,
        };
        reader.fault(text.offset(*at), rule);
        return None;
    }
    let lengths = lengths(&tokens, meter)
        .map_err(|rule| reader.fault(text.span.start, rule))
        .ok();
    // The symbols are read even if their lengths are wrong, so that every fault is told at once.
    let symbols: Vec<Option<Symbol>> = tokens
        .iter()
        .filter(|(_, token)| *token != "/")
        .map(|(at, token)| symbol(reader, text, *at, token))
        .collect();
    let lengths = lengths?;
    let mut symbols = symbols.into_iter();
    // As many as there are: a long chart has ten thousand bars.
    let count = tokens.iter().filter(|(_, token)| *token != "/").count();
    let mut cells: Vec<Cell> = Vec::with_capacity(count);
    let mut at = Tick(0);
    for ((_, token), len) in tokens.iter().zip(lengths) {
        match (*token, cells.last_mut()) {
            ("/", Some(last)) => last.len += len,
            ("/", None) => cells.push(cell(at, len, None)),
            _ => cells.push(cell(at, len, Some(symbols.next()??))),
        }
        at += len;
    }
    Some(WrittenBar::Cells(cells))
}

/// A chord symbol, read; or passed over by a tolerant reader, and then silence.
struct Symbol {
    harmony: Harmony,
    unread: Option<Box<Unread>>,
}

impl Symbol {
    fn silence() -> Symbol {
        Symbol {
            harmony: Harmony::Silence,
            unread: None,
        }
    }
}

fn cell(at: Tick, len: Tick, symbol: Option<Symbol>) -> Cell {
    let (harmony, unread) = match symbol {
        Some(Symbol { harmony, unread }) => (Some(harmony), unread),
        None => (None, None),
    };
    Cell {
        at,
        len,
        harmony,
        hint: None,
        unread,
    }
}

/// Splits at white space, but not inside parentheses.
fn tokens(text: &str) -> Vec<Token<'_>> {
    let mut tokens = Vec::new();
    let mut start = None;
    let mut depth = 0usize;
    for (at, sign) in text.char_indices() {
        match sign {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            _ => {}
        }
        if sign.is_whitespace() && depth == 0 {
            if let Some(from) = start.take() {
                tokens.push((from, &text[from..at]));
            }
        } else if start.is_none() && !sign.is_whitespace() {
            start = Some(at);
        }
    }
    if let Some(from) = start {
        tokens.push((from, text[from..].trim_end()));
    }
    tokens
}

/// How long each token lasts.
fn lengths(tokens: &[Token<'_>], meter: Meter) -> Result<Vec<Tick>, String> {
    let (count, beats) = (tokens.len(), usize::from(meter.beats()));
    if tokens.iter().any(|(_, token)| *token == "/") && count != beats {
        return Err(format!(
            "with slashes a bar has one chord or / a beat: {beats} in {meter}, not {count}"
        ));
    }
    if count == beats {
        return Ok(vec![meter.beat_ticks(); count]);
    }
    if count == 1 || (count == 2 && beats.is_multiple_of(2)) {
        return Ok(vec![Tick(meter.bar_ticks().0 / count as i64); count]);
    }
    let chords: Vec<&str> = tokens.iter().map(|(_, token)| *token).collect();
    if count > beats {
        return Err(format!(
            "{count} chords are more than the {beats} beats of {meter}: give each its beats, as in \
             [[\"Dm7\", 0.5], [\"G7\", {}]]",
            f64::from(meter.beats()) - 0.5
        ));
    }
    let slashes = " /".repeat(beats - count);
    Err(format!(
        "{count} chords do not share the {beats} beats of {meter} evenly: write a / for each beat a chord \
         goes on, such as \"{}{slashes}\"",
        chords.join(" ")
    ))
}

/// Reads a symbol that stands at byte `at` of the text.
fn symbol(reader: &Reader<'_>, text: &Text<'_>, at: usize, token: &str) -> Option<Symbol> {
    let error: SymbolError = match token.parse() {
        Ok(harmony) => {
            return Some(Symbol {
                harmony,
                unread: None,
            });
        }
        Err(error) => error,
    };
    if reader.is_tolerant() {
        let text = token.to_string();
        return Some(Symbol {
            unread: Some(Box::new(Unread { text, error })),
            ..Symbol::silence()
        });
    }
    let inside = token
        .char_indices()
        .nth(error.column.saturating_sub(1))
        .map_or(token.len(), |(byte, _)| byte);
    let rule = format!("\"{token}\" is no chord symbol: {error}");
    reader.fault(text.offset(at + inside), rule);
    None
}

/// Reads the exact form, `[[symbol, beats], ...]`.
fn read_exact(
    reader: &Reader<'_>,
    offset: usize,
    pairs: &[&Spanned<DeValue<'_>>],
    meter: Meter,
) -> Option<Vec<Cell>> {
    if pairs.is_empty() || pairs.len() > MAX_CHORDS {
        reader.fault(
            offset,
            format!(
                "a bar has 1 to {MAX_CHORDS} chords as [symbol, beats], not {}",
                pairs.len()
            ),
        );
        return None;
    }
    let read: Vec<_> = pairs
        .iter()
        .enumerate()
        .map(|(index, pair)| read_pair(reader, pair, index == 0))
        .collect();
    let read: Vec<(Option<Symbol>, f64)> = read.into_iter().collect::<Option<_>>()?;
    let beats: Vec<f64> = read.iter().map(|(_, beats)| *beats).collect();
    let sum: f64 = beats.iter().sum();
    if !fills(sum, meter) {
        reader.fault(
            offset,
            format!(
                "the chords last {} beats, but a bar of {meter} has {}",
                rounded(sum),
                meter.beats()
            ),
        );
        return None;
    }
    let Some(ends) = ends(&beats, meter) else {
        reader.fault(offset, "a chord of this bar is too short to be played");
        return None;
    };
    let mut at = Tick(0);
    let cells = read.into_iter().zip(ends).map(|((symbol, _), end)| {
        let start = std::mem::replace(&mut at, end);
        cell(start, end - start, symbol)
    });
    Some(cells.collect())
}

/// Whether lengths of this sum, in beats, fill a bar.
fn fills(sum: f64, meter: Meter) -> bool {
    (sum - f64::from(meter.beats())).abs() <= SUM_TOLERANCE_BEATS
}

/// Where each of some lengths in beats ends, in ticks, drawn out to fill the bar; `None` if they are too far from
/// it, or one is too short to be heard.
pub(super) fn ends(beats: &[f64], meter: Meter) -> Option<Vec<Tick>> {
    let whole = f64::from(meter.beats());
    let sum: f64 = beats.iter().sum();
    if !fills(sum, meter) {
        return None;
    }
    let mut gone = 0.0;
    let mut before = Tick(0);
    beats
        .iter()
        .map(|one| {
            gone += one * whole / sum;
            let end = Tick((gone * meter.beat_ticks().0 as f64).round() as i64);
            let heard = end > before;
            before = end;
            heard.then_some(end)
        })
        .collect()
}

/// A number of beats without the dust of binary fractions.
fn rounded(beats: f64) -> f64 {
    (beats * 1000.0).round() / 1000.0
}

/// Reads one `[symbol, beats]`; a first `/` goes on with the chord before.
fn read_pair(
    reader: &Reader<'_>,
    pair: &Spanned<DeValue<'_>>,
    first: bool,
) -> Option<(Option<Symbol>, f64)> {
    let wrong = |offset: usize| {
        let rule =
            "a chord with its beats is written [\"Gm6\", 2.5]: a symbol, then a number above 0";
        reader.fault(offset, rule);
    };
    let parts: Vec<_> = pair.get_ref().as_array().into_iter().flatten().collect();
    let [name, beats] = parts[..] else {
        wrong(pair.span().start);
        return None;
    };
    let symbol = match name.get_ref() {
        DeValue::String(text) if first && text.trim() == "/" => Some(None),
        DeValue::String(text) => {
            let text = Text {
                value: text.as_ref(),
                span: name.span(),
            };
            let at = text.value.len() - text.value.trim_start().len();
            symbol(reader, &text, at, text.value.trim()).map(Some)
        }
        _ => {
            wrong(name.span().start);
            None
        }
    };
    let beats = match number_of(beats.get_ref()) {
        Some(number) if number > 0.0 && number <= 32.0 => Some(number),
        _ => {
            wrong(beats.span().start);
            None
        }
    };
    Some((symbol?, beats?))
}
