//! The thread that listens: it takes the guitar's sound out of the callback's queue and tells notes to the loop.

use super::super::config::Config;
use super::super::hearing::Listener;
use super::super::setup;
use super::inputs::Input;
use crate::audio::TapEnd;
use crate::listen::Instrument;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, TryRecvError, channel};
use std::time::Duration;

/// How long the thread sleeps when the queue is empty: what a note may be told later by.
const NAP: Duration = Duration::from_millis(4);

/// What the loop says to the thread, value by value.
#[derive(Debug, Default)]
struct Said {
    voice: AtomicBool,
    /// The way round in frames.
    latency_frames: AtomicI64,
    lost: AtomicU64,
}

/// The ear's thread; it ends when this is dropped.
pub struct Hearing {
    said: Arc<Said>,
    taps: Sender<(TapEnd, u32)>,
    on: bool,
}

impl Hearing {
    /// Starts the thread; without one nothing is heard, all else goes on.
    pub fn start(config: &Config, inputs: SyncSender<Input>) -> Hearing {
        let said = Arc::new(Said::default());
        let (taps, coming) = channel();
        let hearing = Hearing {
            said: Arc::clone(&said),
            taps,
            on: config.ear.on,
        };
        let config = config.clone();
        let run = move || live(&config, &coming, &said, &inputs);
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
            let _ = self.taps.send((tap, rate));
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

    /// Blocks that found no room so far: the machine is too busy to listen.
    pub fn lost(&self) -> u64 {
        self.said.lost.load(Ordering::Relaxed)
    }
}

fn live(
    config: &Config,
    coming: &Receiver<(TapEnd, u32)>,
    said: &Said,
    inputs: &SyncSender<Input>,
) {
    let mut ear: Option<(TapEnd, Listener)> = None;
    let mut heard = Vec::new();
    loop {
        match coming.try_recv() {
            Ok((tap, rate)) => ear = Some((tap, Listener::new(setup::ear(config, rate), 0))),
            Err(TryRecvError::Empty) => {}
            Err(TryRecvError::Disconnected) => return,
        }
        let mut idle = true;
        if let Some((tap, listener)) = &mut ear {
            listener.set_latency(said.latency_frames.load(Ordering::Relaxed));
            listener.listen_for(match said.voice.load(Ordering::Relaxed) {
                true => Instrument::Voice,
                false => config.ear.instrument,
            });
            // A bounded bite, so that what the loop says is heard soon.
            for block in std::iter::from_fn(|| tap.pop()).take(256) {
                idle = false;
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
        if idle {
            std::thread::sleep(NAP);
        }
    }
}
