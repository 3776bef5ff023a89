//! Two journals made one: the union of their rows. A take has a random id, its rows are numbered within it, so that no two
//! rows contradict each other, in whatever order and how often files are merged. Players are one by their names.

use super::inspect::open_to_read;
use super::rows::{circumstance_id, skill_id};
use super::schema::{VERSION, begin_change, version};
use super::trouble::{Trouble, told};
use rusqlite::{Connection, Result, Row, Transaction, params};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;

/// What came of a merge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Merged {
    /// Takes that were not there before.
    pub takes: u64,
    /// Verdicts that were not there before.
    pub verdicts: u64,
}

/// Takes over from the journal at `from` what `into` does not have; all of it as the practice of `player`, where one is named.
///
/// # Errors
/// When it is no journal of this version, or cannot be read or written; then nothing was taken over.
pub fn merge(
    into: &mut Connection,
    from: &Path,
    player: Option<&str>,
) -> std::result::Result<Merged, Trouble> {
    let other = open_to_read(from)?;
    let is = version(&other).map_err(|error| told(from, &error))?;
    if is != VERSION {
        let why = "an older underfoot wrote it: open it once with this one (journal backup)";
        return Err(Trouble::Unusable(format!("{}: {why}", from.display())));
    }
    let change = begin_change(into).map_err(|error| told(from, &error))?;
    let merged = take_over(&change, &other, player).map_err(|error| told(from, &error))?;
    change.commit().map_err(|error| told(from, &error))?;
    Ok(merged)
}

/// The players of a journal, each with the runs of machines on which they played.
fn boots_of_players(db: &Connection) -> Result<BTreeMap<String, BTreeSet<String>>> {
    let sql = "SELECT DISTINCT p.name, b.boot FROM takes t JOIN players p ON p.id = t.player JOIN boots b ON b.id = t.boot";
    let mut rows = db.prepare(sql)?;
    let mut rows = rows.query([])?;
    let mut players: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    while let Some(row) = rows.next()? {
        players.entry(row.get(0)?).or_default().insert(row.get(1)?);
    }
    Ok(players)
}

/// Names that both journals have, of players who never sat at the same box: they may be two people.
///
/// # Errors
/// When one of them cannot be read.
pub fn namesakes(one: &Connection, other: &Connection) -> Result<Vec<String>> {
    let (ours, theirs) = (boots_of_players(one)?, boots_of_players(other)?);
    let are_apart = |name: &String, boots: &BTreeSet<String>| {
        ours.get(name).is_some_and(|known| known.is_disjoint(boots))
    };
    let apart = theirs
        .into_iter()
        .filter(|(name, boots)| are_apart(name, boots));
    Ok(apart.map(|(name, _)| name).collect())
}

/// What can still be read of a damaged journal: everything up to the first page that cannot, table by table. Gives the takes.
pub(super) fn salvage(into: &mut Connection, from: &Path) -> u64 {
    let is_readable = |other: &Connection| version(other).is_ok_and(|is| is == VERSION);
    let Some(other) = open_to_read(from).ok().filter(is_readable) else {
        return 0;
    };
    let Ok(change) = begin_change(into) else {
        return 0;
    };
    let mut copy = Copy::new(&change, &other, None);
    // What a step copied before it failed stays.
    let _ = copy.takes();
    let _ = copy.verdicts();
    let _ = copy.lists();
    let takes = copy.merged.takes;
    let kept = copy.tally().and_then(|()| change.commit());
    if kept.is_ok() { takes } else { 0 }
}

fn take_over(change: &Transaction<'_>, other: &Connection, player: Option<&str>) -> Result<Merged> {
    let mut copy = Copy::new(change, other, player);
    copy.takes()?;
    copy.verdicts()?;
    copy.lists()?;
    copy.tally()?;
    Ok(copy.merged)
}

struct Copy<'a> {
    into: &'a Transaction<'a>,
    from: &'a Connection,
    /// Whose practice all of it is, where that is told.
    player: Option<&'a str>,
    /// The number that a take of theirs has with us.
    takes: HashMap<i64, i64>,
    /// Takes of ours that got verdicts.
    changed: Vec<i64>,
    merged: Merged,
}

impl<'a> Copy<'a> {
    fn new(into: &'a Transaction<'a>, from: &'a Connection, player: Option<&'a str>) -> Copy<'a> {
        Copy {
            into,
            from,
            player,
            takes: HashMap::new(),
            changed: Vec::new(),
            merged: Merged::default(),
        }
    }

    /// Hands each row of theirs to `take_in`.
    fn each(
        &mut self,
        sql: &str,
        mut take_in: impl FnMut(&mut Self, &Row<'_>) -> Result<()>,
    ) -> Result<()> {
        let from = self.from;
        let mut rows = from.prepare(sql)?;
        let mut rows = rows.query([])?;
        while let Some(row) = rows.next()? {
            take_in(self, row)?;
        }
        Ok(())
    }

    fn takes(&mut self) -> Result<()> {
        let sql = "SELECT t.id, uid, p.name, b.boot, b.offset_ms, b.synced, b.seen_ms, begun_ms, seconds, ended, chart, drill
            FROM takes t JOIN players p ON p.id = t.player JOIN boots b ON b.id = t.boot ORDER BY t.id";
        self.each(sql, |copy, row| {
            let into = copy.into;
            let uid: Vec<u8> = row.get(1)?;
            let (theirs, boot): (String, String) = (row.get(2)?, row.get(3)?);
            let player = copy.player.unwrap_or(&theirs);
            into.prepare_cached("INSERT INTO players (name) VALUES (?1) ON CONFLICT DO NOTHING")?
                .execute([player])?;
            // Of two words about one boot the surer one counts, of equally sure ones the later: in any order of merging.
            into.prepare_cached(
                "INSERT INTO boots (boot, offset_ms, synced, seen_ms) VALUES (?1, ?2, ?3, ?4) ON CONFLICT (boot) DO UPDATE
                 SET offset_ms = excluded.offset_ms, synced = excluded.synced, seen_ms = excluded.seen_ms
                 WHERE (excluded.synced, excluded.seen_ms, excluded.offset_ms) > (synced, seen_ms, offset_ms)",
            )?
            .execute(params![boot, row.get::<_, i64>(4)?, row.get::<_, bool>(5)?, row.get::<_, i64>(6)?])?;
            let known = into
                .prepare_cached("SELECT count(*) FROM takes WHERE uid = ?1")?
                .query_row([&uid], |row| row.get::<_, i64>(0))?;
            into.prepare_cached(
                "INSERT INTO takes (uid, player, boot, begun_ms, seconds, ended, asked, right, chart, drill)
                 VALUES (?1, (SELECT id FROM players WHERE name = ?2), (SELECT id FROM boots WHERE boot = ?3), ?4, ?5, ?6,
                 0, 0, ?7, ?8) ON CONFLICT (uid) DO UPDATE
                 SET seconds = max(seconds, excluded.seconds), ended = max(ended, excluded.ended),
                 player = CASE WHEN ?9 THEN excluded.player ELSE player END",
            )?
            .execute(params![
                uid,
                player,
                boot,
                row.get::<_, i64>(7)?,
                row.get::<_, f64>(8)?,
                row.get::<_, i64>(9)?,
                row.get::<_, String>(10)?,
                row.get::<_, String>(11)?,
                copy.player.is_some()
            ])?;
            let ours = into
                .prepare_cached("SELECT id FROM takes WHERE uid = ?1")?
                .query_row([&uid], |row| row.get(0))?;
            copy.merged.takes += u64::from(known == 0);
            copy.takes.insert(row.get(0)?, ours);
            Ok(())
        })
    }

    fn verdicts(&mut self) -> Result<()> {
        let mut skills: HashMap<i64, i64> = HashMap::new();
        self.each("SELECT id, quality, degree FROM skills", |copy, row| {
            let id = skill_id(
                copy.into,
                &row.get::<_, String>(1)?,
                &row.get::<_, String>(2)?,
            )?;
            skills.insert(row.get(0)?, id);
            Ok(())
        })?;
        let mut around: HashMap<i64, i64> = HashMap::new();
        self.each(
            "SELECT id, key, root, place, region FROM circumstances",
            |copy, row| {
                let words: [String; 4] = [row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?];
                let id = circumstance_id(copy.into, [&words[0], &words[1], &words[2], &words[3]])?;
                around.insert(row.get(0)?, id);
                Ok(())
            },
        )?;
        let sql = "SELECT take, n, stage, at_ms, skill, circumstance, tempo_qpm, result, timing, late_ms, found
            FROM verdicts ORDER BY take, n";
        self.each(sql, |copy, row| {
            let theirs: i64 = row.get(0)?;
            let words = (skills.get(&row.get(4)?), around.get(&row.get(5)?));
            let (Some(take), (Some(skill), Some(circumstance))) = (copy.takes.get(&theirs), words) else {
                return Ok(());
            };
            let new = copy
                .into
                .prepare_cached(
                    "INSERT INTO verdicts (take, n, stage, at_ms, skill, circumstance, tempo_qpm, result, timing, late_ms, found)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11) ON CONFLICT DO NOTHING",
                )?
                .execute(params![
                    take,
                    row.get::<_, i64>(1)?,
                    row.get::<_, i64>(2)?,
                    row.get::<_, i64>(3)?,
                    skill,
                    circumstance,
                    row.get::<_, f64>(6)?,
                    row.get::<_, i64>(7)?,
                    row.get::<_, i64>(8)?,
                    row.get::<_, Option<f64>>(9)?,
                    row.get::<_, bool>(10)?
                ])?;
            if new > 0 && copy.changed.last() != Some(take) {
                copy.changed.push(*take);
            }
            copy.merged.verdicts += new as u64;
            Ok(())
        })
    }

    /// Stages, gestures, choices, skipped proposals.
    fn lists(&mut self) -> Result<()> {
        let tables = [
            ("stages", "n, at_ms, name"),
            ("acts", "n, at_ms, switch, gesture, action"),
            (
                "choices",
                "n, stage, at_ms, notes, degrees, octaves, positions, beats, off_beats, orders, repeated",
            ),
        ];
        for (table, columns) in tables {
            let count = columns.split(',').count();
            let marks: Vec<String> = (2..count + 2).map(|n| format!("?{n}")).collect();
            let insert = format!(
                "INSERT INTO {table} (take, {columns}) VALUES (?1, {}) ON CONFLICT DO NOTHING",
                marks.join(", ")
            );
            self.each(
                &format!("SELECT take, {columns} FROM {table} ORDER BY take, n"),
                |copy, row| {
                    let Some(take) = copy.takes.get(&row.get(0)?) else {
                        return Ok(());
                    };
                    let mut values = vec![rusqlite::types::Value::Integer(*take)];
                    for column in 1..=count {
                        values.push(row.get(column)?);
                    }
                    copy.into
                        .prepare_cached(&insert)?
                        .execute(rusqlite::params_from_iter(values))?;
                    Ok(())
                },
            )?;
        }
        self.each("SELECT player, day, item FROM skipped", |copy, row| {
            let theirs: String = row.get(0)?;
            let player = copy.player.map_or(theirs, str::to_string);
            let words: [String; 3] = [player, row.get(1)?, row.get(2)?];
            copy.into
                .prepare_cached("INSERT INTO skipped (player, day, item) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING")?
                .execute(words)?;
            Ok(())
        })
    }

    /// Counts anew what the takes that got verdicts come to.
    fn tally(&self) -> Result<()> {
        for take in &self.changed {
            self.into
                .prepare_cached("DELETE FROM tallies WHERE take = ?1")?
                .execute([take])?;
            self.into
                .prepare_cached(
                    "INSERT INTO tallies (take, skill, asked, right, in_time)
                     SELECT take, skill, count(*), sum(result = 0), sum(result = 0 AND timing IN (1, 4))
                     FROM verdicts WHERE take = ?1 AND result != 4 GROUP BY skill",
                )?
                .execute([take])?;
            self.into
                .prepare_cached(
                    "UPDATE takes SET (asked, right) =
                     (SELECT coalesce(sum(asked), 0), coalesce(sum(right), 0) FROM tallies WHERE take = ?1) WHERE id = ?1",
                )?
                .execute([take])?;
        }
        Ok(())
    }
}
