//! The bars of a section read in their order: what changes on the way, what `%` repeats, what goes on.

use super::bars::{WrittenBar, read_bar};
use super::model::{Cell, ChartBar};
use super::placed::{RawBar, Remarks, SectionHome};
use crate::fault::Reader;
use crate::harmony::{Harmony, KeyDeclaration};
use crate::time::{Meter, Tick};

/// The bars of a section as they are read one after the other.
pub(super) struct BarList<'r> {
    reader: &'r Reader<'r>,
    remarks: &'r Remarks,
    meter: Meter,
    key: Option<KeyDeclaration>,
    /// The number of the last bar read, from 1; 0 before the first.
    pub(super) number: u32,
    pub(super) bars: Vec<ChartBar>,
    /// The last bar read, which `%` repeats; `None` before the first and after a faulty one.
    last: Option<ChartBar>,
    /// Whether the last bar was faulty: then a `%` after it is no fault of its own.
    broken: bool,
    /// The chord that sounded when the last bar began.
    entering: Option<Cell>,
    /// The chord that sounds now.
    sounding: Option<Cell>,
}

impl<'r> BarList<'r> {
    pub(super) fn new(
        reader: &'r Reader<'r>,
        home: &SectionHome,
        remarks: &'r Remarks,
    ) -> BarList<'r> {
        BarList {
            reader,
            remarks,
            meter: home.meter,
            key: home.key,
            number: 0,
            bars: Vec::new(),
            last: None,
            broken: false,
            entering: None,
            sounding: None,
        }
    }

    /// An empty list that goes on from here, for an ending; its bars are numbered on after `number`.
    pub(super) fn fork(&self, number: u32) -> BarList<'r> {
        BarList {
            number,
            bars: Vec::new(),
            last: self.last.clone(),
            entering: self.entering.clone(),
            sounding: self.sounding.clone(),
            ..*self
        }
    }

    pub(super) fn read(&mut self, raw: &[RawBar<'_>]) {
        for value in raw {
            self.number += 1;
            if let Some(change) = self.remarks.changes.get(&self.number) {
                self.key = change.key.or(self.key);
                self.meter = change.meter.unwrap_or(self.meter);
            }
            let cells = self.cells(value);
            self.broken = cells.is_none();
            self.push(cells);
        }
    }

    /// The cells of a bar, `%` written out; `None` after a fault.
    fn cells(&self, value: RawBar<'_>) -> Option<Vec<Cell>> {
        match read_bar(self.reader, value, self.meter)? {
            WrittenBar::Cells(cells) => Some(cells),
            WrittenBar::Repeat if self.broken => None,
            WrittenBar::Repeat => self
                .repeat()
                .map_err(|rule| self.reader.fault(value.span().start, rule))
                .ok(),
        }
    }

    /// The bar before, again, as it sounded.
    fn repeat(&self) -> Result<Vec<Cell>, String> {
        let Some(last) = &self.last else {
            return Err(
                "% repeats the bar before, but this is the first bar of its section".to_string(),
            );
        };
        if last.meter != self.meter {
            return Err(format!(
                "% repeats a bar of {} in a bar of {}: write the chords out",
                last.meter, self.meter
            ));
        }
        let mut cells = last.cells.clone();
        // After other chords the slashes at the start of the repeated bar must name what they went on with.
        if cells.len() > 1 && cells[0].harmony.is_none() {
            let Some(entering) = self.entering.clone() else {
                return Err(
                    "% repeats a bar that starts with a chord of another section: write the chords out"
                        .to_string(),
                );
            };
            cells[0].harmony = entering.harmony;
            cells[0].hint = entering.hint;
            cells[0].unread = entering.unread;
        }
        Ok(cells)
    }

    fn push(&mut self, cells: Option<Vec<Cell>>) {
        let cells = match cells {
            Some(mut cells) => {
                self.put_hints(&mut cells);
                cells
            }
            // A faulty bar keeps its place, so that the numbers of the others are right.
            None => vec![Cell {
                at: Tick(0),
                len: self.meter.bar_ticks(),
                harmony: Some(Harmony::Silence),
                hint: None,
                unread: None,
            }],
        };
        self.entering = self.sounding.clone();
        if let Some(cell) = cells.last().filter(|cell| cell.harmony.is_some()) {
            self.sounding = Some(cell.clone());
        }
        let bar = ChartBar {
            meter: self.meter,
            key: self.key,
            cells,
        };
        self.last = Some(bar.clone());
        self.bars.push(bar);
    }

    fn put_hints(&self, cells: &mut [Cell]) {
        for placed in self.remarks.hints.get(&self.number).into_iter().flatten() {
            let mut chords = cells.iter_mut().filter(|cell| cell.harmony.is_some());
            match chords.nth(placed.chord - 1) {
                Some(cell) if cell.unread.is_some() => {}
                Some(cell) if cell.harmony == Some(Harmony::Silence) => self
                    .reader
                    .fault(placed.offset, "this hint is for N.C., which has no scale"),
                Some(cell) => cell.hint = Some(placed.hint.clone()),
                None => {
                    let count = cells.iter().filter(|cell| cell.harmony.is_some()).count();
                    self.reader.fault(
                        placed.offset,
                        format!(
                            "the hint is for chord {} of bar {}, which has {count}",
                            placed.chord, self.number
                        ),
                    );
                }
            }
        }
    }
}
