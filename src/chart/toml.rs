//! The chart file: TOML, read whole, every fault told at its place.

use super::model::{Chart, ChartBar, Feel, Section};
use super::sections::{Home, read_sections};
use super::words::read_key;
use super::{Form, bars};
use crate::fault::{Faults, Reader, Source, TableView, Text, nearest_hint};
use crate::harmony::KeyDeclaration;
use crate::time::Meter;

/// The most bytes of a chart file.
pub const MAX_BYTES: usize = 1 << 20;
/// The most bars of a chart: as written in the file, and as its form plays them.
pub const MAX_BARS: usize = 10_000;

const FEELS: [(&str, Feel); 5] = [
    ("swing", Feel::Swing),
    ("straight", Feel::Straight),
    ("bossa", Feel::Bossa),
    ("waltz", Feel::Waltz),
    ("ballad", Feel::Ballad),
];

impl Chart {
    /// Reads a chart file. `title` and at least one `[[section]]` must be there; left out, `time` is 4/4,
    /// `tempo` 120, `feel` swing, and `form` the sections once each in their order.
    ///
    /// # Errors
    /// All faults of the file in its order, each with line, column, the rule and the nearest known word.
    pub fn read(source: &Source<'_>) -> Result<Chart, Faults> {
        if source.text.len() > MAX_BYTES {
            let rule = format!(
                "the file has {} bytes, a chart at most {MAX_BYTES}",
                source.text.len()
            );
            return Err(Faults(vec![source.fault(0, rule)]));
        }
        let reader = Reader::new(source);
        let table = reader.parse();
        let view = TableView::new(&reader, table.get_ref(), 0..0);
        let chart = read_chart(&reader, &view);
        view.finish();
        reader.conclude(chart)
    }
}

fn read_chart(reader: &Reader<'_>, view: &TableView<'_, '_>) -> Option<Chart> {
    let title = view.need_string("title", "\"Ferry at Six\"");
    if let Some(title) = &title
        && title.value.trim().is_empty()
    {
        reader.fault(title.span.start, "the title is empty");
    }
    let key = key(reader, view);
    let meter = meter(reader, view).unwrap_or(Meter::COMMON);
    let tempo_qpm = view
        .number("tempo", 30.0..=300.0, "quarter notes a minute")
        .unwrap_or(120.0);
    let feel = view.one_of("feel", &FEELS).unwrap_or_default();
    let home = Home { meter, key };
    let pickup = pickup(reader, view, &home);
    if view.get("section").is_none() {
        view.missing("section", "[[section]] tables with a name and bars");
    }
    let sections = read_sections(reader, view, &home);
    let form = form(reader, view, &sections)?;
    if reader.has_faults() {
        return None;
    }
    let chart = Chart {
        title: title?.value.trim().to_string(),
        key,
        meter,
        tempo_qpm,
        feel,
        form,
        pickup,
        sections,
    };
    check_form(reader, view, &chart);
    Some(chart)
}

/// The key declared in a table, if there is one that can be read.
pub(super) fn key(reader: &Reader<'_>, view: &TableView<'_, '_>) -> Option<KeyDeclaration> {
    let text = view.string("key")?;
    read_key(text.value)
        .map_err(|error| reader.fault(text.span.start, error.to_string()))
        .ok()
}

/// The time declared in a table, if there is one that can be read.
pub(super) fn meter(reader: &Reader<'_>, view: &TableView<'_, '_>) -> Option<Meter> {
    let text = view.string("time")?;
    text.value
        .parse::<Meter>()
        .map_err(|error| {
            reader.fault(
                text.span.start,
                format!("time is \"{}\", but {error}", text.value),
            );
        })
        .ok()
}

fn pickup(reader: &Reader<'_>, view: &TableView<'_, '_>, home: &Home) -> Option<ChartBar> {
    let value = view.get("pickup")?;
    let cells = match bars::read_bar(reader, value, home.meter)? {
        bars::WrittenBar::Cells(cells) => cells,
        bars::WrittenBar::Repeat => {
            reader.fault(
                value.span().start,
                "% repeats the bar before, but before the pickup there is none",
            );
            return None;
        }
    };
    if cells.iter().all(|cell| cell.harmony.is_none()) {
        reader.fault(
            value.span().start,
            "the pickup has no chord (such as pickup = \"/ / / D7\")",
        );
    }
    Some(ChartBar {
        meter: home.meter,
        key: home.key,
        cells,
    })
}

/// The form as indices; names that cannot be resolved are faults.
fn form(reader: &Reader<'_>, view: &TableView<'_, '_>, sections: &[Section]) -> Option<Vec<usize>> {
    if view.get("form").is_none() {
        return Some((0..sections.len()).collect());
    }
    let names = view.strings("form")?;
    if names.is_empty() {
        reader.fault(
            view.offset("form"),
            "the form is empty (such as form = [\"A\", \"A\", \"B\", \"A\"])",
        );
    }
    let resolve = |name: &Text<'_>| {
        let found = sections
            .iter()
            .position(|section| section.name == name.value);
        if found.is_none() {
            let hint = nearest_hint(name.value, sections.iter().map(|one| one.name.as_str()));
            let rule = if sections.is_empty() {
                format!("there is no section \"{}\"", name.value)
            } else {
                format!("there is no section \"{}\"{hint}", name.value)
            };
            reader.fault(name.span.start, rule);
        }
        found
    };
    let indices: Vec<Option<usize>> = names.iter().map(resolve).collect();
    indices.into_iter().collect()
}

/// What only the whole chart shows: its length, and that its first chord is one.
fn check_form(reader: &Reader<'_>, view: &TableView<'_, '_>, chart: &Chart) {
    let bars = Form::count_bars(chart);
    if bars > MAX_BARS {
        reader.fault(
            view.offset("form"),
            format!("the form plays {bars} bars, at most {MAX_BARS} are possible"),
        );
    }
    let goes_on = |section: &Section| {
        section
            .bars
            .first()
            .and_then(|bar| bar.cells.first())
            .is_some_and(|cell| cell.harmony.is_none())
    };
    if let Some(first) = chart.form.first().map(|index| &chart.sections[*index])
        && chart.pickup.is_none()
        && goes_on(first)
    {
        reader.fault(
            view.offset("section"),
            format!(
                "section \"{}\" starts with a / that goes on with the chord before, but the form starts here \
                 and there is none",
                first.name
            ),
        );
    }
}
