//! The thread that keeps what is to outlast us: the place, the event log, takes. A card may take seconds for a sync; the
//! loop hands over and waits for nobody.

use super::super::{files, state, whole_file};
use super::input::Input;
use super::keep;
use crate::practice::Saved;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// A place is kept after this long without another one, and lines that are written are safe from a power cut after it.
const SETTLE: Duration = Duration::from_secs(1);
/// Batches of lines that can wait, one a turn of the loop: seconds of a card that stands still.
const QUEUE: usize = 4096;

/// What is kept where; `None`: it is not.
pub struct KeptPlaces {
    /// The file of the place.
    pub place: Option<PathBuf>,
    /// The event log.
    pub events: Option<File>,
    /// The directory of takes.
    pub takes: Option<PathBuf>,
    /// The file of what is known of inputs.
    pub inputs: Option<PathBuf>,
}

enum Work {
    Lines(Vec<String>),
    /// A place came.
    Place,
    /// The guitar as it was heard, so many frames a second.
    Take(u32, Vec<i16>),
    /// What is known of inputs, as text.
    Inputs(String),
    End,
}

#[derive(Default)]
struct KeeperShared {
    /// The newest place and when it came: an older one is never written after it.
    place: Mutex<Option<(Saved, Instant)>>,
    lost_lines: AtomicU64,
}

/// Where the loop and the ear hand over what is to be kept.
#[derive(Clone)]
pub struct Keeper {
    work: SyncSender<Work>,
    shared: Arc<KeeperShared>,
}

/// The keeper's thread.
pub struct KeeperThread {
    running: Option<JoinHandle<()>>,
    is_asked: bool,
}

impl Keeper {
    /// Starts the thread. Without one nothing is kept, all else goes on. `inputs` hears of what the user can mend.
    pub fn start(places: KeptPlaces, inputs: SyncSender<Input>) -> (Keeper, KeeperThread) {
        let (work, coming) = sync_channel(QUEUE);
        let shared = Arc::new(KeeperShared::default());
        let mut store = Store {
            place: places.place,
            events: places.events.map(BufWriter::new),
            takes: places.takes,
            known_inputs: places.inputs,
            inputs,
            unsafe_since: None,
            shared: Arc::clone(&shared),
        };
        let run = move || store.run(&coming);
        let thread = std::thread::Builder::new().name("keeper".into()).spawn(run);
        let thread = thread
            .map_err(|error| log::warn!("no thread to keep anything: {error}"))
            .ok();
        let thread = KeeperThread {
            running: thread,
            is_asked: false,
        };
        (Keeper { work, shared }, thread)
    }

    /// The place to come back to; the newest counts.
    pub fn place(&self, saved: Saved) {
        *whole(&self.shared.place) = Some((saved, Instant::now()));
        // A full queue wakes the thread too.
        let _ = self.work.try_send(Work::Place);
    }

    /// Lines of the event log. What finds no room is lost, and counted.
    pub fn lines(&self, lines: Vec<String>) {
        if let Err(TrySendError::Full(Work::Lines(lines))) = self.work.try_send(Work::Lines(lines))
        {
            let lost = lines.len() as u64;
            self.shared.lost_lines.fetch_add(lost, Ordering::Relaxed);
        }
    }

    /// The guitar as it was heard, so many frames a second. Called by the ear, which may wait.
    pub fn take(&self, rate: u32, samples: Vec<i16>) {
        match samples.is_empty() {
            true => log::warn!("no take is kept: nothing was heard"),
            // Without a thread it was told that nothing is kept.
            false => drop(self.work.send(Work::Take(rate, samples))),
        }
    }

    /// What is known of inputs, as the file has it.
    pub fn inputs(&self, text: String) {
        let _ = self.work.try_send(Work::Inputs(text));
    }

    /// Lines that found no room: the card is too slow.
    pub fn lost_lines(&self) -> u64 {
        self.shared.lost_lines.load(Ordering::Relaxed)
    }

    /// Has all of it kept, also the place that came just now, and tells whether that is done. Never waits: to be asked again.
    pub fn ends(&self, thread: &mut KeeperThread) -> bool {
        let Some(running) = &thread.running else {
            return true;
        };
        // The thread makes room as long as it is there.
        thread.is_asked = thread.is_asked || self.work.try_send(Work::End).is_ok();
        running.is_finished()
    }
}

/// What the thread has.
struct Store {
    place: Option<PathBuf>,
    events: Option<BufWriter<File>>,
    takes: Option<PathBuf>,
    known_inputs: Option<PathBuf>,
    inputs: SyncSender<Input>,
    /// Since when lines are written that a power cut would take.
    unsafe_since: Option<Instant>,
    shared: Arc<KeeperShared>,
}

impl Store {
    fn run(&mut self, coming: &Receiver<Work>) {
        loop {
            let mut next = self.wait(coming);
            let mut ends = false;
            while let Some(work) = next {
                match work {
                    Work::Place => {}
                    Work::Lines(lines) => self.write(&lines),
                    Work::Take(rate, samples) => self.keep_take(rate, &samples),
                    Work::Inputs(text) => self.keep_inputs(&text),
                    Work::End => ends = true,
                }
                next = coming.try_recv().ok();
            }
            self.settle(ends);
            if ends {
                return;
            }
        }
    }

    /// What comes next; while something is to settle, not for ever.
    fn wait(&self, coming: &Receiver<Work>) -> Option<Work> {
        let settles = self.unsafe_since.is_some() || whole(&self.shared.place).is_some();
        if !settles {
            return Some(coming.recv().unwrap_or(Work::End));
        }
        match coming.recv_timeout(SETTLE / 4) {
            Ok(work) => Some(work),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => Some(Work::End),
        }
    }

    fn write(&mut self, lines: &[String]) {
        let Some(events) = &mut self.events else {
            return;
        };
        let written: std::io::Result<()> =
            lines.iter().try_for_each(|line| writeln!(events, "{line}"));
        if let Err(error) = written.and_then(|()| events.flush()) {
            log::warn!("the event log cannot be written: {error}");
            self.events = None;
        }
        self.unsafe_since.get_or_insert_with(Instant::now);
    }

    fn keep_inputs(&mut self, text: &str) {
        let Some(path) = &self.known_inputs else {
            return;
        };
        if let Err(error) = whole_file::write_whole(path, text.as_bytes()) {
            let path = path.display();
            log::warn!("{path}: what is known of inputs cannot be kept: {error}");
            self.known_inputs = None;
        }
    }

    fn keep_take(&self, rate: u32, samples: &[i16]) {
        let seconds = samples.len() as f64 / f64::from(rate.max(1));
        let kept = match &self.takes {
            Some(takes) => keep::keep(takes, rate, samples)
                .map_err(|error| format!("{}: {}", takes.display(), files::why(&error))),
            None => Err("there is no state directory".to_string()),
        };
        match kept {
            Ok(path) => log::info!("take kept, {seconds:.1} s: {}", path.display()),
            Err(line) => {
                log::warn!("the take is not kept: {line}");
                let title = "take not kept".to_string();
                let _ = self.inputs.try_send(Input::Trouble(title, vec![line]));
            }
        }
    }

    /// Makes safe what has not changed for a while; at the end all of it.
    fn settle(&mut self, ends: bool) {
        let is_due = |since: Instant| ends || since.elapsed() >= SETTLE;
        if self.unsafe_since.is_some_and(is_due) {
            self.unsafe_since = None;
            // A pipe cannot be made safe; that is no fault.
            let _ = self
                .events
                .as_ref()
                .map(|events| events.get_ref().sync_data());
        }
        let due = whole(&self.shared.place).take_if(|(_, since)| is_due(*since));
        let Some(((saved, _), path)) = due.zip(self.place.as_ref()) else {
            return;
        };
        if let Err(error) = state::save(path, &saved) {
            log::warn!("{}: the place cannot be kept: {error}", path.display());
            self.place = None;
        }
    }
}

/// What is behind the lock is whole after every write.
fn whole<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(|broken| broken.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn saved(stage: usize) -> Saved {
        Saved {
            chart: 0,
            title: "Ferry at Six".into(),
            stage,
            item: 0,
            tempo_qpm: 120.0,
            key: None,
            master_db: -12.0,
            turned: Vec::new(),
        }
    }

    #[test]
    fn at_the_end_all_is_kept_and_of_places_the_newest() {
        let dir = tempfile::tempdir().expect("a directory");
        let file = |name: &str| dir.path().join(name);
        let places = KeptPlaces {
            place: Some(file("place.json")),
            events: Some(File::create(file("events")).expect("a file")),
            takes: Some(file("takes")),
            inputs: Some(file("inputs.json")),
        };
        let (inputs, _) = sync_channel(1);
        let (keeper, mut thread) = Keeper::start(places, inputs);
        for stage in 0..100 {
            keeper.place(saved(stage));
            keeper.lines(vec![format!("{stage}"), "more".into()]);
        }
        keeper.take(48_000, vec![1, 2, 3]);
        keeper.inputs("{}".into());
        while !keeper.ends(&mut thread) {
            std::thread::yield_now();
        }
        assert_eq!(state::load(&file("place.json")), Some(saved(99)));
        let lines = std::fs::read_to_string(file("events")).expect("a log");
        let expected: String = (0..100).map(|stage| format!("{stage}\nmore\n")).collect();
        assert_eq!(lines, expected);
        assert!(file("takes/take-0001.wav").exists());
        let inputs = std::fs::read_to_string(file("inputs.json"));
        assert_eq!(inputs.expect("a file"), "{}");
        assert_eq!(keeper.lost_lines(), 0);
    }
}
