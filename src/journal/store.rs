//! Entries into tables: one transaction for all that waits.
//!
//! A commit that failed may have come through all the same, and the file may be another one than at the last commit. So a take
//! is looked up at each transaction, its rows are numbered by what was told and not by what is there, and a row that is there
//! already stays: whatever is written twice is there once.

use super::boots::boot;
use super::clock::Now;
use super::entry::{Act, ChosenNotes, Entry, TakeBegin, VerdictOn};
use super::rows::{circumstance_id, insert_stage, insert_take, seconds, skill_id};
use super::schema::{RESULTS, TIMINGS, begin_change, number_of};
use rusqlite::{Connection, OptionalExtension, Result, Transaction, params};
use std::collections::HashMap;

/// Gestures that are kept for the take that they begin.
const BEFORE: usize = 16;

/// An open journal that is written to.
#[derive(Debug)]
pub struct Store {
    db: Connection,
    progress: Progress,
    ids: Ids,
}

/// How far the writing is, whatever file it goes to.
#[derive(Debug, Clone, Default)]
pub(super) struct Progress {
    take: Option<OpenTake>,
    /// What the foot did since the last take.
    before: Vec<Act>,
}

/// The take that is written, and how much of it is.
#[derive(Debug, Clone)]
struct OpenTake {
    id: i64,
    uid: Vec<u8>,
    begin: TakeBegin,
    ended: bool,
    /// The stage that is played, and since when.
    stage: Option<(String, i64)>,
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
            progress: Progress::default(),
            ids: Ids::default(),
        }
    }

    /// Goes on where another one was.
    pub(super) fn going_on(mut self, progress: Progress) -> Store {
        self.progress = progress;
        self
    }

    /// Closes the file; where another one goes on.
    pub(super) fn into_progress(self) -> Progress {
        self.progress
    }

    /// The connection, to read from.
    pub fn connection(&self) -> &Connection {
        &self.db
    }

    /// The connection, to change what is in it.
    pub fn connection_mut(&mut self) -> &mut Connection {
        &mut self.db
    }

    /// Writes all of it or nothing, safe from a power cut once it returns. Gives how many takes ended with it.
    ///
    /// # Errors
    /// When the disk is full, read-only or broken; then it is as if it had not been called.
    pub fn write(&mut self, entries: &[Entry], now: &Now) -> Result<u32> {
        let change = begin_change(&mut self.db)?;
        let Progress { take, before } = self.progress.clone();
        let mut at = Writing {
            db: &change,
            boot: boot(&change, now)?,
            take,
            ids: self.ids.clone(),
            before,
            ended: 0,
        };
        at.find_take()?;
        entries.iter().try_for_each(|entry| at.write(entry))?;
        let Writing {
            take,
            ids,
            before,
            ended,
            ..
        } = at;
        change.commit()?;
        (self.progress, self.ids) = (Progress { take, before }, ids);
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

    /// The number that the take has in this file now; where it is not there (the file is another one, or somebody deleted it) it
    /// goes on under a new one.
    fn find_take(&mut self) -> Result<()> {
        let Some(mut take) = self.take.take() else {
            return Ok(());
        };
        let found = self
            .db
            .prepare_cached("SELECT id FROM takes WHERE uid = ?1")?
            .query_row([&take.uid], |row| row.get(0))
            .optional()?;
        take.id = match found {
            Some(id) => id,
            // Nothing is left to say of it.
            None if take.ended => return Ok(()),
            None => {
                let id = insert_take(self.db, self.boot, &take.begin, &take.uid)?;
                if let Some((name, at_ms)) = &take.stage {
                    let since_ms = at_ms - take.begin.at_ms;
                    insert_stage(self.db, (id, take.stages), since_ms, name)?;
                }
                id
            }
        };
        self.take = Some(take);
        Ok(())
    }

    fn begin(&mut self, begin: &TakeBegin) -> Result<()> {
        // One whose end was never told ended at the latest now.
        self.end(begin.at_ms)?;
        let known = self
            .db
            .prepare_cached(
                "SELECT id, uid FROM takes WHERE player = (SELECT id FROM players WHERE name = ?1) AND boot = ?2
                 AND begun_ms = ?3 AND chart = ?4",
            )?
            .query_row(params![begin.player, self.boot, begin.at_ms, begin.chart], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .optional()?;
        let (id, uid) = match known {
            Some(known) => known,
            None => {
                let uid: Vec<u8> = self
                    .db
                    .query_row("SELECT randomblob(16)", [], |row| row.get(0))?;
                (insert_take(self.db, self.boot, begin, &uid)?, uid)
            }
        };
        self.take = Some(OpenTake {
            id,
            uid,
            begin: begin.clone(),
            ended: false,
            stage: None,
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
        let (id, seconds) = (take.id, seconds(take.begin.at_ms, at_ms));
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
        take.stage = Some((name.to_string(), at_ms));
        let since_ms = at_ms - take.begin.at_ms;
        insert_stage(self.db, (take.id, take.stages), since_ms, name)
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
        let new = self
            .db
            .prepare_cached(
                "INSERT INTO verdicts (take, n, stage, at_ms, skill, circumstance, tempo_qpm, result, timing, late_ms, found)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11) ON CONFLICT DO NOTHING",
            )?
            .execute(params![
                take.id,
                take.verdicts,
                take.stages,
                verdict.at_ms - take.begin.at_ms,
                skill,
                circumstance,
                verdict.tempo_qpm.round(),
                result,
                timing,
                late_ms,
                verdict.found
            ])?;
        if new == 0 {
            return Ok(());
        }
        let (id, ended) = (take.id, take.ended);
        let length = seconds(take.begin.at_ms, verdict.at_ms);
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
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12) ON CONFLICT DO NOTHING",
            )?
            .execute(params![
                take.id,
                take.choices,
                take.stages,
                choice.at_ms - take.begin.at_ms,
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
                "INSERT INTO acts (take, n, at_ms, switch, gesture, action) VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT DO NOTHING",
            )?
            .execute(params![
                take.id,
                take.acts,
                act.at_ms - take.begin.at_ms,
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
