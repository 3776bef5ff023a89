//! Entries into tables: one transaction for all that waits.

use super::clock::Now;
use super::entry::{Act, ChosenNotes, Entry, TakeBegin, VerdictOn};
use super::schema::{RESULTS, TIMINGS, number_of};
use rusqlite::{Connection, OptionalExtension, Result, Transaction, params};
use std::collections::HashMap;

/// No take is longer: a clock that jumped would say so.
const LONGEST_S: f64 = 86_400.0;
/// A wall clock that moved by more was set.
const SET_MS: i64 = 2_000;
/// Gestures that are kept for the take that they begin.
const BEFORE: usize = 16;

/// An open journal that is written to.
#[derive(Debug)]
pub struct Store {
    db: Connection,
    take: Option<OpenTake>,
    ids: Ids,
    /// What the foot did since the last take.
    before: Vec<Act>,
}

/// The take that is written, and how much of it is.
#[derive(Debug, Clone)]
struct OpenTake {
    id: i64,
    begun_ms: i64,
    ended: bool,
    stages: i64,
    verdicts: i64,
    acts: i64,
    choices: i64,
}

/// Numbers of words that are kept once.
#[derive(Debug, Clone, Default)]
struct Ids {
    skills: HashMap<(String, String), i64>,
    circumstances: HashMap<[String; 4], i64>,
}

impl Store {
    /// Writes to this connection, whose tables are of this version.
    pub(super) fn new(db: Connection) -> Store {
        Store {
            db,
            take: None,
            ids: Ids::default(),
            before: Vec::new(),
        }
    }

    /// The connection, to read from.
    pub fn connection(&self) -> &Connection {
        &self.db
    }

    /// The connection, to change what is in it.
    pub fn connection_mut(&mut self) -> &mut Connection {
        &mut self.db
    }

    /// Whether what comes belongs to a take that this file knows.
    pub(super) fn has_take(&self) -> bool {
        self.take.is_some()
    }

    /// Writes all of it or nothing, safe from a power cut once it returns. Gives how many takes ended with it.
    ///
    /// # Errors
    /// When the disk is full, read-only or broken; then it is as if it had not been called.
    pub fn write(&mut self, entries: &[Entry], now: &Now) -> Result<u32> {
        let change = self.db.transaction()?;
        let mut at = Writing {
            db: &change,
            boot: boot(&change, now)?,
            take: self.take.clone(),
            ids: self.ids.clone(),
            before: self.before.clone(),
            ended: 0,
        };
        entries.iter().try_for_each(|entry| at.write(entry))?;
        let Writing {
            take,
            ids,
            before,
            ended,
            ..
        } = at;
        change.commit()?;
        (self.take, self.ids, self.before) = (take, ids, before);
        Ok(ended)
    }

    /// Brings what lies in the log into the file; for when nobody plays.
    ///
    /// # Errors
    /// When the disk refuses; nothing is lost then.
    pub fn checkpoint(&self) -> Result<()> {
        self.db
            .pragma_update_and_check(None, "wal_checkpoint", "TRUNCATE", |_| Ok(()))
    }
}

/// The row of the machine's run; its offset mended where the wall clock was set. A clock that is known to be right is not
/// mended by one that is not.
fn boot(db: &Transaction<'_>, now: &Now) -> Result<i64> {
    let offset_ms = now.wall_ms - now.boot_ms;
    let known = db
        .prepare_cached("SELECT id, offset_ms, synced FROM boots WHERE boot = ?1")?
        .query_row([&now.boot], |row| {
            Ok((row.get(0)?, row.get::<_, i64>(1)?, row.get::<_, bool>(2)?))
        })
        .optional()?;
    let Some((id, was_ms, was_synced)) = known else {
        db.execute(
            "INSERT INTO boots (boot, offset_ms, synced, seen_ms) VALUES (?1, ?2, ?3, ?4)",
            params![now.boot, offset_ms, now.synced, now.boot_ms],
        )?;
        return Ok(db.last_insert_rowid());
    };
    let is_better = now.synced || !was_synced;
    let moved = (offset_ms - was_ms).abs() > SET_MS || now.synced != was_synced;
    if is_better && moved {
        db.execute(
            "UPDATE boots SET offset_ms = ?2, synced = ?3, seen_ms = ?4 WHERE id = ?1",
            params![id, offset_ms, now.synced, now.boot_ms],
        )?;
    }
    Ok(id)
}

/// A transaction on its way.
struct Writing<'a> {
    db: &'a Transaction<'a>,
    boot: i64,
    take: Option<OpenTake>,
    ids: Ids,
    before: Vec<Act>,
    ended: u32,
}

impl Writing<'_> {
    fn write(&mut self, entry: &Entry) -> Result<()> {
        match entry {
            Entry::Begin(begin) => self.begin(begin),
            Entry::Stage { name, at_ms } => self.stage(name, *at_ms),
            Entry::Verdict(verdict) => self.verdict(verdict),
            Entry::Choice(choice) => self.choice(choice),
            Entry::Act(act) => self.act(act),
            Entry::End { at_ms } => self.end(*at_ms),
        }
    }

    fn begin(&mut self, begin: &TakeBegin) -> Result<()> {
        // One whose end was never told ended at the latest now.
        self.end(begin.at_ms)?;
        self.db.execute(
            "INSERT INTO players (name) VALUES (?1) ON CONFLICT DO NOTHING",
            [&begin.player],
        )?;
        self.db
            .prepare_cached(
                "INSERT INTO takes (uid, player, boot, begun_ms, seconds, ended, asked, right, chart, drill)
                 VALUES (randomblob(16), (SELECT id FROM players WHERE name = ?1), ?2, ?3, 0, 0, 0, 0, ?4, ?5)",
            )?
            .execute(params![begin.player, self.boot, begin.at_ms, begin.chart, begin.drill])?;
        self.take = Some(OpenTake {
            id: self.db.last_insert_rowid(),
            begun_ms: begin.at_ms,
            ended: false,
            stages: 0,
            verdicts: 0,
            acts: 0,
            choices: 0,
        });
        let before = std::mem::take(&mut self.before);
        before.iter().try_for_each(|act| self.act(act))
    }

    fn end(&mut self, at_ms: i64) -> Result<()> {
        let Some(take) = self.take.as_mut().filter(|take| !take.ended) else {
            return Ok(());
        };
        take.ended = true;
        self.ended += 1;
        let (id, seconds) = (take.id, seconds(take.begun_ms, at_ms));
        self.db
            .prepare_cached("UPDATE takes SET seconds = max(seconds, ?2), ended = 1 WHERE id = ?1")?
            .execute(params![id, seconds])?;
        Ok(())
    }

    fn stage(&mut self, name: &str, at_ms: i64) -> Result<()> {
        let Some(take) = &mut self.take else {
            return Ok(());
        };
        take.stages += 1;
        self.db
            .prepare_cached("INSERT INTO stages (take, n, at_ms, name) VALUES (?1, ?2, ?3, ?4)")?
            .execute(params![take.id, take.stages, at_ms - take.begun_ms, name])?;
        Ok(())
    }

    fn verdict(&mut self, verdict: &VerdictOn) -> Result<()> {
        let skill = self.skill(verdict)?;
        let circumstance = self.circumstance(verdict)?;
        let Some(take) = &mut self.take else {
            return Ok(());
        };
        take.verdicts += 1;
        let result = number_of(&RESULTS, verdict.result);
        let timing = number_of(&TIMINGS, verdict.timing);
        // Whole numbers take fewer bytes.
        let late_ms = verdict.late_ms.map(f64::round);
        self.db
            .prepare_cached(
                "INSERT INTO verdicts (take, n, stage, at_ms, skill, circumstance, tempo_qpm, result, timing, late_ms, found)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
            )?
            .execute(params![
                take.id,
                take.verdicts,
                take.stages,
                verdict.at_ms - take.begun_ms,
                skill,
                circumstance,
                verdict.tempo_qpm.round(),
                result,
                timing,
                late_ms,
                verdict.found
            ])?;
        let (id, ended) = (take.id, take.ended);
        let length = seconds(take.begun_ms, verdict.at_ms);
        let is_clear = verdict.result != "not judged";
        let is_right = verdict.result == "right";
        let in_time = is_right && matches!(verdict.timing, "in time" | "pushed");
        self.db
            .prepare_cached(
                "UPDATE takes SET asked = asked + ?2, right = right + ?3,
                 seconds = CASE WHEN ?4 THEN seconds ELSE max(seconds, ?5) END WHERE id = ?1",
            )?
            .execute(params![id, is_clear, is_right, ended, length])?;
        if is_clear {
            self.db
                .prepare_cached(
                    "INSERT INTO tallies (take, skill, asked, right, in_time) VALUES (?1, ?2, 1, ?3, ?4)
                     ON CONFLICT DO UPDATE SET asked = asked + 1, right = right + ?3, in_time = in_time + ?4",
                )?
                .execute(params![id, skill, is_right, in_time])?;
        }
        Ok(())
    }

    fn choice(&mut self, choice: &ChosenNotes) -> Result<()> {
        let Some(take) = &mut self.take else {
            return Ok(());
        };
        take.choices += 1;
        self.db
            .prepare_cached(
                "INSERT INTO choices (take, n, stage, at_ms, notes, degrees, octaves, positions, beats, off_beats, orders, repeated)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
            )?
            .execute(params![
                take.id,
                take.choices,
                take.stages,
                choice.at_ms - take.begun_ms,
                choice.notes,
                choice.degrees,
                choice.octaves,
                choice.positions,
                choice.beats,
                choice.off_beats,
                choice.orders,
                choice.repeated
            ])?;
        Ok(())
    }

    fn act(&mut self, act: &Act) -> Result<()> {
        let Some(take) = self.take.as_mut().filter(|take| !take.ended) else {
            // It may be the one that begins the next take.
            self.before.push(act.clone());
            let over = self.before.len().saturating_sub(BEFORE);
            self.before.drain(..over);
            return Ok(());
        };
        take.acts += 1;
        self.db
            .prepare_cached(
                "INSERT INTO acts (take, n, at_ms, switch, gesture, action) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![
                take.id,
                take.acts,
                act.at_ms - take.begun_ms,
                act.switch,
                act.gesture,
                act.action
            ])?;
        Ok(())
    }

    fn skill(&mut self, verdict: &VerdictOn) -> Result<i64> {
        let words = (verdict.quality.clone(), verdict.degree.clone());
        if let Some(id) = self.ids.skills.get(&words) {
            return Ok(*id);
        }
        let id = skill_id(self.db, &words.0, &words.1)?;
        self.ids.skills.insert(words, id);
        Ok(id)
    }

    fn circumstance(&mut self, verdict: &VerdictOn) -> Result<i64> {
        let words =
            [&verdict.key, &verdict.root, &verdict.place, &verdict.region].map(Clone::clone);
        if let Some(id) = self.ids.circumstances.get(&words) {
            return Ok(*id);
        }
        let id = circumstance_id(self.db, [&words[0], &words[1], &words[2], &words[3]])?;
        self.ids.circumstances.insert(words, id);
        Ok(id)
    }
}

/// The number of a skill; a new one where there is none.
pub(super) fn skill_id(db: &Connection, quality: &str, degree: &str) -> Result<i64> {
    db.prepare_cached(
        "INSERT INTO skills (quality, degree) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
    )?
    .execute([quality, degree])?;
    db.prepare_cached("SELECT id FROM skills WHERE quality = ?1 AND degree = ?2")?
        .query_row([quality, degree], |row| row.get(0))
}

/// The number of what stood around a note: key, root, place, region.
pub(super) fn circumstance_id(db: &Connection, words: [&str; 4]) -> Result<i64> {
    db.prepare_cached(
        "INSERT INTO circumstances (key, root, place, region) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
    )?
    .execute(words)?;
    db.prepare_cached(
        "SELECT id FROM circumstances WHERE key = ?1 AND root = ?2 AND place = ?3 AND region = ?4",
    )?
    .query_row(words, |row| row.get(0))
}

/// How long something lasted: never less than nothing, never more than a day.
fn seconds(from_ms: i64, to_ms: i64) -> f64 {
    (to_ms.saturating_sub(from_ms) as f64 / 1_000.0).clamp(0.0, LONGEST_S)
}
