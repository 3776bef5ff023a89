//! When what waits is written: at a take's end, and now and then while playing. Nothing is written while nothing happened.
//!
//! What cannot be written is held, told once, and tried again.

use super::clock::Now;
use super::entry::{Entry, TakeBegin};
use super::opening::Opened;
use super::store::Store;
use super::trouble::{Trouble, told};

/// While playing at most this often.
const WHILE_PLAYING_MS: i64 = 60_000;
/// After a take's end: until then its last notes have their names, so that one transaction does for all.
const AFTER_END_MS: i64 = 700;
/// What did not go is tried again after this long.
const AGAIN_MS: i64 = 30_000;
/// So many transactions may wait in the log before they are brought into the file, while nobody plays ...
const LOG_TRANSACTIONS: u32 = 64;
/// ... for this long.
const QUIET_MS: i64 = 30_000;
/// What is held at the most, some hours of playing: beyond that the oldest goes.
const HELD: usize = 200_000;

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
    waiting: Vec<Entry>,
    /// The take that is played.
    playing: Option<TakeBegin>,
    /// The take that is not whole on the disk.
    unfinished: Option<TakeBegin>,
    /// When the take ended that is not written yet.
    ended_ms: Option<i64>,
    last_ms: i64,
    again_ms: i64,
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
            waiting: Vec::new(),
            playing: None,
            unfinished: None,
            ended_ms: None,
            last_ms: i64::MIN / 2,
            again_ms: i64::MIN / 2,
            in_log: 0,
            told: false,
            lost: 0,
            transactions: 0,
        }
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
                self.playing = Some(begin.clone());
                self.unfinished = Some(begin.clone());
            }
            Entry::End { at_ms } if self.playing.take().is_some() => self.ended_ms = Some(*at_ms),
            _ => {}
        }
        self.waiting.push(entry);
        if self.waiting.len() > HELD {
            let over = self.waiting.len() - HELD;
            self.waiting.drain(..over);
            self.lost += over as u64;
        }
    }

    /// How long there is nothing to do, unless an entry comes.
    pub fn idle_ms(&self, now_ms: i64) -> i64 {
        let due = match (self.waiting.is_empty(), self.in_log >= LOG_TRANSACTIONS) {
            (false, _) => self.due_ms(),
            (true, true) if self.playing.is_none() => self.last_ms + QUIET_MS,
            _ => i64::MAX,
        };
        due.saturating_sub(now_ms).clamp(0, WHILE_PLAYING_MS)
    }

    /// When what waits is to be written.
    fn due_ms(&self) -> i64 {
        let usual = match (self.ended_ms, &self.playing) {
            (Some(ended), _) => ended + AFTER_END_MS,
            (None, Some(_)) => self.last_ms + WHILE_PLAYING_MS,
            (None, None) => self.last_ms + AFTER_END_MS,
        };
        usual.max(self.again_ms)
    }

    /// Does what is due.
    pub fn turn(&mut self, now: &Now) -> Vec<Outcome> {
        let at = now.boot_ms;
        // What the foot does between takes waits for the next one.
        let only_acts = self
            .waiting
            .iter()
            .all(|entry| matches!(entry, Entry::Act(_)));
        if !only_acts && at >= self.due_ms() {
            return self.write(now);
        }
        let is_quiet = self.playing.is_none() && at >= self.last_ms + QUIET_MS;
        if is_quiet && self.waiting.is_empty() && self.in_log >= LOG_TRANSACTIONS {
            self.tidy();
        }
        Vec::new()
    }

    /// Writes all that waits, and leaves the file whole without its log.
    pub fn finish(&mut self, now: &Now) -> Vec<Outcome> {
        let outcomes = match self.waiting.is_empty() {
            true => Vec::new(),
            false => self.write(now),
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
                self.unfinished.clone_from(&self.playing);
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
            let store = match &mut self.store {
                Some(store) => store,
                none => {
                    let opened = (self.opener)(now)?;
                    outcomes.extend(opened.told.map(Outcome::Told));
                    none.insert(opened.store)
                }
            };
            let mut first = self
                .waiting
                .iter()
                .filter(|entry| !matches!(entry, Entry::Act(_)));
            let is_known = store.has_take() || matches!(first.next(), Some(Entry::Begin(_)));
            if let Some(begin) = self.unfinished.as_ref().filter(|_| !is_known) {
                // The take began in a file that is no more.
                self.waiting.insert(0, Entry::Begin(begin.clone()));
            }
            match store.write(&self.waiting, now) {
                Ok(ended) => return Ok(ended),
                Err(error) => {
                    let trouble = told(std::path::Path::new("journal"), &error);
                    // Whatever it was, it is looked at anew.
                    self.store = None;
                    if let Trouble::NotNow(_) = trouble {
                        return Err(trouble);
                    }
                }
            }
        }
        Err(Trouble::NotNow("the journal cannot be written".to_string()))
    }
}
