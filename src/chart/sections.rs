//! The sections of a chart file: bars, endings, changes of key and time, hints.

use super::barlist::BarList;
use super::model::{Ending, Hint, MAX_BARS, Section};
use super::placed::{PlacedChange, PlacedHint, PlacedSection, RawBar, Remarks, SectionHome, meter};
use crate::fault::TableView;
use std::collections::HashSet;

/// The most sections of a chart.
const MAX_SECTIONS: usize = 200;

/// Reads all `[[section]]` tables; `None` if the name of one could not be read, or there is none at all.
pub(super) fn read_sections(
    view: &TableView<'_, '_>,
    home: &SectionHome,
) -> Option<Vec<PlacedSection>> {
    if view.get("section").is_none() {
        let rule = "there is no section (write [[section]], then name = \"A\" and bars = [...])";
        view.reader.fault(view.span.start, rule);
        return None;
    }
    let mut names = HashSet::new();
    let mut room = MAX_BARS;
    let mut sections = Vec::new();
    let tables = view.tables("section");
    if let Some(table) = tables.get(MAX_SECTIONS) {
        let rule = format!("a chart has at most {MAX_SECTIONS} sections");
        view.reader.fault(table.span.start, rule);
        return None;
    }
    for table in &tables {
        let section = read_section(table, home, &mut room);
        table.finish();
        let Some(section) = section else { continue };
        if !names.insert(section.name.clone()) {
            let rule = format!("there are two sections \"{}\"", section.name);
            table.fault("name", rule);
        }
        let first_bar = table.offset("bars");
        sections.push(PlacedSection { section, first_bar });
    }
    (!tables.is_empty() && sections.len() == tables.len()).then_some(sections)
}

fn read_section(view: &TableView<'_, '_>, home: &SectionHome, room: &mut usize) -> Option<Section> {
    let name = view.need_string("name", "\"A\"");
    if let Some(name) = &name
        && name.value.trim().is_empty()
    {
        view.reader
            .fault(name.span.start, "the name of a section is empty");
    }
    let vamp = view.boolean("vamp").unwrap_or(false);
    let body = raw_bars(view);
    let tables = view.tables("ending");
    let endings: Vec<(Option<u32>, Vec<RawBar<'_>>)> = tables
        .iter()
        .map(|ending| {
            let pass = ending_pass(ending);
            (pass, raw_bars(ending))
        })
        .collect();
    refuse_second_ending(&tables, &endings);
    let count = body.len() + endings.iter().map(|(_, bars)| bars.len()).sum::<usize>();
    if count > *room {
        view.fault("bars", format!("a chart has at most {MAX_BARS} bars"));
        return None;
    }
    *room -= count;
    let remarks = remarks(view, count as i64);
    tables.iter().for_each(TableView::finish);

    let mut bars = BarList::new(view.reader, home, &remarks);
    bars.read(&body);
    let mut number = bars.number;
    let mut read_endings = Vec::new();
    for (pass, raw) in &endings {
        let mut list = bars.fork(number);
        list.read(raw);
        number = list.number;
        read_endings.push(Ending {
            pass: pass.unwrap_or(1),
            bars: list.bars,
        });
    }
    Some(Section {
        name: name?.value.trim().to_string(),
        bars: bars.bars,
        endings: read_endings,
        vamp,
    })
}

/// The values of the key `bars`, at least one.
fn raw_bars<'t>(view: &TableView<'_, 't>) -> Vec<RawBar<'t>> {
    let Some(value) = view.get("bars") else {
        view.missing("bars", "[\"Dm7 G7\", \"Cmaj7\"]");
        return Vec::new();
    };
    let bars: Option<Vec<_>> = value.get_ref().as_array().map(|list| list.iter().collect());
    match bars {
        Some(bars) if !bars.is_empty() => bars,
        Some(_) => {
            view.reader
                .fault(value.span().start, "there is no bar in bars");
            Vec::new()
        }
        None => {
            let found = value.get_ref().type_str();
            let rule = format!("bars must be a list of bars, not {found}");
            view.reader.fault(value.span().start, rule);
            Vec::new()
        }
    }
}

fn ending_pass(view: &TableView<'_, '_>) -> Option<u32> {
    if view.get("pass").is_none() {
        view.missing("pass", "1");
    }
    view.integer("pass", 1..=99, "")
}

fn refuse_second_ending(tables: &[TableView<'_, '_>], endings: &[(Option<u32>, Vec<RawBar<'_>>)]) {
    let mut seen = HashSet::new();
    for (table, (pass, _)) in tables.iter().zip(endings) {
        if let Some(pass) = pass
            && !seen.insert(*pass)
        {
            table.fault("pass", format!("there are two endings for pass {pass}"));
        }
    }
}

fn remarks(view: &TableView<'_, '_>, count: i64) -> Remarks {
    let mut remarks = Remarks::default();
    let bar_of = |table: &TableView<'_, '_>| {
        if table.get("bar").is_none() {
            table.missing("bar", "1");
        }
        // Without readable bars a range would only repeat that fault.
        let last = if count == 0 {
            i64::from(u32::MAX)
        } else {
            count
        };
        table.integer("bar", 1..=last, "(the bars of the section)")
    };
    for table in view.tables("change") {
        let bar = bar_of(&table);
        let change = PlacedChange {
            key: table.parsed("key"),
            meter: meter(&table),
        };
        if table.get("key").is_none() && table.get("time").is_none() {
            view.reader
                .fault(table.span.start, "a change names a key, a time, or both");
        }
        table.finish();
        if let Some(bar) = bar
            && remarks.changes.insert(bar, change).is_some()
        {
            let rule = format!("there are two changes at bar {bar}: write key and time into one");
            table.fault("bar", rule);
        }
    }
    let mut hinted = HashSet::new();
    for table in view.tables("hint") {
        let bar = bar_of(&table);
        let hint = placed_hint(&table);
        table.finish();
        if let (Some(bar), Some(hint)) = (bar, hint) {
            if !hinted.insert((bar, hint.chord)) {
                let rule = format!("there are two hints for chord {} of bar {bar}", hint.chord);
                view.reader.fault(hint.offset, rule);
            }
            remarks.hints.entry(bar).or_default().push(hint);
        }
    }
    remarks
}

fn placed_hint(view: &TableView<'_, '_>) -> Option<PlacedHint> {
    let chord = match view.get("chord") {
        Some(_) => view.integer("chord", 1..=32, ""),
        None => Some(1),
    };
    let scale = view.parsed("scale");
    let note = view
        .string("note")
        .map(|text| text.value.trim().to_string());
    if view.get("scale").is_none() && view.get("note").is_none() {
        view.reader
            .fault(view.span.start, "a hint names a scale, a note, or both");
        return None;
    }
    Some(PlacedHint {
        chord: chord? as usize,
        offset: view.offset(if view.get("chord").is_some() {
            "chord"
        } else {
            "bar"
        }),
        hint: Hint {
            scale,
            note: note.filter(|note| !note.is_empty()),
        },
    })
}
