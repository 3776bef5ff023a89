//! The note before, which may ring on: the sound without it, and what is heard in that.
//!
//! Two strings at once have a common period, which may be that of neither and repeats as well as any. So from a beginning on,
//! while the note before may ring, the sound is heard a second time less itself one period of that note ago: what was there
//! before falls out, what the beginning added stays.

use super::decimate::Decimator;
use super::history::History;
use super::pitch::{HeardPitch, Look};
use super::setup::Instrument;

/// What is heard in the rest counts from this clarity on.
const CLEAR: f32 = 0.9;
/// A period is a multiple of another if it is so near to it, in parts of a period.
const NEAR: f32 = 0.04;
/// The common period of two strings is longer than that of either, by so much at least.
const SHORTER: f32 = 1.05;
/// Where the whole has another period, the rest counts if the whole repeats less well than this ...
const UNCLEAR: f32 = 0.95;
/// ... and the rest better by so much; or if the rest has the shorter period and leaves so much less of it unexplained.
const CLEARER: f32 = 0.02;
const PURER: f32 = 0.25;

/// Hears without a note.
pub(super) struct Without {
    rate: f32,
    factor: usize,
    /// In samples; 0 for none.
    period: f32,
    fine: History,
    coarse: History,
    decimator: Decimator,
    pitch: HeardPitch,
}

impl Without {
    pub(super) fn new(rate: f32, factor: usize, instrument: Instrument) -> Without {
        let pitch = HeardPitch::new(rate, factor, instrument.range_hz(), true);
        Without {
            rate,
            factor,
            period: 0.0,
            fine: History::new(pitch.fine_needed()),
            coarse: History::new(pitch.coarse_needed()),
            decimator: Decimator::new(factor),
            pitch,
        }
    }

    /// How many samples of the whole are needed, for notes down to `low_hz`.
    pub(super) fn needed(&self, low_hz: f32) -> usize {
        self.filled() + (self.rate / low_hz) as usize + 4
    }

    fn filled(&self) -> usize {
        self.pitch
            .fine_needed()
            .max(self.pitch.coarse_needed() * self.factor)
    }

    /// The note that may ring on from now on, in Hz; 0 for none.
    pub(super) fn leave_out(&mut self, hz: f32, whole: &History) {
        let period = if hz > 0.0 { self.rate / hz } else { 0.0 };
        if period == self.period {
            return;
        }
        self.period = period;
        if period > 0.0 {
            for back in (0..self.filled()).rev() {
                self.take(whole, back);
            }
        }
    }

    /// Takes the newest sample of the whole.
    pub(super) fn push(&mut self, whole: &History) {
        if self.period > 0.0 {
            self.take(whole, 0);
        }
    }

    fn take(&mut self, whole: &History, back: usize) {
        let (steps, part) = (self.period as usize, self.period.fract());
        let needed = steps + 2 + back;
        let samples = whole.newest(needed);
        let Some(last) = samples.len().checked_sub(needed) else {
            return;
        };
        let before = samples[last + 1] * (1.0 - part) + samples[last] * part;
        let rest = samples[last + steps + 1] - before;
        self.fine.push(rest);
        if let Some(sample) = self.decimator.push(rest) {
            self.coarse.push(sample);
        }
    }

    /// What the look at the whole is, in the light of the rest.
    pub(super) fn clearer(&mut self, whole: Look, age: usize, held_hz: f32) -> Look {
        if self.period == 0.0 {
            return whole;
        }
        let rest = self.pitch.look(&self.coarse, &self.fine, age, held_hz);
        if rest.clarity < CLEAR || rest.hz <= 0.0 {
            return whole;
        }
        let times = if whole.hz > 0.0 {
            self.rate / whole.hz / self.period
        } else {
            0.0
        };
        let is_common =
            times > 0.9 && (times - times.round()).abs() < NEAR && rest.hz > SHORTER * whole.hz;
        let is_clearer = whole.clarity < UNCLEAR && rest.clarity > whole.clarity + CLEARER;
        let is_purer =
            rest.hz > SHORTER * whole.hz && 1.0 - rest.clarity < PURER * (1.0 - whole.clarity);
        if is_common || is_clearer || is_purer {
            rest
        } else {
            whole
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f32 = 48_000.0;

    fn string(hz: f32, t: f32) -> f32 {
        let tone = |h: f32| (std::f32::consts::TAU * hz * h * t).sin() / h;
        (-t.max(0.0) * 2.0).exp() * (tone(1.0) + tone(2.0) + tone(3.0) + tone(4.0))
    }

    /// What is heard 60 ms after a second string was struck while the first rings on: in the whole, and in its light.
    fn heard(first_hz: f32, second_hz: f32) -> (f32, f32) {
        let mut without = Without::new(RATE, 3, Instrument::Guitar);
        let mut pitch = HeardPitch::new(RATE, 3, (54.0, 1420.0), true);
        let mut fine = History::new(without.needed(54.0));
        let mut coarse = History::new(pitch.coarse_needed());
        let mut decimator = Decimator::new(3);
        let (begins, age) = (24_000, 2_880);
        for n in 0..begins + age {
            let since = |from: usize| (n as f32 - from as f32) / RATE;
            let second = if n < begins {
                0.0
            } else {
                string(second_hz, since(begins))
            };
            fine.push(0.1 * (string(first_hz, since(0)) + 2.0 * second));
            without.push(&fine);
            if let Some(sample) = decimator.push(fine.newest(1)[0]) {
                coarse.push(sample);
            }
            if n == begins + 400 {
                without.leave_out(first_hz, &fine);
            }
        }
        let whole = pitch.look(&coarse, &fine, age / 3, 0.0);
        let clearer = without.clearer(whole, age / 3, 0.0);
        (whole.hz, clearer.hz)
    }

    #[test]
    fn the_second_of_two_strings_is_heard_and_not_their_common_period() {
        let midi = |hz: f32| (69.0 + 12.0 * (hz / 440.0).log2()).round() as i32;
        let hz = |midi: i32| 440.0 * ((midi - 69) as f32 / 12.0).exp2();
        for (first, second) in [
            (64, 71),
            (71, 64),
            (60, 64),
            (64, 60),
            (57, 64),
            (50, 57),
            (69, 64),
        ] {
            let (_, told) = heard(hz(first), hz(second));
            assert_eq!(midi(told), second, "{second} over {first}");
        }
        // A fifth: the whole repeats with neither.
        let (whole, _) = heard(hz(64), hz(71));
        assert_eq!(midi(whole), 52);
    }
}
