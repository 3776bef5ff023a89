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

/// The rest is not looked at where the whole repeats so well that it cannot be of two strings.
const SINGLE: f32 = 0.99;

/// Hears without a note.
pub(super) struct Without {
    rate: f32,
    factor: usize,
    /// Samples of a hop.
    hop: usize,
    /// In samples; 0 for none.
    period: f32,
    /// Hops of the whole that are not taken yet.
    missing: usize,
    rest: Vec<f32>,
    fine: History,
    coarse: History,
    decimator: Decimator,
    pitch: HeardPitch,
}

impl Without {
    pub(super) fn new(rate: f32, factor: usize, hop: usize, instrument: Instrument) -> Without {
        let pitch = HeardPitch::new(rate, factor, hop, instrument.range_hz(), true);
        let decimator = Decimator::new(factor);
        Without {
            rate,
            factor,
            hop,
            period: 0.0,
            missing: 0,
            rest: vec![0.0; hop],
            fine: History::with_energies(pitch.fine_needed().max(decimator.needed(hop))),
            coarse: History::with_energies(pitch.coarse_needed()),
            decimator,
            pitch,
        }
    }

    /// How many samples of the whole are needed, for notes down to `low_hz`.
    pub(super) fn needed(&self, low_hz: f32) -> usize {
        self.most_missing() * self.hop + (self.rate / low_hz) as usize + 4
    }

    /// As many hops are taken at most: what was before is not heard any more.
    fn most_missing(&self) -> usize {
        let coarse = self.pitch.coarse_needed() * self.factor;
        let all = self.pitch.fine_needed().max(self.decimator.needed(coarse));
        all.div_ceil(self.hop)
    }

    /// A hop of the whole has come; `hz` is the note that may ring on in it, 0 for none.
    pub(super) fn pass(&mut self, hz: f32) {
        self.missing += 1;
        self.pitch.pass();
        let period = if hz > 0.0 { self.rate / hz } else { 0.0 };
        if period != self.period {
            self.period = period;
            self.missing = usize::MAX / 2;
            self.pitch.forget();
        }
    }

    /// Takes the hops that are missing.
    fn catch_up(&mut self, whole: &History) {
        let (steps, part) = (self.period as usize, self.period.fract());
        for back in (0..self.missing.min(self.most_missing())).rev() {
            let samples = whole.newest((back + 1) * self.hop + steps + 1);
            let Some(new) = samples.get(steps + 1..steps + 1 + self.hop) else {
                continue;
            };
            let old = samples.iter().zip(&samples[1..]);
            for ((rest, new), (older, old)) in self.rest.iter_mut().zip(new).zip(old) {
                *rest = new - (old * (1.0 - part) + older * part);
            }
            self.fine.extend(&self.rest);
            self.decimator.pass(&self.fine, self.hop, &mut self.coarse);
        }
        self.missing = 0;
    }

    /// Whether the look at the whole may be at two strings.
    fn is_doubtful(&self, whole: &Look) -> bool {
        whole.clarity < SINGLE || self.is_multiple(whole)
    }

    /// Whether the whole's period is a multiple of the one that is left out.
    fn is_multiple(&self, whole: &Look) -> bool {
        let times = self.rate / whole.hz / self.period;
        times > 0.9 && (times - times.round()).abs() < NEAR
    }

    /// What the look at the whole is, in the light of the rest.
    pub(super) fn clearer(
        &mut self,
        look: Look,
        whole: &History,
        age: usize,
        held_hz: f32,
    ) -> Look {
        if self.period == 0.0 || !self.is_doubtful(&look) {
            return look;
        }
        self.catch_up(whole);
        let rest = self.pitch.look(&self.coarse, &self.fine, age, held_hz);
        if rest.clarity < CLEAR || rest.hz <= 0.0 {
            return look;
        }
        let is_shorter = rest.hz > SHORTER * look.hz;
        let is_common = is_shorter && self.is_multiple(&look);
        let is_clearer = look.clarity < UNCLEAR && rest.clarity > look.clarity + CLEARER;
        let is_purer = is_shorter && 1.0 - rest.clarity < PURER * (1.0 - look.clarity);
        if is_common || is_clearer || is_purer {
            rest
        } else {
            look
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
        const HOP: usize = 63;
        let mut without = Without::new(RATE, 3, HOP, Instrument::Guitar);
        let mut pitch = HeardPitch::new(RATE, 3, HOP, (54.0, 1420.0), true);
        let mut fine = History::with_energies(without.needed(54.0));
        let mut coarse = History::with_energies(pitch.coarse_needed());
        let decimator = Decimator::new(3);
        let (begins, age) = (380 * HOP, 46 * HOP);
        let sound = |n: usize| {
            let since = |from: usize| (n as f32 - from as f32) / RATE;
            let second = if n < begins {
                0.0
            } else {
                string(second_hz, since(begins))
            };
            0.1 * (string(first_hz, since(0)) + 2.0 * second)
        };
        for hop in 0..(begins + age) / HOP {
            let new: Vec<f32> = (0..HOP).map(|n| sound(hop * HOP + n)).collect();
            fine.extend(&new);
            decimator.pass(&fine, HOP, &mut coarse);
            pitch.pass();
            let begun = hop > begins / HOP + 6;
            without.pass(if begun { first_hz } else { 0.0 });
        }
        let whole = pitch.look(&coarse, &fine, age / 3, 0.0);
        let clearer = without.clearer(whole, &fine, age / 3, 0.0);
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
