//! Collecting the faults of a text in TOML.

use super::{Fault, Faults, Source};
use serde_spanned::Spanned;
use std::cell::RefCell;
use toml::de::DeTable;

/// The most faults that are collected: beyond, a text is not worth reading on, and hostile input could make
/// the list as long as it likes.
const MAX_FAULTS: usize = 200;

/// Collects the faults of one text.
#[derive(Debug)]
pub struct Reader<'s> {
    source: &'s Source<'s>,
    faults: RefCell<Vec<(usize, Fault)>>,
    /// Faults of the syntax: while there are any, others are only their consequences.
    syntax: RefCell<Vec<(usize, Fault)>>,
    pub(super) asked: RefCell<Vec<&'static str>>,
    tolerant: bool,
}

impl<'s> Reader<'s> {
    /// A reader without faults yet.
    pub fn new(source: &'s Source<'s>) -> Reader<'s> {
        Reader {
            source,
            faults: RefCell::default(),
            syntax: RefCell::default(),
            asked: RefCell::default(),
            tolerant: false,
        }
    }

    /// A reader for those who go on past words that cannot be read and keep what is wrong with them.
    pub fn tolerant(source: &'s Source<'s>) -> Reader<'s> {
        Reader {
            tolerant: true,
            ..Reader::new(source)
        }
    }

    /// Whether a word that cannot be read is kept instead of told as a fault, where its place allows that.
    pub fn is_tolerant(&self) -> bool {
        self.tolerant
    }

    /// Parses the text; syntax errors become faults, the first of each line (the others only follow from it),
    /// and what could be read is returned.
    pub fn parse(&self) -> Spanned<DeTable<'s>> {
        let (table, errors) = DeTable::parse_recoverable(self.source.text);
        let mut syntax = self.syntax.borrow_mut();
        for error in errors.iter().take(MAX_FAULTS) {
            let at = error.span().map_or(0, |span| span.start);
            let rule = format!("not TOML: {}", error.message().replace('\n', "; "));
            let fault = self.source.fault(at, rule);
            if syntax.iter().all(|(_, other)| other.line != fault.line) {
                syntax.push((at, fault));
            }
        }
        drop(syntax);
        table
    }

    /// Whether no more faults are collected: reading on is of no use.
    pub fn is_full(&self) -> bool {
        self.faults.borrow().len() >= MAX_FAULTS
    }

    /// Adds a fault at a byte offset; after two hundred nothing is added.
    pub fn fault(&self, offset: usize, rule: impl Into<String>) {
        let mut faults = self.faults.borrow_mut();
        if faults.len() < MAX_FAULTS {
            faults.push((offset, self.source.fault(offset, rule)));
        }
    }

    /// The value if there was no fault, else all faults in the order of the text.
    ///
    /// # Errors
    /// When there was a fault, or no value and no fault explains it.
    pub fn conclude<T>(self, value: Option<T>) -> Result<T, Faults> {
        let syntax = self.syntax.into_inner();
        let mut faults = if syntax.is_empty() {
            self.faults.into_inner()
        } else {
            syntax
        };
        faults.sort_by_key(|(offset, _)| *offset);
        faults.dedup();
        match value {
            Some(value) if faults.is_empty() => Ok(value),
            _ if faults.is_empty() => Err(Faults(vec![self.source.fault(0, "the file is empty")])),
            _ => Err(Faults(faults.into_iter().map(|(_, fault)| fault).collect())),
        }
    }

    /// Every key that was asked for in any table: what a manual has to explain.
    pub fn asked(&self) -> Vec<&'static str> {
        let mut asked = self.asked.borrow().clone();
        asked.sort_unstable();
        asked.dedup();
        asked
    }

    /// Whether a fault was found so far.
    pub fn has_faults(&self) -> bool {
        !(self.faults.borrow().is_empty() && self.syntax.borrow().is_empty())
    }
}
