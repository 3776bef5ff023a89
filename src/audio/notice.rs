//! What the player reports.

use super::command::{ClockSource, CueForm};
use crate::clock::ClockState;
use crate::time::{Frame, Tick, UsPerQuarter};

/// What the player reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Notice {
    /// A bar began to sound. A bar in progress whose end was replaced is told when the new one takes over, with
    /// the new one's epoch.
    BarStarted {
        /// Its epoch.
        epoch: u32,
        /// Its start in the take.
        start: Tick,
        /// The frame of its first tick.
        frame: Frame,
    },
    /// The take ended after a bar marked `last`, or by `Stop` or `Panic`.
    Ended {
        /// When.
        frame: Frame,
    },
    /// A cue was placed: it sounds (or will) from `frame` to `end`.
    CueStarted {
        /// Its id.
        cue: u32,
        /// The chosen length.
        form: CueForm,
        /// Its first frame.
        frame: Frame,
        /// The frame after its last.
        end: Frame,
    },
    /// A cue fitted nowhere.
    CueSkipped {
        /// Its id.
        cue: u32,
        /// When that was known.
        frame: Frame,
    },
    /// A MIDI message came in on `midi_in` (up to three bytes).
    Midi {
        /// When.
        frame: Frame,
        /// The bytes; unused ones are 0.
        bytes: [u8; 3],
        /// How many.
        len: u8,
    },
    /// The clock that is followed: told with every quarter note that it brings, and when its state changes.
    Clock {
        /// When.
        frame: Frame,
        /// Which source; none: none is there.
        source: Option<ClockSource>,
        /// How well it is known.
        state: ClockState,
        /// The take's tick that sounds on `frame`, if the clock drives the take.
        tick: Option<Tick>,
        /// Its tempo, once it is known.
        tempo: Option<UsPerQuarter>,
        /// How far its ticks usually are off, in microseconds.
        scatter_us: u32,
        /// Ticks that did not come, so far.
        lost: u32,
    },
    /// The master began the song.
    ClockBegan {
        /// On which frame.
        frame: Frame,
        /// The take's first tick.
        tick: Tick,
        /// Whether the bars of `Home` sound; else bars are awaited.
        home: bool,
    },
}
