//! When what waits is written: at a take's end, and now and then while playing. Nothing is written while nothing happened, but
//! for a wall clock that was set.
//!
//! What cannot be written is held, told once, and tried again.

use super::boots::known_offset;
use super::clock::{Now, WallOffset};
use super::entry::Entry;
use super::opening::Opened;
use super::store::{Progress, Store};
use super::trouble::{Trouble, told};
use std::path::Path;

/// While playing at most this often.
const WHILE_PLAYING_MS: i64 = 60_000;
/// After a take's end: until then its last notes have their names, so that one transaction does for all.
const AFTER_END_MS: i64 = 700;
/// A wall clock that was set is noted at most this often, and looked for this often while it is not known to be right.
const CLOCK_MS: i64 = 10_000;
/// What did not go is tried again after this long.
const AGAIN_MS: i64 = 30_000;
/// So many transactions may wait in the log before they are brought into the file, while nobody plays ...
const LOG_TRANSACTIONS: u32 = 64;
/// ... for this long.
const QUIET_MS: i64 = 30_000;
/// What is held at the most, some hours of playing ...
const HELD: usize = 200_000;
/// ... beyond that so many of the oldest notes go at once.
const GIVEN_UP: usize = 1_000;

/// What came of a turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// So many takes that ended are safe now.
    Kept(u32),
    /// Something the player should know, once.
    Told(String),
}

/// What opens the journal.
pub type Opener = Box<dyn FnMut(&Now) -> Result<Opened, Trouble> + Send>;

/// What waits, and where it is written to.
pub struct Writer {
    opener: Opener,
    store: Option<Store>,
    /// Where the last file was, while none is open.
    progress: Progress,
    waiting: Vec<Entry>,
    is_playing: bool,
    /// When the take ended that is not written yet.
    ended_ms: Option<i64>,
    last_ms: i64,
    again_ms: i64,
    /// What is written of the wall clock.
    clock: Option<WallOffset>,
    /// What an earlier program wrote of it in this run of the machine is not known yet.
    looks_back: bool,
    in_log: u32,
    told: bool,
    /// Entries that were given up.
    lost: u64,
    transactions: u64,
}

impl std::fmt::Debug for Writer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Writer")
            .field("waiting", &self.waiting.len())
            .field("store", &self.store)
            .finish_non_exhaustive()
    }
}

impl Writer {
    /// Writes to what `opener` opens, when there is something to write.
    pub fn new(opener: Opener) -> Writer {
        Writer {
            opener,
            store: None,
            progress: Progress::default(),
            waiting: Vec::new(),
            is_playing: false,
            ended_ms: None,
            last_ms: i64::MIN / 2,
            again_ms: i64::MIN / 2,
            clock: None,
            looks_back: false,
            in_log: 0,
            told: false,
            lost: 0,
            transactions: 0,
        }
    }

    /// There is a journal already: the takes of an earlier program of this run of the machine are mended, too, when the wall clock is
    /// set, or was set meanwhile.
    #[must_use]
    pub fn looking_back(mut self) -> Writer {
        self.looks_back = true;
        self
    }

    /// Entries that were given up because nothing could be written for too long.
    pub fn lost(&self) -> u64 {
        self.lost
    }

    /// Entries that wait.
    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// Transactions so far.
    pub fn transactions(&self) -> u64 {
        self.transactions
    }

    /// Takes an entry in.
    pub fn add(&mut self, entry: Entry) {
        match &entry {
            Entry::Begin(begin) => {
                // The first minute of a take is written after a minute.
                self.last_ms = self.last_ms.max(begin.at_ms);
                self.is_playing = true;
            }
            Entry::End { at_ms } if std::mem::take(&mut self.is_playing) => {
                self.ended_ms = Some(*at_ms);
            }
            _ => {}
        }
        self.waiting.push(entry);
        if self.waiting.len() > HELD {
            self.give_up();
        }
    }

    /// Makes room. Where a take begins and ends is kept, so that what is left of it stays its own; a foot makes only few of these.
    fn give_up(&mut self) {
        let (before, mut left) = (self.waiting.len(), GIVEN_UP);
        self.waiting.retain(|entry| {
            let is_note = matches!(entry, Entry::Verdict(_) | Entry::Choice(_) | Entry::Act(_));
            let goes = is_note && left > 0;
            left -= usize::from(goes);
            !goes
        });
        self.lost += (before - self.waiting.len()) as u64;
    }

    /// Whether anything is to be written: what the foot does between takes waits for the next one.
    fn has_work(&self) -> bool {
        let mut waiting = self.waiting.iter();
        waiting.any(|entry| !matches!(entry, Entry::Act(_)))
    }

    /// Whether the wall clock was set since it was last written.
    fn is_clock_set(&self, now: &Now) -> bool {
        self.clock.is_some_and(|known| now.offset().mends(known))
    }

    /// How long there is nothing to do, unless an entry comes.
    pub fn idle_ms(&self, now_ms: i64) -> i64 {
        let due = match (self.has_work(), self.in_log >= LOG_TRANSACTIONS) {
            _ if self.looks_back => self.again_ms,
            (true, _) => self.due_ms(),
            (false, true) if !self.is_playing => self.last_ms + QUIET_MS,
            _ => i64::MAX,
        };
        let at_most = match self.clock {
            Some(known) if !known.synced => CLOCK_MS,
            _ => WHILE_PLAYING_MS,
        };
        due.saturating_sub(now_ms).clamp(0, at_most)
    }

    /// When what waits is to be written.
    fn due_ms(&self) -> i64 {
        let usual = match (self.ended_ms, self.is_playing) {
            (Some(ended), _) => ended + AFTER_END_MS,
            (None, true) => self.last_ms + WHILE_PLAYING_MS,
            (None, false) => self.last_ms + AFTER_END_MS,
        };
        usual.max(self.again_ms)
    }

    /// Does what is due.
    pub fn turn(&mut self, now: &Now) -> Vec<Outcome> {
        let at = now.boot_ms;
        if self.looks_back && at >= self.again_ms {
            let outcomes = self.look_back(now);
            if !outcomes.is_empty() {
                return outcomes;
            }
        }
        let has_work = self.has_work();
        let is_due = has_work && at >= self.due_ms();
        let may_mend = at >= self.again_ms.max(self.last_ms + CLOCK_MS);
        if is_due || may_mend && self.is_clock_set(now) {
            return self.write(now);
        }
        let is_quiet = !self.is_playing && at >= self.last_ms + QUIET_MS;
        if is_quiet && !has_work && self.in_log >= LOG_TRANSACTIONS {
            self.tidy();
        }
        Vec::new()
    }

    /// Finds out what is written of the wall clock.
    fn look_back(&mut self, now: &Now) -> Vec<Outcome> {
        let mut outcomes = Vec::new();
        let known = self.opened(now, &mut outcomes).and_then(|store| {
            known_offset(store.connection(), now)
                .map_err(|error| told(Path::new("journal"), &error))
        });
        match known {
            Ok(known) => {
                self.clock = self.clock.or(known);
                self.looks_back = false;
            }
            // Told when something is to be written.
            Err(why) => {
                log::debug!("the journal is not looked back on yet: {why}");
                self.again_ms = now.boot_ms + AGAIN_MS;
            }
        }
        outcomes
    }

    /// The open journal.
    fn opened(&mut self, now: &Now, outcomes: &mut Vec<Outcome>) -> Result<&mut Store, Trouble> {
        let store = match self.store.take() {
            Some(store) => store,
            None => {
                let opened = (self.opener)(now)?;
                outcomes.extend(opened.told.map(Outcome::Told));
                opened.store.going_on(std::mem::take(&mut self.progress))
            }
        };
        Ok(self.store.insert(store))
    }

    /// Writes all that waits, and leaves the file whole without its log.
    pub fn finish(&mut self, now: &Now) -> Vec<Outcome> {
        let outcomes = match self.has_work() || self.is_clock_set(now) {
            true => self.write(now),
            false => Vec::new(),
        };
        self.tidy();
        outcomes
    }

    fn tidy(&mut self) {
        self.in_log = 0;
        if let Some(Err(error)) = self.store.as_ref().map(Store::checkpoint) {
            log::debug!("the journal's log stays: {error}");
        }
    }

    fn write(&mut self, now: &Now) -> Vec<Outcome> {
        let mut outcomes = Vec::new();
        match self.try_write(now, &mut outcomes) {
            Ok(ended) => {
                self.waiting.clear();
                (self.ended_ms, self.last_ms) = (None, now.boot_ms);
                if self.clock.is_none() || self.is_clock_set(now) {
                    self.clock = Some(now.offset());
                }
                self.in_log += 1;
                self.transactions += 1;
                self.told = false;
                if ended > 0 {
                    outcomes.push(Outcome::Kept(ended));
                }
            }
            Err(why) => {
                self.again_ms = now.boot_ms + AGAIN_MS;
                if !std::mem::replace(&mut self.told, true) {
                    outcomes.push(Outcome::Told(format!(
                        "{why}; what you play is held until it can be written"
                    )));
                }
            }
        }
        outcomes
    }

    fn try_write(&mut self, now: &Now, outcomes: &mut Vec<Outcome>) -> Result<u32, Trouble> {
        // A second time round on a new file, where the first one turns out to be damaged.
        for _ in 0..2 {
            self.opened(now, outcomes)?;
            let Some(store) = &mut self.store else { break };
            match store.write(&self.waiting, now) {
                Ok(ended) => return Ok(ended),
                Err(error) => {
                    let trouble = told(Path::new("journal"), &error);
                    // Whatever it was, the file is looked at anew, and the take goes on where it was.
                    let store = self.store.take();
                    self.progress = store.map(Store::into_progress).unwrap_or_default();
                    if let Trouble::NotNow(_) = trouble {
                        return Err(trouble);
                    }
                }
            }
        }
        Err(Trouble::NotNow("the journal cannot be written".to_string()))
    }
}
