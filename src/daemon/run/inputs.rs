//! What comes in from outside: switches, clocks and states of devices, the terminal's keys, signals.

use super::super::config::Config;
use super::input::Input;
use super::reloads::Reloads;
use super::terminal::RawTerminal;
use crate::pedal::Edge;
use crate::pedal::midi::MidiEdges;
use crate::pedal::source::SourceThread;
use crate::pedal::stamps::StampClock;
use crate::time::Frame;
use signal_hook::consts::{SIGINT, SIGTERM};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

/// Inputs that may wait; a foot is never as quick.
const QUEUE: usize = 1024;

/// All inputs.
pub struct Inputs {
    sender: SyncSender<Input>,
    receiver: Receiver<Input>,
    config: Config,
    keys: bool,
    /// Sources with a thread of their own; they end when dropped.
    sources: Vec<SourceThread>,
    /// MIDI messages of ports for which there was no room.
    lost_midi: Arc<AtomicU64>,
    terminal: Option<RawTerminal>,
    midi: MidiEdges,
    ended: Arc<AtomicBool>,
    reloads: Reloads,
}

impl Inputs {
    /// Takes the signals; the sources start with [`Inputs::stamp_with`].
    pub fn start(config: &Config, keys: bool) -> Inputs {
        let (sender, receiver) = sync_channel(QUEUE);
        let ended = Arc::new(AtomicBool::new(false));
        for signal in [SIGTERM, SIGINT] {
            if let Err(error) = signal_hook::flag::register(signal, Arc::clone(&ended)) {
                log::warn!("signal {signal} cannot be taken: {error}");
            }
        }
        Inputs {
            sender,
            receiver,
            config: config.clone(),
            keys,
            sources: Vec::new(),
            lost_midi: Arc::default(),
            terminal: None,
            midi: MidiEdges::new(&config.foot.midi),
            ended,
            reloads: Reloads::start(),
        }
    }

    /// A sender for others.
    pub fn sender(&self) -> SyncSender<Input> {
        self.sender.clone()
    }

    /// Starts the sources; they stamp with `clock`.
    pub fn stamp_with(&mut self, clock: StampClock) {
        self.sources = super::sources::start(&self.config, &self.sender, &clock, &self.lost_midi);
        if self.keys {
            let terminal = RawTerminal::enter(self.sender.clone(), clock, &self.config.foot);
            self.terminal = terminal.map_err(|why| log::warn!("{why}")).ok();
        }
    }

    /// What came in, waiting up to `patience` for the first.
    pub fn wait(&self, patience: Duration) -> Option<Input> {
        self.receiver.recv_timeout(patience).ok()
    }

    /// MIDI messages of ports for which there was no room.
    pub fn lost_midi(&self) -> u64 {
        self.lost_midi.load(Ordering::Relaxed)
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
        self.ended.load(Ordering::Relaxed)
    }

    /// Ends as a signal would.
    pub fn ask_to_end(&self) {
        self.ended.store(true, Ordering::Relaxed);
    }

    /// Whether a signal asks to read the files anew (once).
    pub fn take_reload(&self) -> bool {
        let is_gone = || self.terminal.as_ref().is_some_and(RawTerminal::is_gone);
        self.reloads.take(is_gone)
    }
}
