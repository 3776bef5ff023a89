//! The state while a part is read: where everything stands, and what holds there.
//!
//! Places come from the running position (durations, backup, forward) and an element's own offset, never from
//! the note beside it.

use super::harmony::Transposition;
use super::xml::{child, number};
use crate::harmony::{Harmony, KeyDeclaration};
use crate::sheet::lead::{Measure, Sheet};
use crate::time::{Meter, Tick};
use roxmltree::Node;

/// The longest bar that is believed, in quarters.
const MAX_BAR_QUARTERS: f64 = 256.0;

/// The state while a part is read.
pub(super) struct PartReader<'s> {
    pub(super) sheet: &'s mut Sheet,
    pub(super) divisions: f64,
    pub(super) key: Option<KeyDeclaration>,
    pub(super) meter: Option<Meter>,
    /// A key or meter that stands at the end of a bar holds from the next one on.
    pub(super) later_key: Option<KeyDeclaration>,
    pub(super) later_meter: Option<Meter>,
    pub(super) transposition: Transposition,
    /// Position in the bar and the furthest one, in quarters.
    pub(super) at: f64,
    pub(super) reach: f64,
    /// Where the last note that was no part of a chord began.
    pub(super) last_note: f64,
    pub(super) voice: Option<String>,
    pub(super) bar: Measure,
    /// Whether the bar is filled by a rest that is told to.
    pub(super) whole_rest: bool,
    /// Bars that repeat the ones before without writing them, and how many those are.
    pub(super) repeats: Option<usize>,
    pub(super) graces: usize,
    /// Signs at this bar's end that belong to the next one's start.
    pub(super) next: NextBar,
}

/// What a bar's end says about the next bar.
#[derive(Debug, Default)]
pub(super) struct NextBar {
    pub(super) forward: bool,
    pub(super) segno: bool,
    pub(super) mark: Option<String>,
}

impl<'s> PartReader<'s> {
    pub(super) fn new(sheet: &'s mut Sheet) -> PartReader<'s> {
        PartReader {
            sheet,
            divisions: 1.0,
            key: None,
            meter: None,
            later_key: None,
            later_meter: None,
            transposition: Transposition::default(),
            at: 0.0,
            reach: 0.0,
            last_note: 0.0,
            voice: None,
            bar: Measure::default(),
            whole_rest: false,
            repeats: None,
            graces: 0,
            next: NextBar::default(),
        }
    }

    pub(super) fn warn(&mut self, what: impl Into<String>) {
        let label = self.bar.label.clone();
        self.sheet.warnings.at(&label, what);
    }

    pub(super) fn duration(&self, element: Node<'_, '_>) -> f64 {
        let written = child(element, "duration").and_then(number).unwrap_or(0.0);
        (written / self.divisions).clamp(0.0, MAX_BAR_QUARTERS)
    }

    pub(super) fn go(&mut self, quarters: f64) {
        self.at = (self.at + quarters).clamp(0.0, MAX_BAR_QUARTERS);
        self.reach = self.reach.max(self.at);
    }

    /// The place of an element: the running position and its own offset.
    pub(super) fn place(&self, element: Node<'_, '_>) -> Tick {
        let offset = child(element, "offset").and_then(number).unwrap_or(0.0);
        let offset = (offset / self.divisions).clamp(-MAX_BAR_QUARTERS, MAX_BAR_QUARTERS);
        Tick::from_quarters(self.at + offset)
    }

    /// Whether the running position is at the bar's end, as far as is known.
    pub(super) fn at_end(&self) -> bool {
        let whole = self.meter.map(|meter| meter.bar_ticks().quarters());
        self.at > 0.0 && self.at >= whole.unwrap_or(f64::INFINITY) - 0.001
    }

    /// Silence of the harmony by a word over the staff.
    pub(super) fn silence(&mut self, at: Tick) {
        self.bar.chords.push((at, Harmony::Silence));
    }
}

/// The passes that an ending or a jump names: "1,2", "1. 2.", "1-3"; at most 99.
pub(super) fn passes(written: &str) -> Vec<u32> {
    let mut found: Vec<u32> = Vec::new();
    for part in written.split([',', ' ', ';', '&']).take(99) {
        let clean = part.trim_matches(|sign: char| !sign.is_ascii_digit());
        let (first, last) = clean.split_once('-').unwrap_or((clean, clean));
        if let (Ok(first), Ok(last)) = (first.parse::<u32>(), last.parse::<u32>())
            && (1..=99).contains(&first)
            && (first..=99).contains(&last)
        {
            found.extend(first..=last);
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}
