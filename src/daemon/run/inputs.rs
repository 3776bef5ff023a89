//! What comes in from outside: switches, clocks and states of devices, the terminal's keys, signals.

use super::super::config::{Config, Foot};
use super::input::Input;
use super::now::RATE_AT_REST;
use crate::foot::Action;
use crate::pedal::Edge;
use crate::pedal::keys::Keys;
use crate::pedal::midi::MidiEdges;
use crate::pedal::source::SourceThread;
use crate::pedal::stamps::{StampClock, Stamps};
use crate::time::Frame;
use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
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
    reload: Arc<AtomicBool>,
}

impl Inputs {
    /// Takes the signals; the sources start with [`Inputs::stamp_with`].
    pub fn start(config: &Config, keys: bool) -> Inputs {
        let (sender, receiver) = sync_channel(QUEUE);
        let (ended, reload) = (
            Arc::new(AtomicBool::new(false)),
            Arc::new(AtomicBool::new(false)),
        );
        for (signal, flag) in [(SIGTERM, &ended), (SIGINT, &ended), (SIGHUP, &reload)] {
            if let Err(error) = signal_hook::flag::register(signal, Arc::clone(flag)) {
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
            reload,
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
            self.terminal = RawTerminal::enter(self.sender.clone(), clock, &self.config.foot);
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
        self.reload.swap(false, Ordering::Relaxed)
    }
}

/// The terminal's keys, read on a thread of their own; given back when dropped.
struct RawTerminal;

impl RawTerminal {
    fn enter(sender: SyncSender<Input>, clock: StampClock, foot: &Foot) -> Option<RawTerminal> {
        use crossterm::event::{KeyboardEnhancementFlags, PushKeyboardEnhancementFlags};
        crossterm::terminal::enable_raw_mode().ok()?;
        let releases = crossterm::terminal::supports_keyboard_enhancement().unwrap_or(false);
        if releases {
            let flags = KeyboardEnhancementFlags::REPORT_EVENT_TYPES;
            let _ = crossterm::execute!(std::io::stdout(), PushKeyboardEnhancementFlags(flags));
        }
        let longest_ms = foot.switches.iter().map(|switch| switch.hold_ms);
        let keys = Keys::new(releases, RATE_AT_REST)
            .named(&foot.keys)
            .holding_ms(longest_ms.fold(0.0, f64::max));
        let read = move || read_keys(&sender, &*clock, keys);
        std::thread::Builder::new()
            .name("keys".into())
            .spawn(read)
            .ok()?;
        Some(RawTerminal)
    }
}

impl Drop for RawTerminal {
    fn drop(&mut self) {
        let _ = crossterm::execute!(
            std::io::stdout(),
            crossterm::event::PopKeyboardEnhancementFlags
        );
        let _ = crossterm::terminal::disable_raw_mode();
    }
}

fn read_keys(sender: &SyncSender<Input>, clock: &dyn Stamps, mut keys: Keys) {
    use crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers};
    loop {
        let patience = Duration::from_millis(if keys.next_deadline().is_some() {
            5
        } else {
            100
        });
        let is_event = match crossterm::event::poll(patience) {
            Ok(is_event) => is_event,
            Err(_) => return,
        };
        let at = clock.now();
        keys.set_rate((at.0 - clock.ago(Duration::from_secs(1)).0.min(at.0)) as u32);
        for edge in keys.until(at) {
            let _ = sender.try_send(Input::Edge(edge));
        }
        if !is_event {
            continue;
        }
        let Ok(event) = crossterm::event::read() else {
            return;
        };
        let Event::Key(key) = event else { continue };
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        let pressed = key.kind == KeyEventKind::Press;
        let asked = match key.code {
            KeyCode::Char('c') if control => Some(Input::End),
            KeyCode::Char('q') | KeyCode::Esc if pressed => Some(Input::End),
            KeyCode::Char('p') if pressed => Some(Input::Act(Action::Panic)),
            KeyCode::Up if pressed => Some(Input::Act(Action::Louder)),
            KeyCode::Down if pressed => Some(Input::Act(Action::Softer)),
            _ => None,
        };
        match asked {
            Some(input) => drop(sender.try_send(input)),
            None => {
                for edge in keys.key(&key, at) {
                    let _ = sender.try_send(Input::Edge(edge));
                }
            }
        }
    }
}
