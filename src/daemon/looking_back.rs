//! What the practice journal knows, for the player at the box: how sure each skill is while they play, the proposal of the day,
//! the short report.

use super::feed::verdict_on;
use super::weak_spots::{self, STAGES, WeakSpots, drill_of};
use crate::chart::Chart;
use crate::harmony::{Degree, Habits};
use crate::journal::next;
use crate::journal::report::{State, day_of};
use crate::journal::{self, Memory, WallClock};
use crate::judging::{Around, Sure, Sureness, Verdict};
use crate::practice::{Proposal, ProposedSkill, ShortReport};
use std::path::Path;

/// A player whom the journal knows.
#[derive(Debug)]
struct KnownPlayer {
    memory: Memory,
    clock: WallClock,
}

impl Sureness for KnownPlayer {
    fn learn(&mut self, verdict: &Verdict, around: &Around) {
        let told = verdict_on(verdict, around, self.clock.boot_ms());
        self.memory.learn(&told, self.clock.wall_ms());
    }

    fn of(&self, degree: Degree, around: &Around) -> Sure {
        let quality = around.chord.as_ref().map(|chord| chord.quality());
        let quality = quality.map_or("", crate::drill::quality_word);
        let skill = (degree.to_string(), self.clock.wall_ms());
        let estimate = self
            .memory
            .of_skill((&skill.0, quality), around.qpm, skill.1);
        Sure {
            right: estimate.right,
            is_automatic: estimate.is_automatic(),
        }
    }
}

/// What is known of a player; none where there is no journal yet, or it has nothing of theirs.
pub fn known(journal: &Path, player: &str) -> Option<Box<dyn Sureness>> {
    let told = |why: String| log::info!("the journal is not looked back on: {why}");
    let db = journal.exists().then(|| journal::open_to_read(journal))?;
    let db = db.map_err(|trouble| told(trouble.to_string())).ok()?;
    let memory = Memory::of(&db, player).map_err(|error| told(error.to_string()));
    let memory = memory.ok().flatten()?;
    let clock = WallClock::new();
    Some(Box::new(KnownPlayer { memory, clock }))
}

/// What could be practised today over a chart; none where something was played or skipped today, or nothing is weak or due.
///
/// # Errors
/// When the journal cannot be read.
pub fn proposal(
    journal: &Path,
    player: &str,
    chart: &Chart,
    habits: Habits,
) -> Result<Option<Proposal>, String> {
    let found = weak_spots::find(journal, player, chart, habits)?;
    let proposals = next::next(&found.wanted, &found.skipped, STAGES);
    let Some(first) = proposals.first().filter(|_| is_open(&found)) else {
        return Ok(None);
    };
    let wanted = found.wanted.iter();
    let mut known =
        wanted.filter(|item| (&item.degree, &item.quality) == (&first.degree, &first.quality));
    let known = known.next().and_then(|item| item.known);
    Ok(Some(Proposal {
        skill: skill(first)?,
        nights: known.filter(|_| !found.is_behind).map(|known| known.nights),
        more: proposals.len() - 1,
        drill: Box::new(drill_of(&proposals)?),
    }))
}

/// Whether a proposal is in place: for whoever has played before, and not today.
fn is_open(found: &WeakSpots) -> bool {
    let was_today = found
        .last_ms
        .is_some_and(|last_ms| day_of(last_ms) == found.today);
    let has_skills = found
        .report
        .as_ref()
        .is_some_and(|report| !report.skills.is_empty());
    has_skills && found.skipped.is_empty() && (found.is_behind || !was_today)
}

/// How the practice goes.
///
/// # Errors
/// When the journal cannot be read, or has nothing of the player.
pub fn short_report(
    journal: &Path,
    player: &str,
    chart: &Chart,
    habits: Habits,
) -> Result<ShortReport, String> {
    let found = weak_spots::find(journal, player, chart, habits)?;
    let report = found.report.as_ref();
    let report = report.ok_or("nothing was practised yet".to_string())?;
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let is_automatic = report
        .skills
        .iter()
        .filter(|skill| skill.state() == State::Automatic);
    let proposals = next::next(&found.wanted, &found.skipped, 1);
    Ok(ShortReport {
        week_minutes: (report.seconds_this_week() / 60.0).round() as u32,
        automatic: (count(is_automatic.count()), count(report.skills.len())),
        next: proposals.first().map(skill).transpose()?,
    })
}

/// A proposal was skipped: its skills are left out for today.
///
/// # Errors
/// When that cannot be written.
pub fn skip(journal: &Path, player: &str, items: &[String]) -> Result<(), String> {
    let mut store = journal::open_as_it_is(journal).map_err(|trouble| trouble.to_string())?;
    let last_ms = journal::players(store.connection()).map_err(|error| error.to_string())?;
    let last_ms = last_ms.iter().find(|known| known.name == player);
    let wall_ms = WallClock::new().wall_ms();
    let today = day_of(last_ms.map_or(wall_ms, |known| known.last_ms.max(wall_ms)));
    for item in items {
        journal::skip(store.connection_mut(), player, &today, item)
            .map_err(|error| error.to_string())?;
    }
    Ok(())
}

fn skill(item: &next::Proposal) -> Result<ProposedSkill, String> {
    let degree = item
        .degree
        .parse::<Degree>()
        .map_err(|error| error.to_string())?;
    Ok(ProposedSkill {
        degree,
        quality: item.quality.clone(),
    })
}
