//! The order in which a text has its sections played.

use super::labels::short;
use crate::fault::{Reader, nearest_hint};

/// What a part of the text plays where it stands.
#[derive(Debug)]
pub(super) struct Turn {
    pub(super) label: Option<String>,
    pub(super) section: usize,
    pub(super) times: u32,
    /// Whether it goes on a section that was begun before.
    pub(super) goes_on: bool,
}

/// The order that a `Form:` says: names, or letters without room between.
pub(super) fn ordered(
    reader: &Reader<'_>,
    at: usize,
    text: &str,
    order: &[Turn],
) -> Option<Vec<usize>> {
    let parted = text.contains(',');
    let signs: &[char] = if parted { &[','] } else { &[' ', '\t', '-'] };
    let mut form = Vec::new();
    let mut from = 0;
    for piece in text.split_inclusive(signs) {
        let name = piece.trim_matches(signs).trim();
        let here = at + from;
        from += piece.len();
        if name.is_empty() {
            continue;
        }
        let letters: Vec<String> = name.chars().map(String::from).collect();
        let found = played(order, name).or_else(|| {
            let each: Option<Vec<Vec<usize>>> =
                letters.iter().map(|letter| played(order, letter)).collect();
            each.map(|each| each.concat())
        });
        match found {
            Some(sections) => form.extend(sections),
            None => {
                let known = order.iter().filter_map(|turn| turn.label.as_deref());
                let hint = nearest_hint(name, known);
                reader.fault(
                    here,
                    format!("there is no section \"{}\"{hint}", short(name)),
                );
            }
        }
    }
    (!reader.has_faults()).then_some(form)
}

/// The sections that a name plays: all parts of it, those that are repeated within it as often as it says.
fn played(order: &[Turn], name: &str) -> Option<Vec<usize>> {
    let is_it = |turn: &Turn| {
        let label = turn.label.as_deref();
        label.is_some_and(|label| label.eq_ignore_ascii_case(name))
    };
    let first = order.iter().position(is_it)?;
    let goes_on = |turn: &&Turn| turn.goes_on && is_it(turn);
    let more = order[first + 1..].iter().take_while(goes_on).count();
    let turns = &order[first..=first + more];
    let times = |turn: &Turn| if turns.len() == 1 { 1 } else { turn.times };
    let each = turns.iter().map(|turn| (turn.section, times(turn)));
    Some(each.flat_map(repeated).collect())
}

/// A section so many times.
pub(super) fn repeated((section, times): (usize, u32)) -> std::iter::RepeatN<usize> {
    std::iter::repeat_n(section, times as usize)
}
