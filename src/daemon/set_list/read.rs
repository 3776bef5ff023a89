//! A set list's text, with the files that it names: all faults at once, each at its line.

use super::named::{Beside, Files};
use super::tune::{TuneLine, read_tune};
use crate::chart::Chart;
use crate::drill::Drill;
use crate::fault::{Reader, Source, TableView, Text};
use crate::practice::{Library, SetList, Tune};

/// The most tunes of a set: as many as a song select can choose.
const MOST_TUNES: usize = 128;

/// Reads a set list.
///
/// # Errors
/// Every fault of the list in its order, then those of the files that it names, a line each.
pub fn read(source: &Source<'_>, files: &Files<'_>) -> Result<Library, String> {
    let beside = Beside::default();
    let read = Reader::new(source).read(|view| read_list(view, files, &beside));
    read.map_err(|faults| {
        let own = std::iter::once(faults.to_string());
        let all: Vec<String> = own.chain(beside.into_lines()).collect();
        all.join("\n")
    })
}

pub(super) fn title<'t>(view: &TableView<'_, 't>) -> Option<Text<'t>> {
    let title = view.need_string("title", "\"Friday\"");
    title.filter(|title| {
        let is_empty = title.value.trim().is_empty();
        if is_empty {
            view.fault("title", "the title is empty");
        }
        !is_empty
    })
}

pub(super) fn drill_named<'t>(view: &TableView<'_, 't>) -> Option<Text<'t>> {
    view.string("drill")
}

fn read_list(view: &TableView<'_, '_>, files: &Files<'_>, beside: &Beside) -> Option<Library> {
    let title = title(view);
    let named = drill_named(view);
    let drill = named.and_then(|named| beside.good(view, "drill", (files.drills)(named.value)));
    if view.get("tune").is_none() {
        let rule = "there is no tune (write [[tune]], then chart = \"ferry-at-six.toml\")";
        view.reader.fault(view.span.start, rule);
        return None;
    }
    let tables = view.tables("tune");
    if let Some(table) = tables.get(MOST_TUNES) {
        let rule = format!("a set has at most {MOST_TUNES} tunes");
        view.reader.fault(table.span.start, rule);
        return None;
    }
    let usual = drill.as_ref().or(files.usual);
    let lines: Vec<Option<TuneLine>> = tables
        .iter()
        .enumerate()
        .map(|(place, table)| {
            let line = read_tune(table, place, files, usual, beside);
            if place + 1 == tables.len() && line.as_ref().is_some_and(|line| line.tune.segue) {
                let rule = "segue leads into the next tune, but this is the last one";
                table.fault("segue", rule);
            }
            table.finish();
            line
        })
        .collect();
    refuse_same_numbers(&tables, &lines);
    let lines: Vec<TuneLine> = lines.into_iter().collect::<Option<_>>()?;
    let (charts, tunes): (Vec<Chart>, Vec<Tune>) = lines
        .into_iter()
        .map(|line| (line.chart, line.tune))
        .unzip();
    let title = title?.value.trim().to_string();
    Some(Library {
        charts,
        drill: usual.cloned().unwrap_or_else(Drill::just_play),
        set: Some(SetList { title, tunes }),
    })
}

/// A song select chooses one tune.
fn refuse_same_numbers(tables: &[TableView<'_, '_>], lines: &[Option<TuneLine>]) {
    for (place, line) in lines.iter().enumerate() {
        let Some(line) = line else { continue };
        let same = |other: &&Option<TuneLine>| {
            let other = other.as_ref();
            other.is_some_and(|other| other.tune.number == line.tune.number)
        };
        if let Some(before) = lines[..place].iter().position(|other| same(&other)) {
            // Whoever wrote a number is told of it; the other has that of its place.
            let at = match tables[place].get("number") {
                Some(_) => &tables[place],
                None => &tables[before],
            };
            let rule = format!(
                "number {} chooses both tune {} and tune {} (left out, it is the place of the tune, from 0)",
                line.tune.number,
                before + 1,
                place + 1
            );
            at.fault("number", rule);
        }
    }
}
