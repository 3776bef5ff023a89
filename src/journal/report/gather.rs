//! A report from the tables.

use super::dates::{DAY_MS, Dates, begin_ms, date_of, monday_of};
use super::learned::{Learned, Lexicon, Numbers};
use super::model::{PlayerLine, Report, SkillReport, Variety, Week};
use crate::journal::reading::{player_id, players, words};
use crate::journal::skill::{Estimator, Trial};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use rusqlite::{Connection, Result, params};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A longer gap is a break, or a clock that was never set: not each week of it is told of.
const LONGEST_GAP_WEEKS: i64 = 52;
/// At which tempo skills are compared.
const TEMPO_QPM: f64 = 120.0;

/// What there is to tell of a player at a moment; `since` leaves out what was before, but for what is thought of the skills.
///
/// # Errors
/// When the file cannot be read.
pub fn gather(
    db: &Connection,
    player: &str,
    now_ms: i64,
    since: Option<Date>,
) -> Result<Option<Report>> {
    let Some(id) = player_id(db, player)? else {
        return Ok(None);
    };
    let zone = TimeZone::system();
    let mut gathered = Gathered::of(db, id, &zone, since)?;
    let (skills, around) = skills(db, id, (now_ms, &zone), &mut gathered)?;
    Ok(Some(Report {
        player: player.to_string(),
        today: date_of(now_ms, &zone).to_string(),
        since: since.map(|day| day.to_string()),
        takes: gathered.takes,
        seconds: gathered.seconds,
        days: gathered.days.len() as u32,
        asked: gathered.weeks.values().map(|week| week.asked).sum(),
        right: gathered.weeks.values().map(|week| week.right).sum(),
        weeks: gathered.weeks.into_values().collect(),
        skills,
        around,
        variety: variety(db, id, since.map(|day| begin_ms(day, &zone)))?,
    }))
}

#[derive(Default)]
struct Gathered {
    takes: u32,
    seconds: f64,
    days: BTreeSet<Date>,
    /// By Monday, with none left out.
    weeks: BTreeMap<Date, Week>,
    /// By skill and Monday: asked for, right.
    skills: HashMap<i64, BTreeMap<Date, (u32, u32)>>,
}

impl Gathered {
    fn of(db: &Connection, player: i64, zone: &TimeZone, since: Option<Date>) -> Result<Gathered> {
        let from_ms = since.map_or(i64::MIN, |day| begin_ms(day, zone));
        let mut gathered = Gathered::default();
        let mut mondays: HashMap<i64, Date> = HashMap::new();
        let mut takes = db.prepare(
            "SELECT t.id, b.offset_ms + t.begun_ms AS at, seconds, asked, right FROM takes t JOIN boots b ON b.id = t.boot
             WHERE t.player = ?1 AND at >= ?2 ORDER BY at",
        )?;
        let mut rows = takes.query(params![player, from_ms])?;
        while let Some(row) = rows.next()? {
            let day = date_of(row.get(1)?, zone);
            let seconds: f64 = row.get(2)?;
            gathered.takes += 1;
            gathered.seconds += seconds;
            gathered.days.insert(day);
            let week = gathered.week(monday_of(day));
            week.seconds += seconds;
            week.asked += row.get::<_, u32>(3)?;
            week.right += row.get::<_, u32>(4)?;
            mondays.insert(row.get(0)?, monday_of(day));
        }
        gathered.fill();
        let mut tallies = db.prepare(
            "SELECT y.take, y.skill, y.asked, y.right FROM takes t JOIN tallies y ON y.take = t.id WHERE t.player = ?1",
        )?;
        let mut rows = tallies.query([player])?;
        while let Some(row) = rows.next()? {
            if let Some(monday) = mondays.get(&row.get(0)?) {
                let weeks = gathered.skills.entry(row.get(1)?).or_default();
                let (asked, right) = weeks.entry(*monday).or_default();
                *asked += row.get::<_, u32>(2)?;
                *right += row.get::<_, u32>(3)?;
            }
        }
        Ok(gathered)
    }

    fn week(&mut self, monday: Date) -> &mut Week {
        self.weeks.entry(monday).or_insert_with(|| Week {
            begins: monday.to_string(),
            seconds: 0.0,
            asked: 0,
            right: 0,
        })
    }

    /// A week without practice is a week, but for those of a long gap.
    fn fill(&mut self) {
        let known: Vec<Date> = self.weeks.keys().copied().collect();
        for pair in known.windows(2) {
            let weeks = i64::from((pair[1] - pair[0]).get_days()) / 7;
            let between = (1..weeks).filter(|_| weeks <= LONGEST_GAP_WEEKS);
            for monday in
                between.filter_map(|n| pair[0].checked_add(jiff::Span::new().days(7 * n)).ok())
            {
                self.week(monday);
            }
        }
    }
}

type Around = Vec<(&'static str, String, f64)>;

fn skills(
    db: &Connection,
    player: i64,
    (now_ms, zone): (i64, &TimeZone),
    gathered: &mut Gathered,
) -> Result<(Vec<SkillReport>, Around)> {
    let (lexicon, mut dates) = (Lexicon::of(db)?, Dates::of(zone));
    let learned = Learned::of(db, player, &lexicon, &mut dates)?;
    let Learned {
        estimator,
        counted,
        share,
    } = learned;
    let (today, date) = (now_ms as f64 / DAY_MS, dates.number(now_ms));
    let mut told = Vec::new();
    for (id, ([degree, quality], numbers)) in &lexicon.skills {
        let Some(count) = counted.get(id) else {
            continue;
        };
        let trial = |day: f64| Trial {
            day,
            date,
            skill: numbers[0],
            degree: numbers[1],
            quality: numbers[2],
            around: [0; 3],
            tempo_qpm: TEMPO_QPM,
        };
        let estimate = estimator.of_skill(&trial(today));
        let then = estimator.of_skill(&trial(estimate.last_day));
        let weeks = gathered.skills.remove(id).unwrap_or_default();
        let week = |monday: &Date| weeks.get(monday).copied().unwrap_or_default();
        told.push(SkillReport {
            degree: degree.clone(),
            quality: quality.clone(),
            estimate,
            in_time: f64::from(count.in_time) / f64::from(count.right.max(1)),
            tempo_reached: estimator.tempo_reached(&trial(today)),
            days_ago: (today - estimate.last_day).max(0.0),
            nights: u32::try_from(date - count.last_date).unwrap_or(0),
            lost: (then.right - estimate.right).max(0.0),
            weeks: gathered.weeks.keys().map(week).collect(),
        });
    }
    told.sort_by(|one, other| one.estimate.right.total_cmp(&other.estimate.right));
    Ok((told, clearly_other(&estimator, lexicon.numbers, share)))
}

/// Keys, places and regions that are surely harder or easier than others, for a player of whose notes such a `share` is right.
fn clearly_other(estimator: &Estimator, numbers: [Numbers; 3], share: f64) -> Around {
    let usual = (share / (1.0 - share)).ln();
    let mut told = Around::new();
    for (kind, (name, numbers)) in ["key", "place", "region"]
        .into_iter()
        .zip(numbers)
        .enumerate()
    {
        for (word, number) in numbers.0.into_iter().filter(|(word, _)| !word.is_empty()) {
            let (mean, deviation) = estimator.of_around(kind, number);
            if mean.abs() > 2.0 * deviation && mean.abs() > 0.2 {
                let there = 1.0 / (1.0 + (-usual - mean).exp());
                told.push((name, word, 100.0 * (there - share)));
            }
        }
    }
    told.sort_by(|one, other| one.2.total_cmp(&other.2).then_with(|| one.1.cmp(&other.1)));
    told
}

fn variety(db: &Connection, player: i64, from_ms: Option<i64>) -> Result<Variety> {
    let mut rows = db.prepare(
        "SELECT c.degrees, c.notes, c.octaves, c.positions, c.beats, c.off_beats, c.orders, c.repeated FROM choices c
         JOIN takes t ON t.id = c.take JOIN boots b ON b.id = t.boot
         WHERE t.player = ?1 AND c.notes > 0 AND (?2 IS NULL OR b.offset_ms + t.begun_ms >= ?2)",
    )?;
    let mut rows = rows.query(params![player, from_ms])?;
    let mut variety = Variety::default();
    let (mut off, mut again, mut first) = (0u32, 0u32, BTreeMap::<String, u32>::new());
    while let Some(row) = rows.next()? {
        let degrees: String = row.get(0)?;
        variety.passes += 1;
        variety.notes += row.get::<_, u32>(1)?;
        variety.degrees += degrees.split_whitespace().count() as f64;
        variety.octaves += row.get::<_, f64>(2)?;
        variety.positions += row.get::<_, f64>(3)?;
        variety.beats += row.get::<_, f64>(4)?;
        off += row.get::<_, u32>(5)?;
        variety.orders += row.get::<_, f64>(6)?;
        again += row.get::<_, u32>(7)?;
        if let Some(degree) = degrees.split_whitespace().next() {
            *first.entry(degree.to_string()).or_default() += 1;
        }
    }
    let passes = f64::from(variety.passes.max(1));
    for mean in [
        &mut variety.degrees,
        &mut variety.octaves,
        &mut variety.positions,
        &mut variety.beats,
        &mut variety.orders,
    ] {
        *mean /= passes;
    }
    variety.repeated = f64::from(again) / f64::from(variety.notes.max(1));
    variety.off_beats = f64::from(off) / f64::from(variety.notes.max(1));
    variety.first = first.into_iter().collect();
    variety
        .first
        .sort_by_key(|(degree, times)| (std::cmp::Reverse(*times), degree.clone()));
    Ok(variety)
}

/// All players of a journal, a line each.
///
/// # Errors
/// When the file cannot be read.
pub fn overview(db: &Connection, now_ms: i64) -> Result<Vec<PlayerLine>> {
    let zone = TimeZone::system();
    let days_ago = |days: f64| now_ms - (days * DAY_MS) as i64;
    let names: HashMap<i64, [String; 2]> = words(db, ["degree", "quality"], "skills")?
        .into_iter()
        .collect();
    let mut recent = db.prepare(
        "SELECT coalesce(sum(seconds), 0), coalesce(sum(asked), 0), coalesce(sum(right), 0) FROM takes t
         JOIN boots b ON b.id = t.boot WHERE t.player = ?1 AND b.offset_ms + t.begun_ms >= ?2",
    )?;
    let mut weak = db.prepare(
        "SELECT y.skill, sum(y.asked) AS notes, sum(y.right) AS fine FROM takes t JOIN boots b ON b.id = t.boot
         JOIN tallies y ON y.take = t.id WHERE t.player = ?1 AND b.offset_ms + t.begun_ms >= ?2
         GROUP BY y.skill HAVING notes >= 8 ORDER BY (fine + 1.0) / (notes + 2.0) LIMIT 3",
    )?;
    let mut lines = Vec::new();
    for player in players(db)? {
        let id = player_id(db, &player.name)?;
        let (recent_seconds, recent_asked, recent_right) = recent
            .query_row(params![id, days_ago(28.0)], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?))
            })?;
        let weakest = weak.query_map(params![id, days_ago(90.0)], |row| {
            let [degree, quality] = names.get(&row.get(0)?).cloned().unwrap_or_default();
            Ok((format!("{degree} over {quality}"), row.get(1)?, row.get(2)?))
        })?;
        lines.push(PlayerLine {
            last_day: date_of(player.last_ms, &zone).to_string(),
            takes: u32::try_from(player.takes).unwrap_or(u32::MAX),
            seconds: player.seconds,
            recent_seconds,
            recent_asked,
            recent_right,
            weakest: weakest.collect::<Result<_>>()?,
            name: player.name,
        });
    }
    Ok(lines)
}
