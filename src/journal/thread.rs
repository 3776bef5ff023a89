//! The journal's own thread: the loop hands over and waits for nobody.
// Has a thread.
#![allow(clippy::disallowed_methods)]

use super::clock::WallClock;
use super::entry::Entry;
use super::opening;
use super::writer::{Outcome, Writer};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// Entries on their way to the thread, which may stand in a sync of seconds.
const QUEUE: usize = 16_384;

/// What has become of what was handed over.
#[derive(Debug, Default)]
struct Kept {
    /// Takes that ended and are safe from a power cut.
    takes: AtomicU64,
    /// Entries that found no room.
    lost: AtomicU64,
    /// Entries that were held for too long.
    given_up: AtomicU64,
    /// Entries that wait for a disk.
    waiting: AtomicU64,
}

enum Work {
    Entry(Box<Entry>),
    End,
}

/// Where entries are handed over.
#[derive(Debug)]
pub struct Journal {
    work: SyncSender<Work>,
    kept: Arc<Kept>,
    clock: WallClock,
    /// The take that is played began when there was no room.
    is_astray: AtomicBool,
}

/// The thread.
#[derive(Debug)]
pub struct JournalThread {
    running: Option<JoinHandle<()>>,
    is_asked: bool,
}

impl Journal {
    /// Starts the thread over the file at `path`. `tell` hears what the player should know.
    pub fn start(
        path: PathBuf,
        tell: impl FnMut(String) + Send + 'static,
    ) -> (Journal, JournalThread) {
        let (work, coming) = sync_channel(QUEUE);
        let (kept, clock) = (Arc::new(Kept::default()), WallClock::new());
        let is_there = path.exists();
        let opener = Box::new(move |now: &_| opening::open(&path, now));
        let writer = Writer::new(opener);
        let mut running = Running {
            writer: if is_there {
                writer.looking_back()
            } else {
                writer
            },
            clock: clock.clone(),
            kept: Arc::clone(&kept),
            tell,
        };
        let run = move || running.run(&coming);
        let thread = std::thread::Builder::new()
            .name("journal".into())
            .spawn(run);
        let thread = thread
            .map_err(|error| log::warn!("no thread for the journal: {error}"))
            .ok();
        let thread = JournalThread {
            running: thread,
            is_asked: false,
        };
        (Journal::feeding(work, kept, clock), thread)
    }

    fn feeding(work: SyncSender<Work>, kept: Arc<Kept>, clock: WallClock) -> Journal {
        Journal {
            work,
            kept,
            clock,
            is_astray: AtomicBool::new(false),
        }
    }

    /// The clock by which entries are stamped.
    pub fn now_ms(&self) -> i64 {
        self.clock.boot_ms()
    }

    /// What has become of it all, by name.
    pub fn counts(&self) -> [(&'static str, u64); 3] {
        let count = |counter: &AtomicU64| counter.load(Ordering::Relaxed);
        [
            ("journal_takes_kept", count(&self.kept.takes)),
            ("journal_waiting", count(&self.kept.waiting)),
            (
                "journal_lost",
                count(&self.kept.lost) + count(&self.kept.given_up),
            ),
        ]
    }

    /// Hands an entry over; never waits.
    pub fn add(&self, entry: Entry) {
        let begins = matches!(entry, Entry::Begin(_));
        // Without its beginning the rest of a take would be taken for more of the one before.
        let is_astray = !begins && self.is_astray.load(Ordering::Relaxed);
        let send = || self.work.try_send(Work::Entry(Box::new(entry)));
        let is_lost = is_astray || matches!(send(), Err(TrySendError::Full(_)));
        if begins {
            self.is_astray.store(is_lost, Ordering::Relaxed);
        }
        self.kept
            .lost
            .fetch_add(u64::from(is_lost), Ordering::Relaxed);
    }

    /// Has all of it written, and tells whether that is done. Never waits: to be asked again.
    pub fn ends(&self, thread: &mut JournalThread) -> bool {
        let Some(running) = &thread.running else {
            return true;
        };
        // The thread makes room as long as it is there.
        thread.is_asked = thread.is_asked || self.work.try_send(Work::End).is_ok();
        running.is_finished()
    }
}

struct Running<F> {
    writer: Writer,
    clock: WallClock,
    kept: Arc<Kept>,
    tell: F,
}

impl<F: FnMut(String)> Running<F> {
    fn run(&mut self, coming: &Receiver<Work>) {
        loop {
            let idle_ms = self.writer.idle_ms(self.clock.boot_ms());
            let patience = Duration::from_millis(idle_ms.max(1) as u64);
            match coming.recv_timeout(patience) {
                Ok(Work::Entry(entry)) => self.writer.add(*entry),
                Err(RecvTimeoutError::Timeout) => {}
                Ok(Work::End) | Err(RecvTimeoutError::Disconnected) => break,
            }
            let outcomes = self.writer.turn(&self.clock.now());
            self.told(outcomes);
        }
        let outcomes = self.writer.finish(&self.clock.now());
        self.told(outcomes);
    }

    fn told(&mut self, outcomes: Vec<Outcome>) {
        for outcome in outcomes {
            match outcome {
                Outcome::Kept(takes) => {
                    self.kept
                        .takes
                        .fetch_add(u64::from(takes), Ordering::Relaxed);
                    log::info!("journal: the take is kept");
                }
                Outcome::Told(line) => {
                    log::warn!("{line}");
                    (self.tell)(line);
                }
            }
        }
        let lost = self.writer.lost();
        if lost > 0 && self.kept.given_up.swap(lost, Ordering::Relaxed) == 0 {
            log::warn!("journal: too much waits for the disk: the oldest notes are given up");
        }
        let waiting = self.writer.waiting() as u64;
        self.kept.waiting.store(waiting, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::entry::TakeBegin;

    #[test]
    fn what_follows_a_beginning_that_found_no_room_is_lost_with_it() {
        let (work, coming) = sync_channel(2);
        let journal = Journal::feeding(work, Arc::default(), WallClock::new());
        let begin = |at_ms| {
            Entry::Begin(TakeBegin {
                at_ms,
                ..TakeBegin::default()
            })
        };
        let stage = |at_ms| Entry::Stage {
            name: "roots".into(),
            at_ms,
        };
        // What is told, and what is taken out of the queue before it is.
        let told = [
            (0, begin(1)),
            (0, stage(1)),
            (0, begin(2)),
            (1, stage(2)),
            (1, Entry::End { at_ms: 2 }),
            (0, begin(3)),
            (0, stage(3)),
        ];
        let mut came = Vec::new();
        for (taken, entry) in told {
            came.extend(coming.try_iter().take(taken));
            journal.add(entry);
        }
        came.extend(coming.try_iter());
        let came = came.into_iter().map(|work| match work {
            Work::Entry(entry) => *entry,
            Work::End => panic!("nobody asked for the end"),
        });
        let came: Vec<Entry> = came.collect();
        assert_eq!(came, [begin(1), stage(1), begin(3), stage(3)]);
        assert_eq!(journal.counts()[2], ("journal_lost", 3));
    }
}
