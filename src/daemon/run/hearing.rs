//! The thread that listens: it takes the guitar's sound out of the callback's queue and tells notes to the loop.
//!
//! # Why does the loop wake the ear?
//!
//! The callback may wake nobody. While the input is dead the thread sleeps; the loop, which wakes for reasons of its own, looks
//! whether the input still is, and tells the core how far it was in the ear's place.

use super::super::config::Config;
use super::super::hearing::{Listener, Past};
use super::super::known_inputs::KnownInputs;
use super::super::setup;
use super::input::Input;
use super::keeper::Keeper;
use super::plugged_in::PluggedIn;
use crate::audio::{TapEnd, TapWatch};
use crate::device::InputReport;
use crate::judging::EarEvent;
use crate::listen::Instrument;
use crate::practice::Replay;
use crate::time::Frame;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, TryRecvError, channel};
use std::thread::Thread;
use std::time::{Duration, Instant};

/// How long the thread sleeps when the queue is empty: what a note may be told later by. It was sounding for longer before it
/// was a note, and the loop is told how far the ear is as often.
const NAP: Duration = Duration::from_millis(25);

/// Blocks that are listened to at a time, about 40 ms of sound, and the pause after them when more are waiting.
const BITE: usize = 32;
const BREATH: Duration = Duration::from_millis(1);
/// When an input is dead for so long, what is kept of it is silence.
const FORGET_AFTER: Duration = Duration::from_secs(90);

/// What the loop says to the thread, value by value.
#[derive(Debug, Default)]
struct Said {
    voice: AtomicBool,
    readings: AtomicBool,
    /// It is asked what the input is like.
    checks: AtomicBool,
    /// The way round in frames.
    latency_frames: AtomicI64,
    lost: AtomicU64,
    /// The thread sleeps: it has listened to all there was, and the input was dead.
    sleeps: AtomicBool,
}

impl Said {
    /// What is listened for, where this is plugged in.
    fn instrument(&self, plugged_in: Instrument) -> Instrument {
        match self.voice.load(Ordering::Relaxed) {
            true => Instrument::Voice,
            false => plugged_in,
        }
    }
}

/// What the loop asks of the thread.
enum Ask {
    Listen(TapEnd, u32),
    PlayBack(Replay),
    Keep(Frame, Frame),
    Settings(Box<Config>),
    /// The ports that the sound comes from.
    Input(String),
}

/// The ear's thread; it ends when this is dropped.
pub struct Hearing {
    said: Arc<Said>,
    asks: Sender<Ask>,
    on: bool,
    thread: Option<Thread>,
    watch: Option<TapWatch>,
    input: Option<String>,
}

impl Hearing {
    /// Starts the thread; without one nothing is heard, all else goes on.
    pub fn start(
        config: &Config,
        (keeper, known): (Keeper, KnownInputs),
        inputs: SyncSender<Input>,
    ) -> Hearing {
        let said = Arc::new(Said::default());
        let (asks, coming) = channel();
        let mut hearing = Hearing {
            said: Arc::clone(&said),
            asks,
            on: config.ear.on,
            thread: None,
            watch: None,
            input: None,
        };
        let config = config.clone();
        let plugged = PluggedIn::new(known, keeper);
        let run = move || live(config, plugged, &coming, &said, &inputs);
        if hearing.on {
            match std::thread::Builder::new().name("ear".into()).spawn(run) {
                Ok(thread) => hearing.thread = Some(thread.thread().clone()),
                Err(error) => log::warn!("no thread for the ear: {error}"),
            }
        }
        hearing
    }

    fn ask(&self, ask: Ask) {
        if self.on {
            // The thread lives as long as this does.
            let _ = self.asks.send(ask);
            self.wake();
        }
    }

    fn wake(&self) {
        if let Some(thread) = &self.thread {
            thread.unpark();
        }
    }

    /// Another player's sound, at `rate` frames a second.
    pub fn listen_to(&mut self, tap: TapEnd, rate: u32) {
        self.watch = Some(tap.watch());
        self.ask(Ask::Listen(tap, rate));
    }

    /// Wakes the thread where something comes in again; else tells in its place how far it is.
    pub fn tend(&self) -> Option<EarEvent> {
        if !self.said.sleeps.load(Ordering::Acquire) {
            return None;
        }
        let Some(frame) = self.watch.as_ref().and_then(TapWatch::dead_upto) else {
            self.wake();
            return None;
        };
        let latency = self.said.latency_frames.load(Ordering::Relaxed);
        let frame = Frame(frame.0.saturating_add_signed(-latency));
        // Nobody listens, for there is nothing: that is what the input is like.
        Some(match self.said.checks.load(Ordering::Relaxed) {
            true => EarEvent::Input(InputReport::nothing()),
            false => EarEvent::Upto { frame },
        })
    }

    /// Asks for a stretch of what was heard; it comes as an input.
    pub fn play_back(&self, wanted: Replay) {
        self.ask(Ask::PlayBack(wanted));
    }

    /// Asks for a file of what was heard from one frame up to another.
    pub fn keep(&self, from: Frame, to: Frame) {
        match self.on {
            true => self.ask(Ask::Keep(from, to)),
            false => log::warn!("no take is kept: the ear is off"),
        }
    }

    /// Another configuration.
    pub fn configure(&self, config: &Config) {
        self.ask(Ask::Settings(Box::new(config.clone())));
    }

    /// The way round in frames.
    pub fn set_latency(&self, frames: i64) {
        self.said.latency_frames.store(frames, Ordering::Relaxed);
    }

    /// Whether a voice is listened for, whatever is plugged in.
    pub fn listen_for_voice(&self, voice: bool) {
        self.said.voice.store(voice, Ordering::Relaxed);
    }

    /// Whether readings of the pitch are wanted, for tuning.
    pub fn tell_readings(&self, wanted: bool) {
        self.said.readings.store(wanted, Ordering::Relaxed);
    }

    /// Whether it is asked what the input is like.
    pub fn check_input(&self, wanted: bool) {
        self.said.checks.store(wanted, Ordering::Relaxed);
    }

    /// The ports that the sound comes from.
    pub fn comes_from(&mut self, input: String) {
        if self.input.as_ref() != Some(&input) {
            self.input = Some(input.clone());
            self.ask(Ask::Input(input));
        }
    }

    /// Blocks that found no room so far: the machine is too busy to listen.
    pub fn lost(&self) -> u64 {
        self.said.lost.load(Ordering::Relaxed)
    }
}

fn live(
    mut config: Config,
    mut plugged: PluggedIn,
    coming: &Receiver<Ask>,
    said: &Said,
    inputs: &SyncSender<Input>,
) {
    let mut ear: Option<(TapEnd, Listener)> = None;
    let mut heard = Vec::new();
    let mut past = Past::new(0);
    loop {
        // Without a sound there is nothing to do but what is asked.
        let asked = match ear.is_some() {
            true => coming.try_recv(),
            false => coming.recv().map_err(TryRecvError::from),
        };
        match asked {
            Ok(Ask::Listen(tap, rate)) => {
                ear = Some((tap, plugged.listener(&config, rate)));
                past = Past::new(rate);
            }
            Ok(Ask::PlayBack(wanted)) => {
                let late = said.latency_frames.load(Ordering::Relaxed);
                if let Some(samples) = past.between(wanted.from, wanted.to, late) {
                    let _ = inputs.try_send(Input::PlayedBack(wanted, samples));
                }
            }
            Ok(Ask::Keep(from, to)) => {
                let late = said.latency_frames.load(Ordering::Relaxed);
                plugged.keep_take(past.rate(), past.all_between(from, to, late));
            }
            Ok(Ask::Settings(settings)) => config = *settings,
            Ok(Ask::Input(name)) => plugged.comes_from(name, ear.as_mut().map(|ear| &mut ear.1)),
            Err(TryRecvError::Empty) => {}
            Err(TryRecvError::Disconnected) => return,
        }
        let mut bites = 0;
        let mut is_dead = false;
        if let Some((tap, listener)) = &mut ear {
            let checks = prepare(listener, said, &plugged, (&config, past.rate()));
            // Looked at before the queue: what comes between is told by the next look.
            is_dead = tap.watch().dead_upto().is_some();
            for block in std::iter::from_fn(|| tap.pop()).take(BITE) {
                bites += 1;
                past.push(block.frame, block.sound());
                listener.push(block.frame, block.sound(), block.played(), &mut heard);
            }
            plugged.learn(&mut heard, checks, listener);
            said.lost.store(tap.lost(), Ordering::Relaxed);
            if tap.is_over() {
                ear = None;
            }
        }
        tell(&mut heard, inputs);
        if ear.is_some() {
            rest(bites, is_dead, said, &mut past);
        }
    }
}

/// Lets the listener know what the loop wants of it; whether it is asked what the input is like.
fn prepare(
    listener: &mut Listener,
    said: &Said,
    plugged: &PluggedIn,
    (config, rate): (&Config, u32),
) -> bool {
    let checks = said.checks.load(Ordering::Relaxed);
    let looks = checks || plugged.is_new();
    listener.set_latency(said.latency_frames.load(Ordering::Relaxed));
    listener.tell_readings(said.readings.load(Ordering::Relaxed));
    listener.listen_for(said.instrument(plugged.instrument(config)));
    listener.watch_input(looks.then(|| setup::input(config, rate)));
    checks
}

/// Tells the loop what was heard, together, for each input wakes it.
fn tell(heard: &mut Vec<EarEvent>, inputs: &SyncSender<Input>) {
    if !heard.is_empty() {
        // A loop that has no room for it has other troubles; the next word of how far the ear is comes soon.
        let _ = inputs.try_send(Input::Heard(std::mem::take(heard)));
    }
}

/// Sleeps until there may be something to do.
fn rest(bites: usize, is_dead: bool, said: &Said, past: &mut Past) {
    if !is_dead || bites > 0 {
        // Never busy for long at a time, also while it catches up: whoever has the same priority comes first.
        return std::thread::sleep(if bites < BITE { NAP } else { BREATH });
    }
    said.sleeps.store(true, Ordering::Release);
    let since = Instant::now();
    std::thread::park_timeout(FORGET_AFTER);
    said.sleeps.store(false, Ordering::Release);
    if since.elapsed() >= FORGET_AFTER {
        past.forget();
    }
}
