//! What is weak and due over a chart, by the practice journal.

use crate::chart::Chart;
use crate::drill::{Drill, quality_word};
use crate::harmony::Habits;
#[cfg(feature = "jack")]
use crate::journal::next;
use crate::journal::next::{Known, Wanted};
use crate::journal::report::{self, SkillReport};
use crate::journal::{self, WallClock};
use crate::plan::Material;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;

/// The degrees of the seven-note scale.
const NUMBERS: std::ops::RangeInclusive<u8> = 1..=7;
/// Stages of a drill that a foot asks for: about ten minutes.
#[cfg(feature = "jack")]
const STAGES: usize = 3;

/// The skills that a chart wants, with what is known of them today.
#[derive(Debug, Clone)]
pub struct WeakSpots {
    /// The day, as the journal has it.
    pub today: String,
    pub wanted: Vec<Wanted>,
    /// What was skipped today.
    pub skipped: BTreeSet<String>,
}

/// Looks a player up; where there is no journal yet nothing is known.
///
/// # Errors
/// When the journal cannot be read.
pub fn find(
    journal: &Path,
    player: &str,
    chart: &Chart,
    habits: Habits,
) -> Result<WeakSpots, String> {
    let now_ms = WallClock::new().now().wall_ms;
    let today = report::day_of(now_ms);
    let (mut skills, mut skipped) = (Vec::new(), BTreeSet::new());
    if journal.exists() {
        let db = journal::open_to_read(journal).map_err(|trouble| trouble.to_string())?;
        let unreadable = |error: rusqlite::Error| format!("{}: {error}", journal.display());
        let report = report::gather(&db, player, now_ms, None).map_err(unreadable)?;
        skills = report.map(|report| report.skills).unwrap_or_default();
        skipped = journal::skipped(&db, player, &today).map_err(unreadable)?;
    }
    Ok(WeakSpots {
        today,
        wanted: wanted(chart.clone(), habits, &skills),
        skipped,
    })
}

/// A drill of what is weak or due over a chart.
///
/// # Errors
/// When the journal cannot be read, or nothing is weak or due.
#[cfg(feature = "jack")]
pub fn drill(journal: &Path, player: &str, chart: &Chart, habits: Habits) -> Result<Drill, String> {
    let found = find(journal, player, chart, habits)?;
    let proposals = next::next(&found.wanted, &found.skipped, STAGES);
    if proposals.is_empty() {
        return Err(next::nothing(&found.wanted, &found.skipped).to_string());
    }
    let text = next::drill(&proposals, "weak spots");
    let source = crate::fault::Source {
        name: "weak spots",
        text: &text,
    };
    Drill::read(&source).map_err(|faults| faults.to_string())
}

/// The skills that a chart wants.
fn wanted(chart: Chart, habits: Habits, skills: &[SkillReport]) -> Vec<Wanted> {
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
                nights: skill.nights,
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
