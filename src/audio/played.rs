//! What leaves the player beside the sound: MIDI for a port, and what was played, in ticks, for a file.

use crate::time::{Frame, Meter, Part, Tick, UsPerQuarter};

/// Where the band goes as MIDI. Called within the callback: its rules hold for the implementation.
pub trait MidiSink {
    /// A message `offset_frames` after the first frame of the block; offsets never go down.
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]);

    /// What was played, in ticks, for a file. In the order of time; each at most a sub-block ahead of its
    /// frame.
    fn played(&mut self, what: Played) {
        let _ = what;
    }
}

impl MidiSink for () {
    fn event(&mut self, _offset_frames: u32, _bytes: [u8; 3]) {}
}

/// What was played, in ticks of the take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Played {
    /// A take began.
    TakeStarted {
        /// Its first tick.
        tick: Tick,
        /// On which frame.
        frame: Frame,
    },
    /// A bar began.
    Bar {
        /// Where.
        tick: Tick,
        /// How it is counted.
        meter: Meter,
        /// The tempo from here on.
        tempo: UsPerQuarter,
    },
    /// A note was struck.
    On {
        /// Where.
        tick: Tick,
        /// By whom.
        part: Part,
        /// MIDI key.
        key: u8,
        /// MIDI velocity.
        velocity: u8,
    },
    /// A note was let go.
    Off {
        /// Where.
        tick: Tick,
        /// By whom.
        part: Part,
        /// MIDI key.
        key: u8,
    },
    /// The take ended.
    TakeEnded {
        /// Where.
        tick: Tick,
        /// On which frame.
        frame: Frame,
    },
}
