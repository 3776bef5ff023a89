//! Ticks, frames and tempo: the units.

/// Ticks to a quarter note.
pub const PPQ: i64 = 960;

/// A musical position or length: 960 ticks to a quarter note. Positions of a take count from its first
/// full bar; the count-in is negative.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tick(pub i64);

impl Tick {
    /// `quarters` quarter notes, rounded to the nearest tick.
    pub fn from_quarters(quarters: f64) -> Tick {
        Tick((quarters * PPQ as f64).round() as i64)
    }

    /// This position or length in quarter notes.
    pub fn quarters(self) -> f64 {
        self.0 as f64 / PPQ as f64
    }
}

impl std::ops::Add for Tick {
    type Output = Tick;
    fn add(self, other: Tick) -> Tick {
        Tick(self.0 + other.0)
    }
}

impl std::ops::Sub for Tick {
    type Output = Tick;
    fn sub(self, other: Tick) -> Tick {
        Tick(self.0 - other.0)
    }
}

impl std::ops::AddAssign for Tick {
    fn add_assign(&mut self, other: Tick) {
        self.0 += other.0;
    }
}

/// A position on the audio clock, in sample frames. In the daemon it is JACK's frame time widened to 64
/// bits; in the offline renderer it counts from the first count-in frame.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Frame(pub u64);

impl Frame {
    /// The frame `ms` milliseconds later at `rate` frames a second.
    pub fn plus_ms(self, ms: f64, rate: u32) -> Frame {
        Frame(self.0 + (ms * f64::from(rate) / 1000.0).round() as u64)
    }

    /// The frame `ms` milliseconds earlier, not below zero.
    pub fn minus_ms(self, ms: f64, rate: u32) -> Frame {
        Frame(
            self.0
                .saturating_sub((ms * f64::from(rate) / 1000.0).round() as u64),
        )
    }

    /// Milliseconds from frame zero at `rate` frames a second.
    pub fn ms(self, rate: u32) -> f64 {
        self.0 as f64 * 1000.0 / f64::from(rate)
    }

    /// Seconds from frame zero at `rate` frames a second.
    pub fn seconds(self, rate: u32) -> f64 {
        self.0 as f64 / f64::from(rate)
    }
}

/// Tempo as microseconds to a quarter note: the unit of Standard MIDI Files, so that file and sound agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UsPerQuarter(pub u32);

impl UsPerQuarter {
    /// The tempo of `qpm` quarter notes a minute. Values outside 20 to 400 are clamped.
    pub fn from_qpm(qpm: f64) -> UsPerQuarter {
        let clamped = if qpm.is_finite() {
            qpm.clamp(20.0, 400.0)
        } else {
            120.0
        };
        UsPerQuarter((60_000_000.0 / clamped).round() as u32)
    }

    /// Quarter notes a minute.
    pub fn qpm(self) -> f64 {
        60_000_000.0 / f64::from(self.0.max(1))
    }

    /// The length of `ticks` in milliseconds at this tempo.
    pub fn ms(self, ticks: Tick) -> f64 {
        ticks.0 as f64 * f64::from(self.0) / (PPQ as f64 * 1000.0)
    }
}
