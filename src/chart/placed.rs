//! What a chart file says at its places, before it is put together.

use super::model::{Hint, Section};
use crate::fault::TableView;
use crate::harmony::KeyDeclaration;
use crate::time::{Meter, MeterError};
use serde_spanned::Spanned;
use std::collections::BTreeMap;
use toml::de::DeValue;

/// What holds at the start of every section.
#[derive(Debug, Clone, Copy)]
pub(super) struct SectionHome {
    pub(super) meter: Meter,
    pub(super) key: Option<KeyDeclaration>,
}

/// A bar's value in the file.
pub(super) type RawBar<'t> = &'t Spanned<DeValue<'t>>;

/// A `[[section.change]]`.
#[derive(Debug, Clone, Copy)]
pub(super) struct PlacedChange {
    pub(super) key: Option<KeyDeclaration>,
    pub(super) meter: Option<Meter>,
}

/// A `[[section.hint]]`.
#[derive(Debug, Clone)]
pub(super) struct PlacedHint {
    pub(super) chord: usize,
    pub(super) offset: usize,
    pub(super) hint: Hint,
}

/// What is said about the bars of a section, by bar from 1.
#[derive(Debug, Default)]
pub(super) struct Remarks {
    pub(super) changes: BTreeMap<u32, PlacedChange>,
    pub(super) hints: BTreeMap<u32, Vec<PlacedHint>>,
}

/// A section with the place of its first bar in the file.
pub(super) struct PlacedSection {
    pub(super) section: Section,
    pub(super) first_bar: usize,
}

/// The time declared in a table, if there is one that can be read.
pub(super) fn meter(view: &TableView<'_, '_>) -> Option<Meter> {
    let text = view.string("time")?;
    let told = |error| view.fault("time", format!("time is \"{}\", but {error}", text.value));
    text.value
        .parse()
        .map_err(|error: MeterError| told(error))
        .ok()
}
