//! Reading TOML with every fault at its place: wrong types, values out of range, missing and unknown keys.
//!
//! A [`Reader`] collects the faults, a [`TableView`] asks for keys and remembers which it was asked for;
//! [`TableView::finish`] reports the rest as unknown, with the nearest known key.

use super::reader::Reader;
use super::{Faults, Source, is_obeyed, nearest_hint};
use serde_spanned::Spanned;
use std::cell::RefCell;
use std::fmt::Display;
use std::ops::{Range, RangeInclusive};
use std::str::FromStr;
use toml::de::{DeTable, DeValue};

/// A string value and where it stands.
#[derive(Debug, Clone)]
pub struct Text<'t> {
    pub value: &'t str,
    /// The bytes of the whole literal, quotes included.
    pub span: Range<usize>,
}

impl Text<'_> {
    /// The offset in the file of byte `at` of the value (the literal's start where escapes make that
    /// uncertain).
    pub fn offset(&self, at: usize) -> usize {
        let quotes = self.span.len().saturating_sub(self.value.len());
        if matches!(quotes, 0 | 2 | 6) {
            self.span.start + quotes / 2 + at
        } else {
            self.span.start
        }
    }
}

impl Reader<'_> {
    /// Reads the whole text with `read`, to which its outermost table is shown; keys that are not asked for are faults.
    ///
    /// # Errors
    /// All faults, in the order of the text.
    pub fn read<T>(self, read: impl FnOnce(&TableView<'_, '_>) -> Option<T>) -> Result<T, Faults> {
        let table = self.parse();
        let view = TableView::new(&self, table.get_ref(), 0..0);
        let value = read(&view);
        view.finish();
        drop(view);
        self.conclude(value)
    }
}

/// Every key that `read` asks a table for: the keys that the table may have.
pub(crate) fn keys_of<T>(read: impl FnOnce(&TableView<'_, '_>) -> T) -> Vec<&'static str> {
    let nothing = Source { name: "", text: "" };
    let reader = Reader::new(&nothing);
    let table = DeTable::new();
    let view = TableView::new(&reader, &table, 0..0);
    read(&view);
    view.asked.into_inner()
}

/// A table being read.
#[derive(Debug)]
pub struct TableView<'r, 't> {
    pub reader: &'r Reader<'r>,
    table: &'t DeTable<'t>,
    /// The bytes of the table (its header, for a `[[section]]`).
    pub span: Range<usize>,
    asked: RefCell<Vec<&'static str>>,
}

impl<'r, 't> TableView<'r, 't> {
    /// A view of `table`, which stands at `span`.
    pub fn new(
        reader: &'r Reader<'r>,
        table: &'t DeTable<'t>,
        span: Range<usize>,
    ) -> TableView<'r, 't> {
        TableView {
            reader,
            table,
            span,
            asked: RefCell::default(),
        }
    }

    /// The raw value of a key.
    pub fn get(&self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.asked.borrow_mut().push(key);
        self.reader.asked.borrow_mut().push(key);
        self.table
            .iter()
            .find(|(name, _)| name.get_ref().as_ref() == key)
            .map(|(_, value)| value)
    }

    /// Where the value of `key` starts; the table's start if it is not there.
    pub fn offset(&self, key: &'static str) -> usize {
        self.get(key)
            .map_or(self.span.start, |value| value.span().start)
    }

    /// Reports a fault of the value of `key`; of the table where it is not there.
    pub fn fault(&self, key: &'static str, rule: impl Into<String>) {
        self.reader.fault(self.offset(key), rule);
    }

    /// Reports that `key` must be there.
    pub fn missing(&self, key: &'static str, example: &str) {
        let rule = format!("the key \"{key}\" is missing (such as {key} = {example})");
        self.reader.fault(self.span.start, rule);
    }

    /// A string.
    pub fn string(&self, key: &'static str) -> Option<Text<'t>> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some(self.shown(key, text.as_ref(), value.span())),
            other => self.wrong(value.span().start, key, "a string", other),
        }
    }

    /// A text, which is shown and told some day: what a terminal would obey in it is a fault.
    fn shown(&self, key: &str, value: &'t str, span: Range<usize>) -> Text<'t> {
        if let Some(found) = value.chars().find(|c| is_obeyed(*c)) {
            let rule = format!(
                "{key} has a control character (U+{:04X}), which nothing shows",
                u32::from(found)
            );
            self.reader.fault(span.start, rule);
        }
        Text { value, span }
    }

    /// A string that means something else; what it does not mean is a fault.
    pub fn parsed<T: FromStr<Err: Display>>(&self, key: &'static str) -> Option<T> {
        let text = self.string(key)?;
        let told = |error: T::Err| self.reader.fault(text.span.start, error.to_string());
        text.value.parse().map_err(told).ok()
    }

    /// A string that must be there.
    pub fn need_string(&self, key: &'static str, example: &str) -> Option<Text<'t>> {
        if self.get(key).is_none() {
            self.missing(key, example);
        }
        self.string(key)
    }

    /// A number within a range; `unit` says what is counted.
    pub fn number(&self, key: &'static str, range: RangeInclusive<f64>, unit: &str) -> Option<f64> {
        let value = self.get(key)?;
        let number = number_of(value.get_ref());
        match number {
            Some(number) if range.contains(&number) => Some(number),
            Some(number) => {
                let (low, high) = (range.start(), range.end());
                let rule =
                    format!("{key} is {number}, but must lie between {low} and {high} {unit}");
                self.reader
                    .fault(value.span().start, rule.trim_end().to_string());
                None
            }
            None => self.wrong(value.span().start, key, "a number", value.get_ref()),
        }
    }

    /// A whole number within a range, whose numbers must all be ones of `T`.
    pub fn integer<T: TryFrom<i64>>(
        &self,
        key: &'static str,
        range: RangeInclusive<i64>,
        unit: &str,
    ) -> Option<T> {
        let value = self.get(key)?;
        if value.get_ref().as_integer().is_none() {
            return self.wrong(value.span().start, key, "a whole number", value.get_ref());
        }
        let number = self.number(key, *range.start() as f64..=*range.end() as f64, unit)?;
        T::try_from(number as i64).ok()
    }

    /// `true` or `false`.
    pub fn boolean(&self, key: &'static str) -> Option<bool> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::Boolean(truth) => Some(*truth),
            other => self.wrong(value.span().start, key, "true or false", other),
        }
    }

    /// One of some words.
    pub fn one_of<T: Clone>(&self, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        let text = self.string(key)?;
        let found = words.iter().find(|(word, _)| *word == text.value);
        if found.is_none() {
            let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            let hint = nearest_hint(text.value, known.iter().copied());
            let rule = format!(
                "{key} is \"{}\", but must be one of: {}{hint}",
                text.value,
                quoted(&known)
            );
            self.reader.fault(text.span.start, rule);
        }
        found.map(|(_, meaning)| meaning.clone())
    }

    /// A list of strings; `None` if the key is not there.
    pub fn strings(&self, key: &'static str) -> Option<Vec<Text<'t>>> {
        let value = self.get(key)?;
        let Some(list) = value.get_ref().as_array() else {
            return self.wrong(
                value.span().start,
                key,
                "a list of strings",
                value.get_ref(),
            );
        };
        let texts = list.iter().filter_map(|item| match item.get_ref() {
            DeValue::String(text) => Some(self.shown(key, text.as_ref(), item.span())),
            other => self.wrong(item.span().start, key, "a list of strings", other),
        });
        Some(texts.collect())
    }

    /// A table; `None` if the key is not there.
    pub fn table(&self, key: &'static str) -> Option<TableView<'r, 't>> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::Table(table) => Some(TableView::new(self.reader, table, value.span())),
            other => self.wrong(value.span().start, key, "a table", other),
        }
    }

    /// A list of tables (`[[key]]`); empty if the key is not there.
    pub fn tables(&self, key: &'static str) -> Vec<TableView<'r, 't>> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong::<()>(
                value.span().start,
                key,
                &format!("a list of tables ([[{key}]])"),
                value.get_ref(),
            );
            return Vec::new();
        };
        let views = list.iter().filter_map(|item| match item.get_ref() {
            DeValue::Table(table) => Some(TableView::new(self.reader, table, item.span())),
            other => self.wrong(item.span().start, key, "a list of tables", other),
        });
        views.collect()
    }

    /// The names of all keys of the table with their offsets.
    pub fn keys(&self) -> impl Iterator<Item = (&'t str, usize)> + use<'t> {
        self.table
            .iter()
            .map(|(name, _)| (name.get_ref().as_ref(), name.span().start))
    }

    /// Reports the keys nobody asked for.
    pub fn finish(&self) {
        let asked = self.asked.borrow();
        for (name, at) in self.keys() {
            if !asked.contains(&name) {
                let hint = nearest_hint(name, asked.iter().copied());
                self.reader
                    .fault(at, format!("unknown key \"{name}\"{hint}"));
            }
        }
    }

    fn wrong<T>(&self, at: usize, key: &str, wanted: &str, found: &DeValue<'_>) -> Option<T> {
        let rule = format!("{key} must be {wanted}, not {}", found.type_str());
        self.reader.fault(at, rule);
        None
    }
}

/// Words as they are to be written: some have commas in them.
fn quoted(words: &[&str]) -> String {
    let words: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    words.join(", ")
}

/// A TOML number as a float.
pub(crate) fn number_of(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(whole) => i64::from_str_radix(whole.as_str(), whole.radix())
            .ok()
            .map(|n| n as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str) -> Vec<String> {
        let source = Source {
            name: "t.toml",
            text,
        };
        let reader = Reader::new(&source);
        let table = reader.parse();
        let view = TableView::new(&reader, table.get_ref(), 0..0);
        view.need_string("title", "\"Name\"");
        view.number("tempo", 20.0..=300.0, "quarters a minute");
        view.one_of("feel", &[("swing", 1), ("straight", 2)]);
        for item in view.tables("section") {
            item.need_string("name", "\"A\"");
            item.finish();
        }
        view.finish();
        match reader.conclude(Some(())) {
            Ok(()) => Vec::new(),
            Err(faults) => faults.0.iter().map(ToString::to_string).collect(),
        }
    }

    #[test]
    fn all_faults_are_told_at_once_with_their_places() {
        let text = "titel = \"x\"\ntempo = 900\nfeel = \"swng\"\n[[section]]\nname = 3\n";
        assert_eq!(
            faults(text),
            [
                "t.toml:1:1: the key \"title\" is missing (such as title = \"Name\")",
                "t.toml:1:1: unknown key \"titel\" (nearest: \"title\")",
                "t.toml:2:9: tempo is 900, but must lie between 20 and 300 quarters a minute",
                "t.toml:3:8: feel is \"swng\", but must be one of: \"swing\", \"straight\" (nearest: \"swing\")",
                "t.toml:5:8: name must be a string, not integer",
            ]
        );
        assert_eq!(
            faults("title = \"x\"\ntempo = 60.5\n"),
            Vec::<String>::new()
        );
    }

    #[test]
    fn broken_syntax_is_a_fault_with_a_place() {
        let told = faults("title = \"x\"\ntempo = = 3\n");
        assert!(told[0].starts_with("t.toml:2:"), "{told:?}");
        assert!(told[0].contains("not TOML"), "{told:?}");
    }
}
