//! The thread that listens: it takes the guitar's sound out of the callback's queue and tells notes to the loop.

use super::super::config::Config;
use super::super::hearing::{Listener, Past};
use super::super::setup;
use super::input::Input;
use super::keeper::Keeper;
use crate::audio::TapEnd;
use crate::listen::Instrument;
use crate::practice::Replay;
use crate::time::Frame;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, TryRecvError, channel};
use std::time::Duration;

/// How long the thread sleeps when the queue is empty: what a note may be told later by.
const NAP: Duration = Duration::from_millis(4);

/// Blocks that are listened to at a time, about 10 ms of sound, and the pause after them when more are waiting.
const BITE: usize = 8;
const BREATH: Duration = Duration::from_millis(1);

/// What the loop says to the thread, value by value.
#[derive(Debug, Default)]
struct Said {
    voice: AtomicBool,
    readings: AtomicBool,
    /// The way round in frames.
    latency_frames: AtomicI64,
    lost: AtomicU64,
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
}

/// The ear's thread; it ends when this is dropped.
pub struct Hearing {
    said: Arc<Said>,
    asks: Sender<Ask>,
    on: bool,
}

impl Hearing {
    /// Starts the thread; without one nothing is heard, all else goes on.
    pub fn start(config: &Config, keeper: Keeper, inputs: SyncSender<Input>) -> Hearing {
        let said = Arc::new(Said::default());
        let (asks, coming) = channel();
        let hearing = Hearing {
            said: Arc::clone(&said),
            asks,
            on: config.ear.on,
        };
        let config = config.clone();
        let run = move || live(config, &keeper, &coming, &said, &inputs);
        if hearing.on {
            let thread = std::thread::Builder::new().name("ear".into()).spawn(run);
            if let Err(error) = thread {
                log::warn!("no thread for the ear: {error}");
            }
        }
        hearing
    }

    /// Another player's sound, at `rate` frames a second.
    pub fn listen_to(&self, tap: TapEnd, rate: u32) {
        if self.on {
            // The thread lives as long as this does.
            let _ = self.asks.send(Ask::Listen(tap, rate));
        }
    }

    /// Asks for a stretch of what was heard; it comes as an input.
    pub fn play_back(&self, wanted: Replay) {
        if self.on {
            let _ = self.asks.send(Ask::PlayBack(wanted));
        }
    }

    /// Asks for a file of what was heard from one frame up to another.
    pub fn keep(&self, from: Frame, to: Frame) {
        match self.on {
            true => {
                let _ = self.asks.send(Ask::Keep(from, to));
            }
            false => log::warn!("no take is kept: the ear is off"),
        }
    }

    /// Another configuration.
    pub fn configure(&self, config: &Config) {
        if self.on {
            let _ = self.asks.send(Ask::Settings(Box::new(config.clone())));
        }
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

    /// Blocks that found no room so far: the machine is too busy to listen.
    pub fn lost(&self) -> u64 {
        self.said.lost.load(Ordering::Relaxed)
    }
}

fn live(
    mut config: Config,
    keeper: &Keeper,
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
                ear = Some((tap, Listener::new(setup::ear(&config, rate), 0)));
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
                keeper.take(past.rate(), past.all_between(from, to, late));
            }
            Ok(Ask::Settings(settings)) => config = *settings,
            Err(TryRecvError::Empty) => {}
            Err(TryRecvError::Disconnected) => return,
        }
        let mut bites = 0;
        if let Some((tap, listener)) = &mut ear {
            listener.set_latency(said.latency_frames.load(Ordering::Relaxed));
            listener.tell_readings(said.readings.load(Ordering::Relaxed));
            listener.listen_for(said.instrument(config.ear.instrument));
            for block in std::iter::from_fn(|| tap.pop()).take(BITE) {
                bites += 1;
                past.push(block.frame, block.sound());
                listener.push(block.frame, block.sound(), block.played(), &mut heard);
            }
            said.lost.store(tap.lost(), Ordering::Relaxed);
            if tap.is_over() {
                ear = None;
            }
        }
        for sounded in heard.drain(..) {
            // A loop that has no room for it has other troubles; the next word of how far the ear is comes soon.
            let _ = inputs.try_send(Input::Heard(sounded));
        }
        // Never busy for long at a time, also while it catches up: whoever has the same priority comes first.
        std::thread::sleep(if bites < BITE { NAP } else { BREATH });
    }
}
