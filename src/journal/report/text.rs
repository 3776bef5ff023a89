//! A report in words, and for programs.

use super::model::{PlayerLine, Report, SkillReport, Variety, Week, time_words};
use crate::journal::skill::words::{counted, days, per_cent};
use serde_json::{Value, json};
use std::fmt::Write;

/// Skills that a text tells of, at the most.
const MOST: usize = 24;

/// A report for a terminal.
pub fn text(report: &Report) -> String {
    let mut out = String::new();
    let since = report
        .since
        .as_ref()
        .map(|day| format!(", since {day}"))
        .unwrap_or_default();
    let _ = writeln!(out, "{}, {}{since}", report.player, report.today);
    let _ = writeln!(
        out,
        "{}; {} asked for, {} right",
        practised_words(report),
        counted(report.asked, "note", "notes"),
        report.right
    );
    if !report.skills.is_empty() {
        let _ = writeln!(
            out,
            "\nskill                      right  (likely between)      notes  last        sure up to"
        );
    }
    for skill in report.skills.iter().take(MOST) {
        let _ = writeln!(out, "{}", line(skill));
    }
    if report.skills.len() > MOST {
        let _ = writeln!(out, "... and {} that are surer", report.skills.len() - MOST);
    }
    if !report.around.is_empty() {
        let _ = writeln!(out, "\nclearly harder or easier than elsewhere:");
    }
    for (kind, word, by) in &report.around {
        let _ = writeln!(out, "{kind} {word}: {}", around_words(*by));
    }
    if let Some(words) = variety_words(&report.variety) {
        let _ = writeln!(out, "\n{words}");
    }
    out
}

fn line(skill: &SkillReport) -> String {
    let estimate = &skill.estimate;
    let between = format!(
        "{:.0} to {:.0}",
        estimate.between.0 * 100.0,
        estimate.between.1 * 100.0
    );
    let last = match skill.nights {
        0 => "today".to_string(),
        1 => "yesterday".to_string(),
        nights => format!("{} ago", days(nights)),
    };
    let tempo = skill
        .tempo_reached
        .map_or_else(String::new, |qpm| format!("{qpm:.0} bpm"));
    format!(
        "{:<26} {:>5}  {between:<20}  {:>5}  {last:<11} {tempo:<11} {}",
        skill.name(),
        per_cent(estimate.right),
        estimate.trials,
        skill.state_words()
    )
    .trim_end()
    .to_string()
}

/// By how much something is harder or easier, in words.
pub(super) fn around_words(by: f64) -> String {
    let what = if by < 0.0 { "fewer" } else { "more" };
    format!("about {:.0} {what} right notes in 100", by.abs())
}

/// How long was practised, in how many takes, on how many days.
pub(super) fn practised_words(report: &Report) -> String {
    format!(
        "{} in {} on {}",
        time_words(report.seconds),
        counted(report.takes, "take", "takes"),
        days(report.days)
    )
}

/// What was chosen where the stage left the choice, in a sentence or two; none where nothing was.
pub(super) fn variety_words(variety: &Variety) -> Option<String> {
    let (degree, times) = variety.first.first()?;
    // What was never counted, as the place of the hand where no ear can tell it, is not told.
    let counts = [
        (variety.degrees, "degrees"),
        (variety.octaves, "octaves"),
        (variety.positions, "hand positions"),
        (variety.orders, "starting notes"),
    ];
    let counts = counts.iter().filter(|(count, _)| *count > 0.0);
    let counts: Vec<String> = counts
        .map(|(count, what)| format!("{count:.1} {what}"))
        .collect();
    let mut words = format!(
        "Open choice, {}: on average {}; {} off the beat, {} in phrases that came before.",
        counted(variety.passes, "pass", "passes"),
        counts.join(", "),
        per_cent(variety.off_beats),
        per_cent(variety.repeated)
    );
    if variety.passes >= 4 && f64::from(*times) >= 0.6 * f64::from(variety.passes) {
        let note = |degree: &str| match degree {
            "1" => "the root".to_string(),
            other => format!("the {other}"),
        };
        let other = variety.first.get(1).map(|(degree, _)| degree.as_str());
        let _ = write!(
            words,
            " You started on {} {times} times of {}: start on {}.",
            note(degree),
            variety.passes,
            other.map_or("another note".to_string(), note)
        );
    }
    Some(words)
}

/// A report for programs.
pub fn json(report: &Report) -> Value {
    let skill = |skill: &SkillReport| {
        let estimate = &skill.estimate;
        json!({
            "degree": skill.degree, "quality": skill.quality, "right": estimate.right,
            "between": [estimate.between.0, estimate.between.1], "automatic": estimate.is_automatic(),
            "state": skill.state().name(), "notes": estimate.trials, "days": estimate.days, "days_ago": skill.days_ago,
            "lost": skill.lost, "in_time": skill.in_time, "tempo_reached_qpm": skill.tempo_reached,
        })
    };
    let week = |week: &Week| json!({"begins": week.begins, "seconds": week.seconds, "asked": week.asked, "right": week.right});
    let around = |(kind, word, by): &(&str, String, f64)| json!({"kind": kind, "name": word, "easier_in_100": by});
    let variety = &report.variety;
    json!({
        "player": report.player, "today": report.today, "since": report.since, "takes": report.takes,
        "seconds": report.seconds, "days": report.days, "asked": report.asked, "right": report.right,
        "weeks": report.weeks.iter().map(week).collect::<Vec<_>>(),
        "skills": report.skills.iter().map(skill).collect::<Vec<_>>(),
        "around": report.around.iter().map(around).collect::<Vec<_>>(),
        "variety": {"passes": variety.passes, "notes": variety.notes, "degrees": variety.degrees,
            "octaves": variety.octaves, "positions": variety.positions, "beats": variety.beats,
            "orders": variety.orders, "off_beats": variety.off_beats, "repeated": variety.repeated, "first": variety.first},
    })
}

/// All players, for a terminal.
pub fn text_overview(players: &[PlayerLine]) -> String {
    let mut out = String::from(
        "player               last day    all time      4 weeks      right  weakest of the last 90 days\n",
    );
    for player in players {
        let _ = writeln!(
            out,
            "{:<20} {:<11} {:<13} {:<12} {:<6} {}",
            player.name,
            player.last_day,
            time_words(player.seconds),
            time_words(player.recent_seconds),
            right_share(player),
            player.weakest_words()
        );
    }
    out
}

pub(super) fn right_share(player: &PlayerLine) -> String {
    match player.recent_asked {
        0 => "-".to_string(),
        asked => per_cent(f64::from(player.recent_right) / f64::from(asked)),
    }
}

/// All players, for programs.
pub fn json_overview(players: &[PlayerLine]) -> Value {
    let player = |player: &PlayerLine| {
        let weakest = player
            .weakest
            .iter()
            .map(|(name, asked, right)| json!({"skill": name, "asked": asked, "right": right}));
        json!({
            "player": player.name, "last_day": player.last_day, "takes": player.takes, "seconds": player.seconds,
            "seconds_4_weeks": player.recent_seconds, "asked_4_weeks": player.recent_asked,
            "right_4_weeks": player.recent_right, "weakest": weakest.collect::<Vec<_>>(),
        })
    };
    json!({"players": players.iter().map(player).collect::<Vec<_>>()})
}
