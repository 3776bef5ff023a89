//! The pitch of the newest few milliseconds: a normalised square difference whose window goes with the lag.
//!
//! For a lag of `t` samples the newest `w` samples are compared with those `t` before them:
//! `n(t) = 2 sum(x[i] x[i-t]) / sum(x[i]^2 + x[i-t]^2)`, which is 1 for a sound of period `t` and falls with noise
//! (the normalised square difference of P. McLeod and G. Wyvill, "A smarter way to find pitch", ICMC 2005). Here `w`
//! is not one length for all lags, but one period or 10 ms, whichever is longer: a high note is known after a few of
//! its own periods and not after two of the lowest note. Later in a note the window grows with the note's age, which
//! steadies the reading; it never goes back over more than the newest part of the note, so that the roughness of the
//! stroke is soon left behind. The period of a string is then that of its lower partials (`lower`).

use super::decimate::{dot, three_dots};
use super::history::History;
use super::lower::{Lower, parabola};
use super::products::{LANES, Products};

/// What one look at the newest samples gives.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Look {
    /// Frequency in Hz; 0 if nothing repeats.
    pub(super) hz: f32,
    /// How well it repeats, up to 1.
    pub(super) clarity: f32,
    /// How much of the newest 2.7 ms does not go on like the period before, against the mean power: over about a
    /// quarter the sound has just changed.
    pub(super) broken: f32,
    /// How well the best shorter period repeats, against the one chosen.
    pub(super) rival: f32,
    /// By how much the best longer period repeats better.
    pub(super) better: f32,
    /// ... of those that are multiples of it: then it may be an octave too high, or a twelfth.
    pub(super) multiple: f32,
}

/// The lags of one instrument at one rate, and room to work in.
#[derive(Debug)]
pub(super) struct HeardPitch {
    fine_rate: f32,
    factor: usize,
    lag_min: usize,
    lag_max: usize,
    window: usize,
    window_max: usize,
    lower: Option<Lower>,
    /// By how many times the period of the lower partials was longer when it was last worked out, for which lag, and how many
    /// looks ago.
    longer: f32,
    longer_for: f32,
    longer_age: usize,
    products: Products,
    nsdf: Vec<f32>,
    /// The peaks of the curve, shortest lag first: where, and how high.
    peaks: Vec<(f32, f32)>,
    last: Look,
    rest: usize,
}

/// Every period's multiples repeat as well as the period itself, and an overtone's period nearly as well. So the
/// shortest lag is taken that leaves no more than so many times the rest (1 - n) of the best one ...
const REST_TIMES: f32 = 5.0;
/// ... plus this much for noise ...
const REST_MORE: f32 = 0.02;
/// ... and comes this near to its height.
const NEAR_BEST: f32 = 0.8;
/// The note that sounds is kept in doubt if it comes so near to the best.
const HELD_NEAR: f32 = 0.15;
/// ... unless a shorter lag repeats as well but for this much: the note was taken an octave too low.
const HELD_BETTER: f32 = 0.03;
/// The shortest window.
const WINDOW_S: f32 = 0.010;
/// A window grows with this part of a note's age ...
const WINDOW_OF_AGE: f32 = 0.6;
/// ... up to this.
const WINDOW_MAX_S: f32 = 0.025;
/// The stretch that is looked at for a break.
const BREAK_S: f32 = 0.0027;
/// A steady note is looked at whole every so many hops; in between its own lag is enough.
const REST_HOPS: usize = 4;
/// The lower partials are looked at every so many looks while the lag stays within this part of itself, and of a steady note every so many.
const LOWER_LOOKS: usize = 3;
const LOWER_REST_LOOKS: usize = 6;
const LOWER_NEAR: f32 = 0.01;
/// A lag so near to a multiple of another one, in times, is that.
const MULTIPLE: f32 = 0.03;

impl HeardPitch {
    /// For notes from `low_hz` to `high_hz`; `rate` is the full one, the coarse one is `factor` times lower. There may be a look
    /// every `hop` samples at the full rate.
    pub(super) fn new(
        rate: f32,
        factor: usize,
        hop: usize,
        (low_hz, high_hz): (f32, f32),
        string: bool,
    ) -> HeardPitch {
        let coarse = rate / factor as f32;
        let lag_max = (coarse / low_hz).ceil() as usize + 2;
        let lag_min = ((coarse / high_hz).floor() as usize).max(3) - 1;
        let window = (WINDOW_S * coarse) as usize;
        let window_max = ((WINDOW_MAX_S * coarse) as usize).max(lag_max + 2);
        let products = Products::new(hop / factor, lag_max + 1, window_max);
        HeardPitch {
            fine_rate: rate,
            factor,
            lag_min,
            lag_max,
            window,
            window_max,
            lower: string.then(|| Lower::new(coarse, window_max, lag_max)),
            longer: 1.0,
            longer_for: 0.0,
            longer_age: 0,
            products,
            nsdf: vec![0.0; lag_max + 2],
            peaks: Vec::with_capacity(lag_max),
            last: Look::default(),
            rest: 0,
        }
    }

    /// How many coarse samples a look needs.
    pub(super) fn coarse_needed(&self) -> usize {
        let lower = self.lower.as_ref().map_or(0, Lower::needed);
        self.products.needed().max(lower)
    }

    fn curve_needed(&self) -> usize {
        self.window_max + self.lag_max + 2
    }

    /// How many samples at the full rate a look needs.
    pub(super) fn fine_needed(&self) -> usize {
        (self.curve_needed() + 6) * self.factor
    }

    fn window_for(&self, lag: usize, age: usize) -> usize {
        let least = self.window.max(lag);
        let of_age = (age.saturating_sub(lag) as f32 * WINDOW_OF_AGE) as usize;
        least.max(of_age.min(self.window_max))
    }

    /// A hop has come.
    pub(super) fn pass(&mut self) {
        self.products.pass();
        if let Some(lower) = &mut self.lower {
            lower.pass(self.products.block());
        }
    }

    /// The samples are others from now on.
    pub(super) fn forget(&mut self) {
        self.products.forget();
        if let Some(lower) = &mut self.lower {
            lower.forget();
        }
    }

    /// Looks at the newest samples of `coarse` and `fine`, which are the same sound at the two rates; `age` is how
    /// many coarse samples ago the note began. `held` is the note that sounds so far in Hz, or 0: it is kept where
    /// the curve leaves a doubt.
    pub(super) fn look(&mut self, coarse: &History, fine: &History, age: usize, held: f32) -> Look {
        let near = |look: &Look| look.clarity > 0.9 && (look.hz / held - 1.0).abs() < 0.03;
        let steady = held > 0.0 && near(&self.last) && age > self.window * 6;
        self.rest = if steady {
            (self.rest + 1) % REST_HOPS
        } else {
            0
        };
        if self.rest != 0 {
            let look = self.refine(
                fine,
                self.fine_rate / (self.last.hz * self.factor as f32),
                age,
            );
            if near(&look) {
                self.last = self.by_lower_partials(coarse, look, age, LOWER_REST_LOOKS);
                return self.last;
            }
            self.rest = 0;
        }
        self.curve(coarse, age);
        self.find_peaks();
        let look = match self.choose(held) {
            Some(lag) => self.with_rivals(lag, self.refine(fine, lag, age)),
            None => Look::default(),
        };
        self.last = self.by_lower_partials(coarse, look, age, LOWER_LOOKS);
        self.last
    }

    fn by_lower_partials(
        &mut self,
        coarse: &History,
        look: Look,
        age: usize,
        looks: usize,
    ) -> Look {
        let rate = self.fine_rate / self.factor as f32;
        let lag = rate / look.hz;
        if !(1.0..=self.lag_max as f32).contains(&lag) {
            return look;
        }
        self.longer_age += 1;
        let is_known = self.longer_age < looks && (lag / self.longer_for - 1.0).abs() < LOWER_NEAR;
        if !is_known {
            let window = self.window_for(lag.round() as usize, age);
            let lower = self.lower.as_mut();
            let period = lower.and_then(|lower| lower.period(coarse, lag, window, age));
            self.longer = period.map_or(1.0, |period| period / lag);
            (self.longer_for, self.longer_age) = (lag, 0);
        }
        Look {
            hz: rate / (lag * self.longer),
            ..look
        }
    }

    fn curve(&mut self, coarse: &History, age: usize) {
        self.products.catch_up(coarse);
        for (group, longest) in self.products.groups() {
            let shortest = longest + 1 - LANES;
            if longest + 1 < self.lag_min {
                break;
            }
            let blocks = self.products.blocks(self.window_for(longest, age));
            let window = blocks * self.products.block();
            let sums = self.products.sums(group, blocks);
            // The longest lag comes first here, too.
            let ends = coarse.energies(LANES, shortest).iter();
            let begins = coarse.energies(LANES, window + shortest).iter();
            let new = coarse.energy(window, 0) + 1e-12;
            let mut values = [0.0; LANES];
            for ((value, sum), (end, begin)) in values.iter_mut().zip(sums).zip(ends.zip(begins)) {
                *value = 2.0 * sum / (new + (end - begin) as f32);
            }
            let Some(nsdf) = self.nsdf.get_mut(shortest..) else {
                continue;
            };
            for (nsdf, value) in nsdf.iter_mut().zip(values.iter().rev()) {
                *nsdf = *value;
            }
        }
    }

    fn find_peaks(&mut self) {
        self.peaks.clear();
        let of = &self.nsdf[self.lag_min - 1..=self.lag_max + 1];
        for (lag, three) in (self.lag_min..).zip(of.windows(3)) {
            if three[1] > three[0] && three[1] >= three[2] && three[1] > 0.0 {
                self.peaks
                    .push(parabola(lag as f32, three[0], three[1], three[2]));
            }
        }
    }

    fn choose(&self, held: f32) -> Option<f32> {
        let heights = self.peaks.iter().map(|(_, height)| *height);
        let best = heights.fold(0.0_f32, f32::max);
        if best <= 0.0 {
            return None;
        }
        let coarse_rate = self.fine_rate / self.factor as f32;
        let mut first: Option<(f32, f32)> = None;
        for &(at, height) in &self.peaks {
            let fair =
                1.0 - height <= REST_TIMES * (1.0 - best) + REST_MORE && height >= NEAR_BEST * best;
            if first.is_none() && fair {
                first = Some((at, height));
            }
            let near_held = held > 0.0 && (at * held / coarse_rate - 1.0).abs() < 0.04;
            let as_good = first.is_none_or(|(_, other)| other < height - HELD_BETTER);
            if near_held && as_good && height >= best - HELD_NEAR {
                return Some(at);
            }
        }
        first.map(|(at, _)| at)
    }

    fn with_rivals(&self, lag: f32, look: Look) -> Look {
        let (mut rival, mut better, mut multiple) = (0.0_f32, 0.0_f32, 0.0_f32);
        for &(at, height) in &self.peaks {
            if at < lag * 0.8 {
                rival = rival.max(height);
            } else if at > lag * 1.2 {
                better = better.max(height);
                let times = at / lag;
                if (times - times.round()).abs() < MULTIPLE {
                    multiple = multiple.max(height);
                }
            }
        }
        Look {
            rival: rival / look.clarity.max(0.01),
            better: better - look.clarity,
            multiple: multiple - look.clarity,
            ..look
        }
    }

    /// Goes from a lag of the coarse curve to the peak at the full rate.
    fn refine(&self, fine: &History, lag: f32, age: usize) -> Look {
        let all = fine.newest(self.fine_needed());
        let end = all.len();
        let window = self.window_for(lag.round() as usize, age) * self.factor;
        let new = &all[end - window..];
        let new_energy = fine.energy(window, 0);
        let highest = end - window - 2;
        let mut at = ((lag * self.factor as f32).round() as usize).clamp(2, highest);
        let at_energy = fine.energy(window, at);
        let like = |lag: usize, product: f32| {
            2.0 * product / (new_energy + fine.energy(window, lag) + 1e-12)
        };
        let value = |lag: usize| like(lag, dot(new, &all[end - window - lag..end - lag]));
        let [above, middle, below] = three_dots(new, &all[end - window - at - 1..end - at + 1]);
        let (mut below, mut middle, mut above) =
            (like(at - 1, below), like(at, middle), like(at + 1, above));
        // Uphill from the coarse peak: at most two coarse samples away.
        for _ in 0..2 * self.factor + 1 {
            if below > middle && at > 2 {
                (above, middle) = (middle, below);
                at -= 1;
                below = value(at - 1);
            } else if above > middle && at < highest {
                (below, middle) = (middle, above);
                at += 1;
                above = value(at + 1);
            } else {
                break;
            }
        }
        let mean = at_energy / window as f32;
        let (lag, clarity) = parabola(at as f32, below, middle, above);
        Look {
            hz: self.fine_rate / lag,
            clarity: clarity.min(1.0),
            broken: self.broken(all, at, mean),
            rival: 0.0,
            better: 0.0,
            multiple: 0.0,
        }
    }

    /// How much of the newest moment does not go on like the one a period before, against the `mean` power.
    fn broken(&self, all: &[f32], period: usize, mean: f32) -> f32 {
        let end = all.len();
        let short = (self.fine_rate * BREAK_S) as usize;
        let (new, old) = (
            &all[end - short..],
            &all[end - short - period..end - period],
        );
        let apart: f32 = new.iter().zip(old).map(|(a, b)| (a - b) * (a - b)).sum();
        apart / (2.0 * short as f32 * mean + 1e-12)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_roughness_of_a_stroke_is_soon_left_behind() {
        // Hz, how long the stroke is rough, age (both in ms), how well it repeats by then.
        for (hz, rough_ms, age_ms, clarity) in [
            (220.0, 10.0, 30.0, 0.99),
            (330.0, 10.0, 30.0, 0.99),
            (660.0, 8.0, 24.0, 0.99),
            (220.0, 0.0, 30.0, 0.99),
        ] {
            let rate = 16_000.0;
            let mut pitch = HeardPitch::new(rate, 1, 21, (54.0, 1420.0), true);
            let mut sound = History::with_energies(pitch.fine_needed().max(pitch.coarse_needed()));
            let count = (age_ms * rate / 1000.0) as usize;
            let mut state = 1_u32;
            for n in 0..count {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let ms = n as f32 * 1000.0 / rate;
                let noise = (state >> 8) as f32 / (1 << 23) as f32 - 1.0;
                let tone = (std::f32::consts::TAU * hz * n as f32 / rate).sin();
                sound.push(if ms < rough_ms { noise } else { tone });
            }
            let look = pitch.look(&sound, &sound, count, 0.0);
            assert!(look.clarity > clarity, "{hz} Hz: {}", look.clarity);
            assert!((look.hz / hz - 1.0).abs() < 0.01, "{hz} Hz: {}", look.hz);
        }
    }
}
