//! What is listened to, and the settings that go with it.

/// What is listened to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Instrument {
    /// A guitar, from the A of a seventh string tuned down (55 Hz) to above the 24th fret.
    #[default]
    Guitar,
    /// A bass, from the low B (31 Hz).
    Bass,
    /// A voice: a note is the middle of what swings around it.
    Voice,
}

impl Instrument {
    /// The lowest and the highest note that is looked for, in Hz.
    pub fn range_hz(self) -> (f32, f32) {
        match self {
            Instrument::Guitar => (54.0, 1420.0),
            Instrument::Bass => (29.0, 520.0),
            Instrument::Voice => (65.0, 1200.0),
        }
    }

    /// The rate of the coarse look, in Hz: as low as the notes allow.
    pub(super) fn coarse_hz(self) -> f32 {
        match self {
            Instrument::Bass => 8_000.0,
            Instrument::Guitar | Instrument::Voice => 16_000.0,
        }
    }

    pub(super) fn habits(self) -> EarHabits {
        match self {
            Instrument::Guitar => STRING,
            Instrument::Bass => EarHabits {
                rare_hz: 0.0,
                ..STRING
            },
            Instrument::Voice => EarHabits {
                late_ms: 330.0,
                swings: true,
                rare_hz: 0.0,
                ..STRING
            },
        }
    }
}

/// A plucked string.
const STRING: EarHabits = EarHabits {
    agree_cents: 50.0,
    change_cents: 70.0,
    change_ms: 52.0,
    name_ms: 21.0,
    wait_ms: 40.0,
    late_ms: 110.0,
    change_clarity: 0.8,
    swings: false,
    rare_hz: 71.5,
};

/// How long and how well readings must agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct EarHabits {
    /// Readings of one note lie this near to their mean.
    pub(super) agree_cents: f32,
    /// A sounding note that moves further than this has become another one.
    pub(super) change_cents: f32,
    /// ... and stays there so long.
    pub(super) change_ms: f32,
    /// A note is named after readings that agree for so long.
    pub(super) name_ms: f32,
    /// ... not earlier than this after its beginning.
    pub(super) wait_ms: f32,
    /// ... and only then if they repeat less well than a string does.
    pub(super) late_ms: f32,
    /// ... and repeats so well.
    pub(super) change_clarity: f32,
    /// Whether a note swings round its pitch, so that the middle of a swing is meant; else its newest readings are the
    /// truest, for they are the furthest from the stroke.
    pub(super) swings: bool,
    /// What is lower is rare: on a guitar what is under the lowest string let down by a tone (common practice, no source).
    pub(super) rare_hz: f32,
}

/// What the ear is to listen to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setup {
    /// Frames a second; 8,000 to 384,000.
    pub rate: u32,
    /// What is listened to.
    pub instrument: Instrument,
    /// The A above middle C in Hz.
    pub a4_hz: f32,
}
