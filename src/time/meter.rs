//! Meters: how a bar is written, and how it is counted.

use super::{PPQ, Tick};

/// A time signature. A **beat** in charts is the denominator note; what is *counted* and clicked is the
/// dotted quarter in 6/8, 9/8 and 12/8, and the beat everywhere else.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Meter {
    beats: u8,
    unit: u8,
}

/// Why a time signature was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a meter has 1 to 32 beats over 1, 2, 4, 8 or 16 (such as 4/4, 3/4, 6/8)")]
pub struct MeterError;

impl Meter {
    /// Four quarters to the bar.
    pub const COMMON: Meter = Meter { beats: 4, unit: 4 };

    /// `beats` over `unit`.
    ///
    /// # Errors
    /// When `beats` is not 1 to 32 or `unit` not 1, 2, 4, 8 or 16.
    pub fn new(beats: u8, unit: u8) -> Result<Meter, MeterError> {
        let fits = (1..=32).contains(&beats) && matches!(unit, 1 | 2 | 4 | 8 | 16);
        if fits {
            Ok(Meter { beats, unit })
        } else {
            Err(MeterError)
        }
    }

    /// Beats (denominator notes) in a bar.
    pub fn beats(self) -> u8 {
        self.beats
    }

    /// The denominator: 4 for quarters, 8 for eighths.
    pub fn unit(self) -> u8 {
        self.unit
    }

    /// Length of one beat (denominator note).
    pub fn beat_ticks(self) -> Tick {
        Tick(4 * PPQ / i64::from(self.unit))
    }

    /// Length of a bar.
    pub fn bar_ticks(self) -> Tick {
        Tick(self.beat_ticks().0 * i64::from(self.beats))
    }

    /// Whether the meter is counted in dotted notes (6/8, 9/8, 12/8).
    pub fn is_compound(self) -> bool {
        self.unit >= 8 && self.beats >= 6 && self.beats.is_multiple_of(3)
    }

    /// How many counts a bar has: 4 in 4/4, 2 in 6/8.
    pub fn counts(self) -> u8 {
        if self.is_compound() {
            self.beats / 3
        } else {
            self.beats
        }
    }

    /// Length of one count: the click's distance.
    pub fn count_ticks(self) -> Tick {
        Tick(self.bar_ticks().0 / i64::from(self.counts()))
    }
}

impl std::str::FromStr for Meter {
    type Err = MeterError;
    fn from_str(text: &str) -> Result<Meter, MeterError> {
        let (beats, unit) = text.trim().split_once('/').ok_or(MeterError)?;
        let number = |part: &str| part.trim().parse::<u8>().map_err(|_| MeterError);
        Meter::new(number(beats)?, number(unit)?)
    }
}

impl std::fmt::Display for Meter {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.beats, self.unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn meters_are_written_and_counted() {
        // written, bar in quarters, counts: common practice, no source
        let cases = [
            ("4/4", 4.0, 4),
            ("3/4", 3.0, 3),
            ("2/2", 4.0, 2),
            ("5/4", 5.0, 5),
            ("6/8", 3.0, 2),
            ("9/8", 4.5, 3),
            ("12/8", 6.0, 4),
            ("7/8", 3.5, 7),
            ("3/8", 1.5, 3),
        ];
        for (text, quarters, counts) in cases {
            let meter: Meter = text.parse().unwrap();
            assert_eq!(
                (meter.bar_ticks().quarters(), meter.counts()),
                (quarters, counts),
                "{text}"
            );
            assert_eq!(meter.to_string(), text);
        }
        for text in ["", "4", "4/", "0/4", "4/3", "33/4", "-1/4", "4/4/4"] {
            assert_eq!(text.parse::<Meter>(), Err(MeterError), "{text}");
        }
    }
}
