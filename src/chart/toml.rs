//! The chart file: TOML, read whole, every fault told at its place.

use super::habits::read_habits;
use super::melody_file::read_melody;
use super::model::{Chart, ChartBar, Feel, MAX_BARS};
use super::placed::{PlacedSection, SectionHome, meter};
use super::route_file::{Around, resolve};
use super::sections::read_sections;
use super::{Form, bars};
use crate::fault::{Faults, Reader, Source, TableView, Text};
use crate::harmony::HabitChoices;
use crate::time::Meter;

/// The most bytes of a chart file.
pub const MAX_BYTES: usize = 1 << 20;

/// The most sections that a form strings together.
pub(super) const MAX_FORM: usize = 500;

impl Chart {
    /// Reads a chart file. `title` and at least one `[[section]]` must be there; left out, `time` is 4/4,
    /// `tempo` 120, `feel` swing, and `form` the sections once each in their order.
    ///
    /// # Errors
    /// All faults of the file in its order, each with line, column, the rule and the nearest known word.
    pub fn read(source: &Source<'_>) -> Result<Chart, Faults> {
        Chart::read_with(source, Reader::new(source))
    }

    /// The same, but a chord symbol that cannot be read is no fault: it is silence, and its cell says in
    /// [`Cell::unread`](super::Cell::unread) what is wrong with it.
    ///
    /// # Errors
    /// All other faults of the file.
    pub fn read_tolerant(source: &Source<'_>) -> Result<Chart, Faults> {
        Chart::read_with(source, Reader::tolerant(source))
    }

    fn read_with<'s>(source: &'s Source<'s>, reader: Reader<'s>) -> Result<Chart, Faults> {
        if source.text.len() > MAX_BYTES {
            let rule = format!(
                "the file has {} bytes, a chart at most {MAX_BYTES}",
                source.text.len()
            );
            return Err(Faults(vec![source.fault(0, rule)]));
        }
        reader.read(read_chart)
    }
}

/// Reads a chart's outermost table.
pub(crate) fn read_chart(view: &TableView<'_, '_>) -> Option<Chart> {
    let reader = view.reader;
    let title = view.need_string("title", "\"Ferry at Six\"");
    if let Some(title) = &title
        && title.value.trim().is_empty()
    {
        reader.fault(title.span.start, "the title is empty");
    }
    let key = view.parsed("key");
    let meter = meter(view).unwrap_or(Meter::COMMON);
    let tempo_qpm = view
        .number("tempo", 30.0..=300.0, "quarter notes a minute")
        .unwrap_or(120.0);
    let feel = view.one_of("feel", &Feel::ALL).unwrap_or_default();
    let habits = view
        .table("harmony")
        .map_or_else(HabitChoices::default, |table| read_habits(&table));
    let home = SectionHome { meter, key };
    let pickup = pickup(view, &home);
    let sections = read_sections(view, &home);
    let names = form_names(view);
    let around = Around::named(view);
    // With a section that could not be read, unknown names in the form would only repeat its fault.
    // The key is known even where the melody cannot be placed.
    view.get("melody");
    let sections = sections?;
    let form = resolve_form(reader, names?, &sections);
    let around = around.resolved(view, &sections, form.as_deref());
    let (form, (intro, last_time)) = (form?, around?);
    let melody = read_melody(view, &home, &sections);
    refuse_no_chord_before(reader, &form, &sections, pickup.is_some());
    refuse_no_chord_before(reader, &intro, &sections, false);
    if reader.has_faults() {
        return None;
    }
    let chart = Chart {
        title: title?.value.trim().to_string(),
        key,
        meter,
        tempo_qpm,
        feel,
        habits,
        form,
        intro,
        last_time,
        pickup,
        sections: sections.into_iter().map(|placed| placed.section).collect(),
        melody,
    };
    let bars = Form::count_bars(&chart);
    if bars > MAX_BARS {
        let rule = format!("the form plays {bars} bars, but {MAX_BARS} is the most");
        view.fault("form", rule);
    }
    Some(chart)
}

fn pickup(view: &TableView<'_, '_>, home: &SectionHome) -> Option<ChartBar> {
    let value = view.get("pickup")?;
    let cells = match bars::read_bar(view.reader, value, home.meter)? {
        bars::WrittenBar::Cells(cells) => cells,
        bars::WrittenBar::Repeat => {
            let rule = "% repeats the bar before, but before the pickup there is none";
            view.reader.fault(value.span().start, rule);
            return None;
        }
    };
    if cells.iter().all(|cell| cell.harmony.is_none()) {
        let rule = "the pickup has no chord (such as pickup = \"/ / / D7\")";
        view.reader.fault(value.span().start, rule);
    }
    Some(ChartBar {
        meter: home.meter,
        key: home.key,
        cells,
    })
}

/// The names in the form; `Some(None)` where it is left out, `None` after a fault.
fn form_names<'t>(view: &TableView<'_, 't>) -> Option<Option<Vec<Text<'t>>>> {
    if view.get("form").is_none() {
        return Some(None);
    }
    let names = view.strings("form")?;
    if names.is_empty() {
        let rule = "the form is empty (such as form = [\"A\", \"A\", \"B\", \"A\"])";
        view.fault("form", rule);
    } else if names.len() > MAX_FORM {
        let rule = format!(
            "the form has {} sections, but {MAX_FORM} is the most",
            names.len()
        );
        view.fault("form", rule);
        return None;
    }
    Some(Some(names))
}

/// The form as indices; names of no section are faults.
fn resolve_form(
    reader: &Reader<'_>,
    names: Option<Vec<Text<'_>>>,
    sections: &[PlacedSection],
) -> Option<Vec<usize>> {
    let Some(names) = names else {
        return Some((0..sections.len()).collect());
    };
    resolve(reader, &names, sections)
}

/// Refuses a form that starts with a slash while nothing sounds.
pub(super) fn refuse_no_chord_before(
    reader: &Reader<'_>,
    form: &[usize],
    sections: &[PlacedSection],
    has_pickup: bool,
) {
    let Some(first) = form.first().map(|index| &sections[*index]) else {
        return;
    };
    let cell = first.section.bars.first().and_then(|bar| bar.cells.first());
    if !has_pickup && cell.is_some_and(|cell| cell.harmony.is_none()) {
        reader.fault(
            first.first_bar,
            format!(
                "section \"{}\" starts with a / that goes on with the chord before, but it opens the form \
                 and there is none",
                first.section.name
            ),
        );
    }
}
