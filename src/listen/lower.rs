//! The period of a string's lower partials.
//!
//! A string is stiff: its higher partials lie above the multiples of the lowest one, the higher the further (H. Fletcher
//! and others, "Quality of piano tones", 1962, from memory). After the stroke they are loud, and a period in which they
//! count is up to 10 cents too short. So the sound is smoothed twice over a tenth of its period, which leaves the lower
//! partials, and compared with itself several periods ago: what else sounds shifts the peak by so many samples, however
//! far away the peak is.
//!
//! # Why is a string read by its lower partials?
//!
//! After the stroke the upper ones are loud and sharp: the samples' first
//! three partials lie within 5 cents of the note from 80 ms on, while a period in which all count was up to 12 cents off
//! below middle C. `listen/lower.rs` smooths over a tenth of the period: over a sixth or a quarter the band's bass weighs
//! too much (5 to 13 cents with the band). Several periods back the band shifts the peak less. What else was tried: a
//! shorter least window hastens little, because it is the window's growth that keeps the stroke in sight, so it grows with
//! 0.6 of the age; with 0.5 fewer first readings were right. Stricter bounds for doubtful looks (a rival at 0.4 and 0.5, a
//! clarity of 0.85 and 0.9) make first readings right too, but many notes then wait until they are 60 ms old; one hop more costs 1 ms. With the
//! band, octave errors were the band itself after a high note had died: now nothing softer than a note may be is told but
//! the note that goes on.

use super::decimate::dot;
use super::history::History;

/// The part of a period that is smoothed over.
const PART: f32 = 0.1;
/// At least so many samples: a higher note has no partials left to be rid of.
const LEAST: usize = 4;
/// The sound is compared with itself so long ago at most.
const SPAN_S: f32 = 0.030;
/// A peak is looked for so many samples away.
const STEPS: usize = 3;
/// The peak must be so high ...
const HEIGHT: f32 = 0.8;
/// ... that of several periods no more than so much lower ...
const FALL: f32 = 0.1;
/// ... and the period no further from that of the whole sound: 26 cents.
const NEAR: f32 = 0.015;

/// The smoothed sound, as far as it is worked out.
#[derive(Debug)]
pub(super) struct Lower {
    /// Sums of so many samples before each, and sums of as many of these: smoothed twice.
    boxed: usize,
    once: History,
    twice: History,
    /// How many of the newest sums are those of the sound, and how many samples came since.
    known: usize,
    missing: usize,
    new: Vec<f32>,
    span: usize,
    most_boxed: usize,
}

impl Lower {
    /// For windows and lags up to so many samples.
    pub(super) fn new(rate: f32, window_max: usize, lag_max: usize) -> Lower {
        let span = (SPAN_S * rate) as usize;
        let most_boxed = boxed(lag_max as f32);
        let most = window_max + span.max(lag_max) + 2 * STEPS + 2;
        Lower {
            boxed: 0,
            once: History::new(most + most_boxed),
            twice: History::new(most),
            known: 0,
            missing: 0,
            new: vec![0.0; most + most_boxed],
            span,
            most_boxed,
        }
    }

    /// How many samples a look needs.
    pub(super) fn needed(&self) -> usize {
        self.new.len() + self.most_boxed
    }

    /// So many samples have come.
    pub(super) fn pass(&mut self, count: usize) {
        self.missing = (self.missing + count).min(self.new.len());
    }

    /// The samples are others from now on.
    pub(super) fn forget(&mut self) {
        self.known = 0;
    }

    /// The period in samples, over `window` of them; `lag` is that of the whole sound, which began `age` samples ago.
    /// None where the note is too high or too young for it, or the lower partials say something else.
    pub(super) fn period(
        &mut self,
        sound: &History,
        lag: f32,
        window: usize,
        age: usize,
    ) -> Option<f32> {
        let (whole, boxed) = (lag.round() as usize, boxed(lag));
        let more = 2 * boxed + 2 * STEPS + 2;
        if boxed < LEAST || age < window + more + whole {
            return None;
        }
        let times = (self.span.min(age - window - more) / whole).max(1);
        let needed = window + times * whole + 2 * STEPS + 2;
        let most = self.new.len() - self.most_boxed;
        if needed > most || boxed > self.most_boxed {
            return None;
        }
        self.smooth(sound, boxed, needed, most.min(age - 2 * boxed));
        let smooth = self.twice.newest(needed);
        let (one, height) = peak(smooth, window, whole)?;
        if height < HEIGHT || (one / lag - 1.0).abs() > NEAR {
            return None;
        }
        let far = peak(smooth, window, (one * times as f32).round() as usize);
        match far {
            Some((far, far_height)) if far_height > height - FALL => Some(far / times as f32),
            _ => Some(one),
        }
    }

    /// Works out what is missing of the smoothed sound: what came since, or, where it is smoothed otherwise or `needed` more than
    /// is known, the newest `most` anew.
    fn smooth(&mut self, sound: &History, boxed: usize, needed: usize, most: usize) {
        let goes_on =
            boxed == self.boxed && self.known + self.missing >= needed && self.missing < most;
        let (once, twice) = match goes_on {
            true => (self.missing, self.missing),
            false => (most + boxed, most),
        };
        self.known = match goes_on {
            true => (self.known + self.missing).min(self.new.len()),
            false => most,
        };
        (self.boxed, self.missing) = (boxed, 0);
        let new = &mut self.new[..once];
        sums_before(sound.newest(once + boxed), boxed, new);
        self.once.extend(new);
        let new = &mut self.new[..twice];
        sums_before(self.once.newest(twice + boxed), boxed, new);
        self.twice.extend(new);
    }
}

/// For each of the newest samples the sum of `count` before it.
fn sums_before(samples: &[f32], count: usize, sums: &mut [f32]) {
    let mut sum: f32 = samples[..count].iter().sum();
    let moves = samples.iter().zip(&samples[count..]);
    for (to, (gone, new)) in sums.iter_mut().zip(moves) {
        *to = sum;
        sum += new - gone;
    }
}

fn boxed(lag: f32) -> usize {
    (lag * PART).round() as usize
}

/// Where near `from` the newest `window` samples are most like those before them, and how much.
fn peak(sound: &[f32], window: usize, from: usize) -> Option<(f32, f32)> {
    let end = sound.len();
    if from <= STEPS + 1 || window + from + STEPS + 1 > end {
        return None;
    }
    let new = &sound[end - window..];
    let energy = dot(new, new);
    // From one lag to the next the old part moves by a sample.
    let first = &sound[end - window - from..end - from];
    let mut olds = (from, dot(first, first));
    let mut value = |lag: usize| {
        while olds.0 < lag {
            let (new, gone) = (sound[end - window - olds.0 - 1], sound[end - olds.0 - 1]);
            olds = (olds.0 + 1, olds.1 + new * new - gone * gone);
        }
        while olds.0 > lag {
            let (gone, new) = (sound[end - window - olds.0], sound[end - olds.0]);
            olds = (olds.0 - 1, olds.1 + new * new - gone * gone);
        }
        let old = &sound[end - window - lag..end - lag];
        2.0 * dot(new, old) / (energy + olds.1.max(0.0) + 1e-12)
    };
    let mut at = from;
    let (mut below, mut middle, mut above) = (value(at - 1), value(at), value(at + 1));
    for _ in 0..STEPS {
        if below > middle {
            at -= 1;
            (below, middle, above) = (value(at - 1), below, middle);
        } else if above > middle {
            at += 1;
            (below, middle, above) = (middle, above, value(at + 1));
        } else {
            break;
        }
    }
    (middle >= below && middle >= above).then(|| parabola(at as f32, below, middle, above))
}

/// The top of the parabola through three neighbours: where, and how high.
pub(super) fn parabola(at: f32, a: f32, b: f32, c: f32) -> (f32, f32) {
    let bend = a - 2.0 * b + c;
    if bend >= -1e-9 {
        return (at, b);
    }
    let shift = (0.5 * (a - c) / bend).clamp(-1.0, 1.0);
    (at + shift, b - 0.25 * (a - c) * shift)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f32 = 16_000.0;
    const WINDOW: usize = 400;

    /// A string whose partial `n` is `n sqrt(1 + B n^2)` times as high as the lowest would be without stiffness, with
    /// `hum` of another pitch beside it; what is read against its lowest partial, in cents, at the worst of 40 moments.
    fn worst_cents(hz: f32, stiff: f32, hum: f32, age: usize) -> Option<f32> {
        let mut lower = Lower::new(RATE, WINDOW, 300);
        let mut sound = History::new(lower.needed());
        let (mut worst, partial) = (0.0_f32, |n: f32| n * hz * (1.0 + stiff * n * n).sqrt());
        for k in 0..4_000 {
            let turn = std::f32::consts::TAU * k as f32 / RATE;
            let loud = |n: i32| (partial(n as f32) < 6_000.0).then_some(n as f32);
            let string: f32 = (1..=20)
                .filter_map(loud)
                .map(|n| (turn * partial(n)).sin() / n.sqrt())
                .sum();
            sound.push(string + hum * (turn * 58.0).sin());
            lower.pass(1);
            if k > 2_000 && k % 50 == 0 {
                let lag = RATE / partial(1.0) * 0.995;
                let period = lower.period(&sound, lag, WINDOW, age)?;
                let cents = 1200.0 * (RATE / period / partial(1.0)).log2();
                worst = worst.max(cents.abs());
            }
        }
        Some(worst)
    }

    #[test]
    fn a_stiff_string_is_read_by_its_lower_partials() {
        // Hz, stiffness, hum, cents at most.
        for (hz, stiff, hum, most) in [
            (82.4, 0.0, 0.0, 0.6),
            (110.0, 0.0, 0.0, 0.6),
            (246.9, 0.0, 0.0, 0.6),
            (440.0, 0.0, 0.0, 0.6),
            (82.4, 1e-4, 0.0, 4.0),
            (110.0, 1e-4, 0.0, 4.0),
            (196.0, 1e-4, 0.0, 4.0),
            (329.6, 1e-4, 0.0, 4.0),
            (196.0, 0.0, 0.1, 4.0),
            (329.6, 0.0, 0.1, 4.0),
        ] {
            let worst = worst_cents(hz, stiff, hum, 4_000).unwrap();
            assert!(worst < most, "{hz} Hz, {stiff}, {hum}: {worst} cents");
        }
    }

    #[test]
    fn too_young_and_too_high_notes_are_left_as_they_are() {
        assert_eq!(worst_cents(110.0, 0.0, 0.0, 500), None);
        assert_eq!(worst_cents(880.0, 0.0, 0.0, 4_000), None);
    }
}
