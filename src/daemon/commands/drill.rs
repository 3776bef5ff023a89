//! `underfoot drill`: what a drill is for, and what it asks for over charts.

use super::output::write_text;
use crate::chart::Chart;
use crate::daemon::args::{CoverageArgs, DrillCommand, DrillListArgs};
use crate::daemon::config::Overlay;
use crate::daemon::coverage;
use crate::daemon::files::{self, Failure};
use crate::drill::Drill;
use crate::plan::Material;
use crate::plan::coverage::Coverage;
use std::sync::Arc;

/// `underfoot drill`.
///
/// # Errors
/// Faults of the files (65, 78); what cannot be written (65).
pub fn drill(command: &DrillCommand) -> Result<(), Failure> {
    match command {
        DrillCommand::List(args) => list(args),
        DrillCommand::Coverage(args) => cover(args),
    }
}

fn list(args: &DrillListArgs) -> Result<(), Failure> {
    let drill = files::drill(&args.drill)?;
    write_text(None, &listed(&drill))
}

/// A paragraph a stage.
fn listed(drill: &Drill) -> String {
    let stages = &drill.stages;
    let mut text = format!("{}\n", drill.title);
    for (index, stage) in stages.iter().enumerate() {
        text.push_str(&format!("\n{:>3}. {}", index + 1, stage.name));
        let goal = stage
            .goal
            .as_ref()
            .map_or(String::new(), |goal| format!(": {goal}"));
        let name_of = |index: usize| stages[index].name.as_str();
        let (easier, harder) = (drill.easier(index), drill.harder(index));
        text.push_str(&format!("{goal}\n"));
        for (word, name) in [("easier", easier), ("harder", harder)] {
            if let Some(name) = name.map(name_of) {
                text.push_str(&format!("     {word}: {name}\n"));
            }
        }
    }
    text
}

fn cover(args: &CoverageArgs) -> Result<(), Failure> {
    let (charts, drill) = files::both(files::charts(&args.charts), files::drill(&args.drill))?;
    let config = files::config_apart(args.config.as_deref(), Overlay::default())?;
    let (neck, habits) = (config.neck(), config.harmony);
    let strings = neck.tuning.open_keys().len() as u8;
    let mut found = Coverage::default();
    let mut titles: Vec<String> = Vec::new();
    let covered = |chart: Chart| {
        let material = Material::new(chart, drill.clone(), habits.clone());
        Arc::new(material.with_seed(args.seed))
    };
    for chart in charts {
        titles.push(chart.title.clone());
        found.add(&covered(chart), &neck, args.seed);
    }
    let title = format!("{} over {}", drill.title, titles.join(", "));
    if let Some(path) = &args.svg {
        write_text(Some(path), &coverage::picture(&found, &title, strings))?;
    }
    let text = match args.json {
        true => format!("{}\n", coverage::object(&found, strings)),
        false => coverage::text(&found, &title, strings),
    };
    write_text(None, &text)
}
