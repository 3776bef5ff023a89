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
            Instrument::Guitar | Instrument::Bass => STRING,
            Instrument::Voice => EarHabits {
                late_ms: 330.0,
                swings: true,
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
    /// A guitar's lowest open string in Hz: more than a tone under it little is believed. 0 where it is not known.
    pub lowest_hz: f32,
}

/// How far under its lowest string a guitar may still sound, in octaves: let down by a tone, and a quarter tone out of tune.
const LET_DOWN_OCTAVES: f32 = 2.5 / 12.0;

impl Setup {
    /// What is lower is rare.
    pub(super) fn rare_hz(&self) -> f32 {
        match self.instrument {
            Instrument::Guitar => self.lowest_hz * (-LET_DOWN_OCTAVES).exp2(),
            Instrument::Bass | Instrument::Voice => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_under_the_lowest_string_is_rare() {
        // The lowest string, MIDI; a note, MIDI; whether it is rare. Six strings, a seventh, one that is not known.
        for (instrument, lowest, midi, rare) in [
            (Instrument::Guitar, 40.0, 40.0, false),
            (Instrument::Guitar, 40.0, 38.0, false),
            (Instrument::Guitar, 40.0, 37.0, true),
            (Instrument::Guitar, 35.0, 33.0, false),
            (Instrument::Guitar, f32::NEG_INFINITY, 33.0, false),
            (Instrument::Bass, 40.0, 28.0, false),
            (Instrument::Voice, 40.0, 36.0, false),
        ] {
            let hz = |midi: f32| 440.0 * ((midi - 69.0) / 12.0).exp2();
            let setup = Setup {
                rate: 48_000,
                instrument,
                a4_hz: 440.0,
                lowest_hz: hz(lowest),
            };
            let is_rare = hz(midi) < setup.rare_hz();
            assert_eq!(is_rare, rare, "{instrument:?} {lowest} {midi}");
        }
    }
}
