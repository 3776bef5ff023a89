//! From sound to what the core is told: what both the offline renderer and the daemon do with a guitar.

use crate::listen::{Found, Instrument, Setup, Stream};
use crate::practice::Sounded;
use crate::time::Frame;

/// How often it is told how far the ear is, in ms.
const TELL_EVERY_MS: u64 = 20;

/// Listens, and tells notes on the frames on which the player meant them.
pub struct Listener {
    stream: Stream,
    /// What lies between what the player heard and what is heard of the player.
    latency_frames: i64,
    tell_every: u64,
    told: u64,
}

impl Listener {
    /// Nothing was heard yet. `latency_frames`: the whole way round, from the frame on which something is played to
    /// the frame on which it comes back.
    pub fn new(setup: Setup, latency_frames: i64) -> Listener {
        Listener {
            stream: Stream::new(setup),
            latency_frames,
            tell_every: TELL_EVERY_MS * u64::from(setup.rate) / 1000,
            told: 0,
        }
    }

    /// The way round has changed.
    pub fn set_latency(&mut self, frames: i64) {
        self.latency_frames = frames;
    }

    /// Listens for another instrument from now on.
    pub fn listen_for(&mut self, instrument: Instrument) {
        self.stream.listen_for(instrument);
    }

    /// Listens to a block that begins on `frame`, with what was played meanwhile beside it.
    pub fn push(&mut self, frame: Frame, sound: &[f32], played: &[f32], out: &mut Vec<Sounded>) {
        let latency = self.latency_frames;
        let meant = |at: u64| Frame(at.saturating_add_signed(-latency));
        self.stream
            .push(frame.0, sound, Some(played), &mut |found| match found {
                Found::Reading(_) => {}
                Found::Named(heard) => out.push(Sounded::Began {
                    onset: meant(heard.onset),
                    midi: heard.midi,
                    cents: heard.cents,
                    confidence: heard.confidence,
                }),
                Found::Ended { off } => out.push(Sounded::Ended { off: meant(off) }),
            });
        let upto = frame.0 + sound.len() as u64;
        if upto < self.told || upto >= self.told + self.tell_every {
            self.told = upto;
            out.push(Sounded::Upto { frame: meant(upto) });
        }
    }
}
