//! What is weak and due over a chart, by the practice journal.

use crate::chart::Chart;
use crate::drill::{Drill, quality_word};
use crate::harmony::Habits;
#[cfg(feature = "jack")]
use crate::journal::next;
use crate::journal::next::{Known, Wanted};
use crate::journal::report::{self, Report, SkillReport};
use crate::journal::{self, WallClock};
use crate::plan::Material;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;

/// The degrees of the seven-note scale.
const NUMBERS: std::ops::RangeInclusive<u8> = 1..=7;
/// Stages of a drill that a foot asks for: about ten minutes.
#[cfg(feature = "jack")]
pub(super) const STAGES: usize = 3;

/// The skills that a chart wants, with what is known of them today.
#[derive(Debug, Clone)]
pub struct WeakSpots {
    /// The day, as the journal has it.
    pub today: String,
    pub wanted: Vec<Wanted>,
    /// What was skipped today.
    pub skipped: BTreeSet<String>,
    /// All that there is to tell of the player; none where nothing was played.
    pub report: Option<Report>,
    /// When the last take began, in milliseconds since 1970.
    pub last_ms: Option<i64>,
    /// Whether the wall clock stands before that: a box without a battery clock.
    pub is_behind: bool,
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
    let wall_ms = WallClock::new().wall_ms();
    let (mut now_ms, mut last_ms, mut told) = (wall_ms, None, None);
    let mut skipped = BTreeSet::new();
    if journal.exists() {
        let db = journal::open_to_read(journal).map_err(|trouble| trouble.to_string())?;
        let unreadable = |error: rusqlite::Error| format!("{}: {error}", journal.display());
        let players = journal::players(&db).map_err(unreadable)?;
        let found = players.iter().find(|known| known.name == player);
        last_ms = found.map(|known| known.last_ms);
        // Where no clock tells the day it is that of the last take.
        now_ms = now_ms.max(last_ms.unwrap_or(now_ms));
        told = report::gather(&db, player, now_ms, None).map_err(unreadable)?;
        let today = report::day_of(now_ms);
        skipped = journal::skipped(&db, player, &today).map_err(unreadable)?;
    }
    let skills = told.as_ref().map_or(&[][..], |report| &report.skills);
    Ok(WeakSpots {
        today: report::day_of(now_ms),
        wanted: wanted(chart.clone(), habits, skills),
        skipped,
        report: told,
        last_ms,
        is_behind: wall_ms < now_ms,
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
    drill_of(&proposals)
}

/// A drill of these proposals.
#[cfg(feature = "jack")]
pub(super) fn drill_of(proposals: &[next::Proposal]) -> Result<Drill, String> {
    let text = next::drill(proposals, "weak spots");
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
