//! The journal's own thread: the loop hands over and waits for nobody.
// Has a thread.
#![allow(clippy::disallowed_methods)]

use super::clock::WallClock;
use super::entry::Entry;
use super::opening;
use super::writer::{Outcome, Writer};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Entries on their way to the thread, which may stand in a sync of seconds.
const QUEUE: usize = 16_384;
/// The longest wait for the thread at the end.
const LAST_WAIT: Duration = Duration::from_secs(12);

/// What has become of what was handed over.
#[derive(Debug, Default)]
struct Kept {
    /// Takes that ended and are safe from a power cut.
    takes: AtomicU64,
    /// Entries that found no room.
    lost: AtomicU64,
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
}

/// The thread.
#[derive(Debug)]
pub struct JournalThread(Option<JoinHandle<()>>);

impl Journal {
    /// Starts the thread over the file at `path`. `tell` hears what the player should know.
    pub fn start(
        path: PathBuf,
        tell: impl FnMut(String) + Send + 'static,
    ) -> (Journal, JournalThread) {
        let (work, coming) = sync_channel(QUEUE);
        let (kept, clock) = (Arc::new(Kept::default()), WallClock::new());
        let opener = Box::new(move |now: &_| opening::open(&path, now));
        let mut running = Running {
            writer: Writer::new(opener),
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
        (Journal { work, kept, clock }, JournalThread(thread))
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
            ("journal_lost", count(&self.kept.lost)),
        ]
    }

    /// Hands an entry over; never waits.
    pub fn add(&self, entry: Entry) {
        if let Err(TrySendError::Full(_)) = self.work.try_send(Work::Entry(Box::new(entry))) {
            self.kept.lost.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Has all of it written, and waits for that, up to 12 s.
    pub fn finish(&self, thread: &mut JournalThread) {
        let begun = Instant::now();
        let Some(thread) = thread.0.take() else {
            return;
        };
        // The thread makes room as long as it is there.
        let _ = self.work.send(Work::End);
        while !thread.is_finished() && begun.elapsed() < LAST_WAIT {
            std::thread::sleep(Duration::from_millis(1));
        }
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
        let waiting = self.writer.waiting() as u64;
        self.kept.waiting.store(waiting, Ordering::Relaxed);
    }
}
