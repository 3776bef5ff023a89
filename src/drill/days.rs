//! A plan of days: some stages of another drill each day, as one drill. Who opens it goes on where the last day ended, or at the
//! day that is asked for.

use super::model::{Drill, Stage};
use super::rounds::Advance;
use crate::fault::{Faults, Reader, Source, TableView, Text, nearest_hint};

/// The most days of a plan.
const DAYS: usize = 366;

impl Drill {
    /// Whether a text is a plan of days.
    pub fn is_plan(source: &Source<'_>) -> bool {
        let mut found = false;
        // What is wrong with it is told when it is read.
        let _ = Reader::new(source).read(|view| {
            found = view.get("day").is_some();
            Some(())
        });
        found
    }

    /// Reads a plan of days; `base` gives the drill that its stages are taken from, by the name of its file.
    ///
    /// # Errors
    /// All faults of the text, each with its line and column.
    pub fn read_plan(
        source: &Source<'_>,
        base: &dyn Fn(&str) -> Result<Drill, String>,
    ) -> Result<Drill, Faults> {
        Reader::new(source).read(|view| read_plan(view, base))
    }

    /// The first stage of a day of a plan, from 1.
    pub fn stage_of_day(&self, day: u32) -> Option<usize> {
        let begins = format!("day {day}: ");
        self.stages
            .iter()
            .position(|stage| stage.name.starts_with(&begins))
    }
}

fn read_plan(
    view: &TableView<'_, '_>,
    base: &dyn Fn(&str) -> Result<Drill, String>,
) -> Option<Drill> {
    let title = view.need_string("title", "\"Four weeks\"");
    let from = view.need_string("from", "\"ladder.toml\"");
    let base = from.and_then(|from| {
        let tell = |fault| view.reader.fault(from.span.start, fault);
        base(from.value).map_err(tell).ok()
    });
    let days = view.tables("day");
    if !(1..=DAYS).contains(&days.len()) {
        view.fault(
            "day",
            format!("a plan has 1 to {DAYS} days, not {}", days.len()),
        );
    }
    let mut stages = Vec::new();
    for (number, day) in (1u32..).zip(&days) {
        stages.extend(read_day(day, number, base.as_ref()));
    }
    let title = title?.value.to_string();
    (!stages.is_empty()).then_some(Drill { title, stages })
}

/// The stages of one day. The last one stays: the next day is another day's.
fn read_day(view: &TableView<'_, '_>, number: u32, base: Option<&Drill>) -> Vec<Stage> {
    let name = view.need_string("name", "\"thirds below\"");
    let texts: Vec<Text<'_>> = match view.get("stages") {
        Some(_) => view.strings("stages").unwrap_or_default(),
        None => {
            view.missing("stages", "[\"third below the root\"]");
            Vec::new()
        }
    };
    if view.get("stages").is_some() && texts.is_empty() {
        view.fault("stages", "stages is empty: a day has at least one");
    }
    view.finish();
    let mut stages: Vec<Stage> = Vec::new();
    for text in &texts {
        let Some(base) = base else { continue };
        let names = base.stages.iter().map(|stage| stage.name.as_str());
        let named = format!("day {number}: {}", text.value);
        let rule = match base.stages.iter().find(|stage| stage.name == text.value) {
            Some(_) if stages.iter().any(|stage| stage.name == named) => {
                format!("day {number} has \"{}\" twice", text.value)
            }
            Some(stage) => {
                let goal = name.as_ref().map(|name| name.value.to_string());
                stages.push(Stage {
                    call: stage.call.clone().or_else(|| Some(stage.name.clone())),
                    goal: goal.or_else(|| stage.goal.clone()),
                    easier: None,
                    harder: None,
                    name: named,
                    ..stage.clone()
                });
                continue;
            }
            None => format!(
                "\"{}\" is no stage of \"{}\"{}",
                text.value,
                base.title,
                nearest_hint(text.value, names)
            ),
        };
        view.reader.fault(text.span.start, rule);
    }
    if let Some(last) = stages
        .last_mut()
        .filter(|last| last.advance != Advance::Right)
    {
        last.advance = Advance::Foot;
    }
    stages
}
