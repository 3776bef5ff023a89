//! `underfoot next`: what to practise next over a chart, and why.

use super::journal::{Variable, failed, place, unreadable};
use super::output::write_text;
use crate::chart::Chart;
use crate::daemon::args::NextArgs;
use crate::daemon::config::Overlay;
use crate::daemon::files::{self, Failure, exit};
use crate::drill::{Drill, quality_word};
use crate::harmony::Habits;
use crate::journal::next::{self, Known, Proposal, Wanted};
use crate::journal::report::{self, SkillReport};
use crate::journal::{self, WallClock};
use crate::plan::Material;
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;

/// The degrees of the seven-note scale.
const NUMBERS: std::ops::RangeInclusive<u8> = 1..=7;

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
    let clock = WallClock::new().now();
    let today =
        jiff::Timestamp::from_millisecond(clock.wall_ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    let today = today
        .to_zoned_datetime(jiff::tz::TimeZone::system())
        .date()
        .to_string();
    let (skills, mut skipped) = known(&path, &player, clock.wall_ms, &today)?;
    let wanted = wanted(chart.clone(), config.harmony, &skills);
    if !args.skip.is_empty() {
        skip(&path, &player, &today, &args.skip, &wanted)?;
        skipped.extend(args.skip.iter().cloned());
    }
    let proposals = next::next(&wanted, &skipped, args.items as usize);
    let title = format!("Next: {}", chart.title);
    if let Some(output) = &args.output {
        if proposals.is_empty() {
            return Err(Failure::new(
                exit::DATA,
                "nothing is weak or due over this chart: no drill is written",
            ));
        }
        write_text(Some(output), &next::drill(&proposals, &title))?;
    }
    write_text(None, &told(&proposals, args.json))
}

type Found = (Vec<SkillReport>, BTreeSet<String>);

/// What the journal knows; nothing where there is none yet.
fn known(path: &Path, player: &str, now_ms: i64, today: &str) -> Result<Found, Failure> {
    if !path.exists() {
        return Ok(Found::default());
    }
    let db = journal::open_to_read(path).map_err(|trouble| failed(&trouble))?;
    let report =
        report::gather(&db, player, now_ms, None).map_err(|error| unreadable(path, &error))?;
    let skipped = journal::skipped(&db, player, today).map_err(|error| unreadable(path, &error))?;
    Ok((
        report.map(|report| report.skills).unwrap_or_default(),
        skipped,
    ))
}

/// The skills that a chart wants.
pub fn wanted(chart: Chart, habits: Habits, skills: &[SkillReport]) -> Vec<Wanted> {
    let material = Material::new(chart, Drill::just_play(), habits);
    let mut chords: BTreeMap<(String, &'static str), u32> = BTreeMap::new();
    for context in &material.contexts {
        let Some(symbol) = context.symbol() else {
            continue;
        };
        let tones = NUMBERS.filter_map(|number| context.scale_degree(number));
        let degrees: BTreeSet<String> = tones.map(|tone| tone.degree.to_string()).collect();
        for degree in degrees {
            *chords
                .entry((degree, quality_word(symbol.quality())))
                .or_default() += 1;
        }
    }
    let known: HashMap<(&str, &str), Known> = skills
        .iter()
        .map(|skill| {
            let known = Known {
                estimate: skill.estimate,
                lost: skill.lost,
                days_ago: skill.days_ago,
            };
            ((skill.degree.as_str(), skill.quality.as_str()), known)
        })
        .collect();
    let item = |((degree, quality), chords): ((String, &'static str), u32)| Wanted {
        known: known.get(&(degree.as_str(), quality)).copied(),
        quality: quality.to_string(),
        degree,
        chords,
    };
    chords.into_iter().map(item).collect()
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
    if proposals.is_empty() {
        return "nothing is weak or due over this chart\n".to_string();
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
