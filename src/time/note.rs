//! Notes in time, and the bar: the unit in which music reaches the audio thread.

use super::{Meter, Tick, UsPerQuarter};
use arrayvec::ArrayVec;

/// Who plays a note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    Comping,
    Bass,
    /// Ride, hi-hat, kick: General MIDI percussion keys.
    Drums,
    /// The tune itself, where a stage asks for it.
    Melody,
    /// The click and the count-in: General MIDI percussion keys; sounds without a SoundFont too.
    Click,
    /// Model tones: the answer, on `cue`; sounds without a SoundFont too.
    Model,
}

impl Part {
    /// Every part, in the order of the mixer.
    pub const ALL: [Part; 6] = [
        Part::Comping,
        Part::Bass,
        Part::Drums,
        Part::Melody,
        Part::Click,
        Part::Model,
    ];

    /// The name that events, configuration and screens use.
    pub fn name(self) -> &'static str {
        match self {
            Part::Comping => "comping",
            Part::Bass => "bass",
            Part::Drums => "drums",
            Part::Melody => "melody",
            Part::Click => "click",
            Part::Model => "model",
        }
    }

    /// The MIDI channel (0 to 15) of the part on `midi_out` and in the files. Percussion shares channel 9.
    pub fn channel(self) -> u8 {
        match self {
            Part::Comping => 0,
            Part::Bass => 1,
            Part::Drums | Part::Click => 9,
            Part::Model => 2,
            Part::Melody => 3,
        }
    }
}

/// One note of the band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TimedNote {
    /// Where it starts; what it counts from is said by whoever holds it.
    pub at: Tick,
    /// How long it sounds, at least one tick.
    pub len: Tick,
    pub part: Part,
    /// MIDI key, 0 to 127.
    pub key: u8,
    /// MIDI velocity, 1 to 127.
    pub velocity: u8,
}

/// The most notes a bar can carry.
pub const BAR_NOTES: usize = 128;

/// A bar ready to sound: fixed capacity, so that it travels to the audio thread without allocation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// Counts the replacements: a bar of an older epoch is stale.
    pub epoch: u32,
    /// Where it starts in the take.
    pub start: Tick,
    /// How long it is.
    pub len: Tick,
    /// How it is counted.
    pub meter: Meter,
    /// The tempo from its first tick on.
    pub tempo: UsPerQuarter,
    /// Its notes, sorted by `at`, which counts from the take's start (as `start` does) and lies inside the
    /// bar. A note may ring on into later bars.
    pub notes: ArrayVec<TimedNote, BAR_NOTES>,
    /// Whether the band stops after this bar: nothing follows, ringing notes are let go at its end.
    pub last: bool,
}
