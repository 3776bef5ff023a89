//! What comes in from outside: switches, clocks and states of devices, the terminal's keys, signals.

use super::super::config::Config;
use super::input::Input;
use super::reloads::Reloads;
use super::sources::Amiss;
use super::terminal::RawTerminal;
use crate::device::folders::{FolderWatch, Wanted};
use crate::pedal::Edge;
use crate::pedal::midi::MidiEdges;
use crate::pedal::source::SourceThread;
use crate::pedal::stamps::StampClock;
use crate::time::Frame;
use signal_hook::consts::{SIGINT, SIGTERM};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Inputs that may wait; a foot is never as quick.
const QUEUE: usize = 1024;

/// Sources that another thread may end and begin anew.
type SharedSources = Arc<Mutex<Vec<(String, SourceThread)>>>;

/// What signals ask for: SIGTERM and SIGINT to end, SIGHUP to read the files anew.
pub struct Signals {
    ended: Arc<AtomicBool>,
    reloads: Reloads,
}

impl Signals {
    /// Takes them from here on: before anything else, for whoever asks while we start has asked all the same.
    pub fn take() -> Signals {
        let ended = Arc::new(AtomicBool::new(false));
        for signal in [SIGTERM, SIGINT] {
            if let Err(error) = signal_hook::flag::register(signal, Arc::clone(&ended)) {
                log::warn!("signal {signal} cannot be taken: {error}");
            }
        }
        let reloads = Reloads::start();
        Signals { ended, reloads }
    }
}

/// All inputs.
pub struct Inputs {
    sender: SyncSender<Input>,
    receiver: Receiver<Input>,
    config: Config,
    keys: bool,
    /// What the sources stamp with.
    clock: Option<StampClock>,
    /// Sources with a thread of their own.
    sources: SharedSources,
    amiss: Amiss,
    terminal: Option<RawTerminal>,
    midi: MidiEdges,
    signals: Signals,
    /// Looks after the files that are played from.
    watch: Option<FolderWatch>,
}

impl Inputs {
    /// The sources start with [`Inputs::stamp_with`].
    pub fn start(config: &Config, keys: bool, signals: Signals) -> Inputs {
        let (sender, receiver) = sync_channel(QUEUE);
        Inputs {
            sender,
            receiver,
            config: config.clone(),
            keys,
            clock: None,
            sources: SharedSources::default(),
            amiss: Amiss::default(),
            terminal: None,
            midi: MidiEdges::new(&config.foot.midi),
            signals,
            watch: None,
        }
    }

    /// Looks after the files that are played from, and after no others.
    pub fn watch(&mut self, wanted: Wanted) {
        self.watch = None;
        let sender = self.sender();
        if wanted.is_empty() {
            return;
        }
        // Where there is no room it is told again.
        let changed = move |writing| {
            let told = sender.try_send(Input::FilesChanged(writing));
            !matches!(told, Err(TrySendError::Full(_)))
        };
        match FolderWatch::start(wanted, changed) {
            Ok(watch) => self.watch = Some(watch),
            Err(error) => log::warn!("charts are not looked after: {error}"),
        }
    }

    /// Whether keys of a terminal are listened to.
    pub fn has_keys(&self) -> bool {
        self.keys
    }

    /// A sender for others.
    pub fn sender(&self) -> SyncSender<Input> {
        self.sender.clone()
    }

    /// Starts the sources; they stamp with `clock`.
    pub fn stamp_with(&mut self, clock: StampClock) {
        self.clock = Some(Arc::clone(&clock));
        *whole(&self.sources) =
            super::sources::start(&self.config, &self.sender, &clock, &self.amiss);
        if self.keys {
            let terminal = RawTerminal::enter(self.sender.clone(), clock, &self.config.foot);
            self.terminal = terminal.map_err(|why| log::warn!("{why}")).ok();
        }
    }

    /// Another configuration: what MIDI messages mean counts from now on. Where the sources are others, gives what ends
    /// the old ones and begins the new ones; that takes its time, so it is for another thread.
    pub fn renew(&mut self, config: &Config) -> Option<impl FnOnce() + Send + 'static> {
        let are_others = config.has_other_sources(&self.config);
        self.config = config.clone();
        self.midi = MidiEdges::new(&config.foot.midi);
        let clock = self.clock.clone().filter(|_| are_others)?;
        let (config, sender, sources) = (config.clone(), self.sender(), self.sources.clone());
        let amiss = self.amiss.clone();
        Some(move || {
            let (names, ended): (Vec<_>, Vec<_>) = whole(&sources).drain(..).unzip();
            drop(ended);
            // Whoever waited for it may have ended.
            let _ = sender.send(Input::Dismissed(names));
            let begun = super::sources::start(&config, &sender, &clock, &amiss);
            *whole(&sources) = begun;
        })
    }

    /// What came in, waiting up to `patience` for the first.
    pub fn wait(&self, patience: Duration) -> Option<Input> {
        self.receiver.recv_timeout(patience).ok()
    }

    /// What went amiss on the way in, by name.
    pub fn counters(&self) -> [(&'static str, u64); 2] {
        let count = |counter: &AtomicU64| counter.load(Ordering::Relaxed);
        [
            ("lost_midi", count(&self.amiss.lost_midi)),
            ("unread_serial", count(&self.amiss.unread_serial)),
        ]
    }

    /// What else is there.
    pub fn poll(&self) -> Option<Input> {
        self.receiver.try_recv().ok()
    }

    /// Edges that a MIDI message stands for.
    pub fn midi(&self, bytes: &[u8], at: Frame) -> Vec<Edge> {
        let message = crate::midi::MidiMessage::from_bytes(bytes);
        message
            .map(|message| self.midi.message(&message, at).to_vec())
            .unwrap_or_default()
    }

    /// Whether a signal asks to end.
    pub fn is_ended(&self) -> bool {
        self.signals.ended.load(Ordering::Relaxed)
    }

    /// Ends as a signal would.
    pub fn ask_to_end(&self) {
        self.signals.ended.store(true, Ordering::Relaxed);
    }

    /// Whether a signal asks to read the files anew (once).
    pub fn take_reload(&self) -> bool {
        let is_gone = || self.terminal.as_ref().is_some_and(RawTerminal::is_gone);
        self.signals.reloads.take(is_gone)
    }
}

/// What is behind the lock is whole after every write.
pub(super) fn whole<T>(lock: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(|broken| broken.into_inner())
}
