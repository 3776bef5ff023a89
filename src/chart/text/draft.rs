//! What a text has said so far, and the chart that comes of it.

use super::labels::is_letter;
use super::order::{Turn, ordered, repeated};
use super::part::{Holds, Part, place};
use crate::chart::Form;
use crate::chart::bars::{self, WrittenBar};
use crate::chart::model::{Chart, ChartBar, Feel, MAX_BARS};
use crate::chart::placed::{PlacedChange, PlacedSection, Remarks, SectionHome};
use crate::chart::toml::{MAX_FORM, refuse_no_chord_before};
use crate::fault::Reader;
use crate::harmony::{HabitChoices, KeyDeclaration};
use crate::time::Meter;
use serde_spanned::Spanned;
use std::borrow::Cow;
use toml::de::DeValue;

/// The most sections of a chart.
const MAX_SECTIONS: usize = 200;
/// The most times that something is repeated.
const MAX_TIMES: u32 = 99;

/// What a text has said so far.
pub(super) struct Draft<'r, 's> {
    pub(super) reader: &'r Reader<'s>,
    pub(super) title: Option<String>,
    pub(super) tempo_qpm: Option<f64>,
    pub(super) feel: Option<Feel>,
    /// The order of the sections, and where it is said.
    pub(super) form: Option<(usize, String)>,
    pub(super) pickup: Option<(usize, String)>,
    /// What holds at the beginning; where bars have begun, it stays.
    home: Holds,
    /// What holds now.
    now: Holds,
    parts: Vec<Part>,
}

impl<'r, 's> Draft<'r, 's> {
    pub(super) fn new(reader: &'r Reader<'s>) -> Draft<'r, 's> {
        Draft {
            reader,
            title: None,
            tempo_qpm: None,
            feel: None,
            form: None,
            pickup: None,
            home: (None, None),
            now: (None, None),
            parts: Vec::new(),
        }
    }

    /// Whether bars or sections have begun.
    pub(super) fn has_begun(&self) -> bool {
        !self.parts.is_empty()
    }

    fn has_bars(&self) -> bool {
        self.parts.iter().any(|part| part.count() > 0)
    }

    /// Whether a letter is a section's by its turn: A first, then the next one, or one that was there. Else it is a chord.
    pub(super) fn expects(&self, letter: &str) -> bool {
        let awaits = self.parts.last().is_some_and(|part| part.count() == 0);
        let labels = self.parts.iter().filter_map(|part| part.label.as_deref());
        let first = |label: &str| label.bytes().next().unwrap_or(0);
        let letters = labels.filter(|label| is_letter(label)).map(first);
        let next = letters.max().map_or(b'A', |last| last + 1);
        !awaits && (b'A'..=next).contains(&first(letter))
    }

    /// A sign that tells a jump.
    pub(super) fn refuse_jump(&self, at: usize) {
        let rule = "jumps are written as the order of the sections: Form: A A B A";
        self.reader.fault(at, rule);
    }

    pub(super) fn set_key(&mut self, key: KeyDeclaration) {
        self.now.0 = Some(key);
        // Under the first section it is the chart's where no heading has said one.
        if !self.has_begun() || !self.has_bars() && self.home.0.is_none() {
            self.home.0 = Some(key);
        }
    }

    pub(super) fn set_meter(&mut self, meter: Meter) {
        self.now.1 = Some(meter);
        if !self.has_begun() || !self.has_bars() && self.home.1.is_none() {
            self.home.1 = Some(meter);
        }
    }

    pub(super) fn begin_section(&mut self, at: usize, name: &str) {
        self.begin_part(at, Some(name.to_string()), false);
    }

    fn begin_part(&mut self, at: usize, label: Option<String>, goes_on: bool) {
        self.parts.push(Part {
            label,
            at,
            bars: Vec::new(),
            endings: Vec::new(),
            remarks: Remarks::default(),
            body_end: self.now,
            times: 1,
            closed: false,
            goes_on,
        });
    }

    /// The part that the next bar belongs to.
    fn part(&mut self, at: usize) -> &mut Part {
        let closed = |part: &Part| part.closed && part.endings.is_empty();
        match self.parts.last() {
            None => self.begin_part(at, None, false),
            Some(part) if closed(part) => {
                let label = part.label.clone();
                self.begin_part(at, label, true);
            }
            Some(_) => {}
        }
        let last = self.parts.len() - 1;
        &mut self.parts[last]
    }

    /// A repeat begins: what stands before it in its section is a part of its own.
    pub(super) fn open_repeat(&mut self) {
        let Some(part) = self.parts.last().filter(|part| part.count() > 0) else {
            return;
        };
        let (label, at) = (part.label.clone(), part.at);
        self.begin_part(at, label, true);
    }

    pub(super) fn close_repeat(&mut self) {
        if let Some(part) = self.parts.last_mut() {
            part.closed = true;
            // Twice, unless a number follows.
            part.times = part.times.max(2);
        }
    }

    pub(super) fn repeat(&mut self, at: usize, times: u32) {
        if !(1..=MAX_TIMES).contains(&times) {
            let rule = format!("something is repeated at most {MAX_TIMES} times");
            return self.reader.fault(at, rule);
        }
        match self.parts.last_mut().filter(|part| part.count() > 0) {
            Some(part) => (part.times, part.closed) = (times, true),
            None => self
                .reader
                .fault(at, "there is no bar before this that could be repeated"),
        }
    }

    pub(super) fn begin_ending(&mut self, at: usize, passes: Vec<u32>) {
        let known = |part: &Part, pass: u32| {
            part.endings
                .iter()
                .any(|(passes, _)| passes.contains(&pass))
        };
        let Some(part) = self.parts.last_mut().filter(|part| !part.bars.is_empty()) else {
            let rule =
                "an ending follows the bars that it ends, such as |: Dm7 | G7 |1. C :|2. Am |";
            return self.reader.fault(at, rule);
        };
        if let Some(pass) = passes.iter().find(|pass| known(part, **pass)) {
            return self
                .reader
                .fault(at, format!("there are two endings for pass {pass}"));
        }
        if part.endings.is_empty() {
            part.body_end = self.now;
        }
        self.now = part.body_end;
        part.times = part.times.max(passes.iter().copied().max().unwrap_or(1));
        part.closed = false;
        part.endings.push((passes, Vec::new()));
    }

    pub(super) fn push_bar(&mut self, at: usize, text: String) {
        if self.parts.iter().map(Part::count).sum::<usize>() >= MAX_BARS {
            return self
                .reader
                .fault(at, format!("a chart has at most {MAX_BARS} bars"));
        }
        let (home, now) = (self.home, self.now);
        let span = at..at + text.len();
        let bar = Spanned::new(span, DeValue::String(Cow::Owned(text)));
        let part = self.part(at);
        // After the last ending that has a number: what follows is played in the pass after it.
        if part.closed && !part.endings.is_empty() {
            let last = part
                .endings
                .iter()
                .flat_map(|(passes, _)| passes.iter().copied())
                .max();
            let pass = last.unwrap_or(0) + 1;
            part.endings.push((vec![pass], Vec::new()));
            (part.closed, part.times) = (false, part.times.max(pass));
        }
        let number = part.count() as u32 + 1;
        let before = match (part.endings.last(), part.count()) {
            (_, 0) => home,
            (Some((_, bars)), _) if bars.is_empty() => part.body_end,
            _ => part.remarks_now(home),
        };
        let change = PlacedChange {
            key: now.0.filter(|_| now.0 != before.0),
            meter: now.1.filter(|_| now.1 != before.1),
        };
        if change.key.is_some() || change.meter.is_some() {
            part.remarks.changes.insert(number, change);
        }
        match part.endings.last_mut() {
            Some((_, bars)) => bars.push(bar),
            None => part.bars.push(bar),
        }
        if part.endings.is_empty() {
            part.body_end = now;
        }
    }

    /// The chart, if there is no fault.
    pub(super) fn into_chart(self, fallback: &str) -> Option<Chart> {
        let reader = self.reader;
        let home = SectionHome {
            meter: self.home.1.unwrap_or(Meter::COMMON),
            key: self.home.0,
        };
        if !self.has_bars() && reader.has_faults() {
            return None;
        }
        if !self.has_bars() {
            let rule =
                "there are no bars in it: bars are written between | signs, such as | Dm7 | G7 |";
            reader.fault(0, rule);
            return None;
        }
        let pickup = self.pickup.as_ref();
        let pickup = pickup.and_then(|(at, text)| pickup_bar(reader, *at, text, &home));
        let (sections, order) = self.sections(&home);
        let form = match &self.form {
            Some((at, text)) => ordered(reader, *at, text, &order)?,
            None => {
                let each = order.iter().map(|turn| (turn.section, turn.times));
                each.flat_map(repeated).collect()
            }
        };
        if form.len() > MAX_FORM {
            let at = self.form.as_ref().map_or(0, |(at, _)| *at);
            let count = form.len();
            let rule = format!("the form has {count} sections, but {MAX_FORM} is the most");
            reader.fault(at, rule);
        }
        refuse_no_chord_before(reader, &form, &sections, pickup.is_some());
        if reader.has_faults() || form.is_empty() {
            return None;
        }
        let chart = Chart {
            title: self.title.unwrap_or_else(|| fallback.to_string()),
            key: home.key,
            meter: home.meter,
            tempo_qpm: self.tempo_qpm.unwrap_or(120.0),
            feel: self.feel.unwrap_or_default(),
            habits: HabitChoices::default(),
            form,
            intro: Vec::new(),
            last_time: None,
            pickup,
            sections: sections.into_iter().map(|placed| placed.section).collect(),
            melody: None,
        };
        let bars = Form::count_bars(&chart);
        if bars > MAX_BARS {
            let rule = format!("the form plays {bars} bars, but {MAX_BARS} is the most");
            reader.fault(0, rule);
        }
        Some(chart)
    }

    /// The sections, and what each part of the text plays.
    fn sections(&self, home: &SectionHome) -> (Vec<PlacedSection>, Vec<Turn>) {
        let (mut sections, mut order) = (Vec::new(), Vec::new());
        for part in &self.parts {
            if let Some(section) = place(self.reader, part, home, &mut sections) {
                order.push(Turn {
                    label: part.label.clone(),
                    section,
                    times: part.times,
                    goes_on: part.goes_on,
                });
            }
        }
        if let Some(placed) = sections.get(MAX_SECTIONS) {
            let rule = format!("a chart has at most {MAX_SECTIONS} sections");
            self.reader.fault(placed.first_bar, rule);
        }
        (sections, order)
    }
}

fn pickup_bar(reader: &Reader<'_>, at: usize, text: &str, home: &SectionHome) -> Option<ChartBar> {
    let value = Spanned::new(at..at + text.len(), DeValue::String(Cow::Borrowed(text)));
    match bars::read_bar(reader, &value, home.meter)? {
        WrittenBar::Cells(cells) if cells.iter().any(|cell| cell.harmony.is_some()) => {
            Some(ChartBar {
                meter: home.meter,
                key: home.key,
                cells,
            })
        }
        _ => {
            reader.fault(at, "the pickup has no chord (such as Pickup: / / / D7)");
            None
        }
    }
}
