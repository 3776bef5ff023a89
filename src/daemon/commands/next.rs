//! `underfoot next`: what to practise next over a chart, and why.

use super::journal::{Variable, failed, place, unreadable};
use super::output::write_text;
use crate::daemon::args::NextArgs;
use crate::daemon::config::Overlay;
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::weak_spots::{self, WeakSpots};
use crate::journal;
use crate::journal::next::{self, Proposal, Wanted};
use serde_json::json;
use std::path::Path;

/// `underfoot next`.
///
/// # Errors
/// Faults of the configuration (78) or the chart (65); a journal that cannot be read (65).
pub fn next(args: &NextArgs, variable: Variable<'_>) -> Result<(), Failure> {
    let config = files::config(args.place.config.as_deref(), variable, Overlay::default())?;
    let chart = match args.chart.as_ref().or(config.charts.first()) {
        Some(path) => files::chart(path)?,
        None => {
            return Err(Failure::new(
                exit::USAGE,
                "which chart? Name it: underfoot next CHART",
            ));
        }
    };
    let path = place(&args.place, variable)?;
    let player = args
        .player
        .clone()
        .unwrap_or_else(|| config.journal.player.clone());
    let found = weak_spots::find(&path, &player, &chart, config.harmony);
    let WeakSpots {
        today,
        wanted,
        mut skipped,
        ..
    } = found.map_err(|text| Failure::new(exit::DATA, text))?;
    if !args.skip.is_empty() {
        skip(&path, &player, &today, &args.skip, &wanted)?;
        skipped.extend(args.skip.iter().cloned());
    }
    let proposals = next::next(&wanted, &skipped, args.items as usize);
    let title = format!("Next: {}", chart.title);
    if let Some(output) = &args.output {
        if proposals.is_empty() {
            let why = next::nothing(&wanted, &skipped);
            return Err(Failure::new(
                exit::DATA,
                format!("{why}: no drill is written"),
            ));
        }
        write_text(Some(output), &next::drill(&proposals, &title))?;
    }
    if proposals.is_empty() && !args.json {
        return write_text(None, &format!("{}\n", next::nothing(&wanted, &skipped)));
    }
    write_text(None, &told(&proposals, args.json))
}

fn skip(
    path: &Path,
    player: &str,
    today: &str,
    items: &[String],
    wanted: &[Wanted],
) -> Result<(), Failure> {
    let names: Vec<String> = wanted
        .iter()
        .map(|item| format!("{} over {}", item.degree, item.quality))
        .collect();
    let strange: Vec<&String> = items.iter().filter(|item| !names.contains(item)).collect();
    if let Some(item) = strange.first() {
        let text = format!(
            "\"{item}\" is nothing that this chart has (it has \"{}\")",
            names.join("\", \"")
        );
        return Err(Failure::new(exit::USAGE, text));
    }
    let mut store = journal::open_as_it_is(path).map_err(|trouble| failed(&trouble))?;
    for item in items {
        journal::skip(store.connection_mut(), player, today, item)
            .map_err(|error| unreadable(path, &error))?;
    }
    Ok(())
}

fn told(proposals: &[Proposal], as_json: bool) -> String {
    if as_json {
        let lines = proposals.iter().map(|item| {
            json!({
                "name": item.name(), "degree": item.degree, "quality": item.quality, "chords": item.chords,
                "why": item.why,
            })
        });
        return lines.map(|line| format!("{line}\n")).collect();
    }
    let lines = proposals.iter().enumerate().map(|(index, item)| {
        let chords = if item.chords == 1 {
            "1 chord".to_string()
        } else {
            format!("{} chords", item.chords)
        };
        format!("{}. {} ({chords}): {}\n", index + 1, item.name(), item.why)
    });
    lines.collect()
}
