//! What is told of a file that makes a chart, or does not.

use crate::chart::Chart;
use crate::fault::printable;
use std::collections::HashMap;
use std::fmt;

/// A chart made of another program's file, with everything that could not be taken over.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The chart, its melody in it.
    pub chart: Chart,
    /// What could not be read or had to be guessed, in the order of the file.
    pub warnings: Vec<Warning>,
}

/// Something in a file that could not be taken over as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// The bar as its file labels it; `None`: the whole file.
    pub bar: Option<String>,
    /// What is the matter, and what was done instead.
    pub what: String,
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let clean = printable;
        match &self.bar {
            Some(bar) => write!(f, "bar {}: {}", clean(bar), clean(&self.what)),
            None => f.write_str(&clean(&self.what)),
        }
    }
}

/// Why a file of another program is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ImportError(pub String);

/// The most warnings that are kept: beyond, the file is not worth mending by hand.
const MAX_WARNINGS: usize = 500;
/// The longest piece of a file that a message quotes, in characters.
const MAX_QUOTE: usize = 60;

/// Collects warnings.
#[derive(Debug, Default)]
pub(in crate::sheet) struct Warnings {
    list: Vec<Warning>,
    dropped: usize,
}

impl Warnings {
    /// A warning about one bar.
    pub(in crate::sheet) fn at(&mut self, bar: &str, what: impl Into<String>) {
        self.push(Some(short(bar)), what.into());
    }

    /// A warning about the whole file.
    pub(in crate::sheet) fn whole(&mut self, what: impl Into<String>) {
        self.push(None, what.into());
    }

    fn push(&mut self, bar: Option<String>, what: String) {
        if self.list.len() < MAX_WARNINGS {
            let warning = Warning { bar, what };
            if self.list.last() != Some(&warning) {
                self.list.push(warning);
            }
        } else {
            self.dropped += 1;
        }
    }

    /// All warnings in the order of the file, whose bars have these labels.
    pub(super) fn into_list(mut self, labels: &[String]) -> Vec<Warning> {
        let mut places: HashMap<&str, usize> = HashMap::new();
        for (place, label) in labels.iter().enumerate() {
            places.entry(label).or_insert(place + 1);
        }
        self.list.sort_by_key(|one| {
            let bar = one.bar.as_deref();
            bar.map_or(0, |bar| places.get(bar).copied().unwrap_or(usize::MAX))
        });
        if self.dropped > 0 {
            let what = format!("{} more warnings are not listed", self.dropped);
            self.list.push(Warning { bar: None, what });
        }
        self.list
    }
}

/// A text of a file, short enough to be quoted.
pub(in crate::sheet) fn short(text: &str) -> String {
    let text = text.trim();
    match text.char_indices().nth(MAX_QUOTE) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text.to_string(),
    }
}
