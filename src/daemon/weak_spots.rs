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
    let today = jiff::Timestamp::from_millisecond(now_ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    let today = today
        .to_zoned_datetime(jiff::tz::TimeZone::system())
        .date()
        .to_string();
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

/// A drill of what is weak or due over a chart; none where nothing is.
///
/// # Errors
/// When the journal cannot be read.
#[cfg(feature = "jack")]
pub fn drill(
    journal: &Path,
    player: &str,
    chart: &Chart,
    habits: Habits,
) -> Result<Option<Drill>, String> {
    let found = find(journal, player, chart, habits)?;
    let proposals = next::next(&found.wanted, &found.skipped, STAGES);
    if proposals.is_empty() {
        return Ok(None);
    }
    let text = next::drill(&proposals, "weak spots");
    let source = crate::fault::Source {
        name: "weak spots",
        text: &text,
    };
    Drill::read(&source)
        .map(Some)
        .map_err(|faults| faults.to_string())
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
