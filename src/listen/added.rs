//! What a beginning added: the spectrum after it less the spectrum before it, and the notes that explain what is left.
//!
//! Strings that ring on are in both and fall out; of two that are struck together both stay. A note's weight is the sum of its
//! partials' magnitudes, the lower ones counting more; the heaviest is taken, its partials are taken out, and what is heaviest in
//! the rest is the second (A. Klapuri, "Multiple fundamental frequency estimation by summing harmonic amplitudes", ISMIR 2006; from
//! memory, with its weights).

use super::history::History;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// The longest stretch that is looked at, before and after.
const LONGEST_S: f32 = 0.12;
/// The shortest.
const SHORTEST_S: f32 = 0.025;
/// What is nearer to the beginning than this is looked at neither before nor after.
const BEFORE_S: f32 = 0.004;
const STROKE_S: f32 = 0.008;
/// Places a semitone, and partials of a note that are summed.
const PLACES: f32 = 4.0;
const PARTIALS: usize = 10;
/// Klapuri's weights of partial `m` of a note of `f` Hz: (f + a) / (m f + b).
const WEIGHT_A_HZ: f32 = 52.0;
const WEIGHT_B_HZ: f32 = 320.0;
/// A stiff string's partials lie so much too high, in parts of their frequency and partial squared.
const STIFF: f32 = 4e-5;

/// Notes that explain what was added.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Added {
    /// The heaviest, in Hz; 0 if there is nothing.
    pub(super) hz: f32,
    /// The heaviest beside it, in Hz.
    pub(super) second_hz: f32,
    /// Its weight against the first.
    pub(super) second: f32,
    /// The weight of the note that was asked for against the first.
    pub(super) asked: f32,
    /// How much of all that was added the first two notes explain, 0 to 1: little of a noise.
    pub(super) explained: f32,
    /// How many of its periods were looked at.
    pub(super) periods: f32,
    /// How heavy the note that was asked for was in the band that was taken out, against what is left; the same of the heaviest.
    pub(super) band: f32,
    pub(super) band_first: f32,
    /// How much of all that is there now was added, 0 to 1.
    pub(super) share: f32,
}

/// What is heard is another note than what was added if its weight is so small against that ...
const OTHER: f32 = 0.8;
/// A string that rings on was struck again if so much of what is there was added ...
const MORE: f32 = 0.25;
/// ... to one note: half of the beginnings that are no stroke add as much, but less of it is explained.
const MORE_EXPLAINED: f32 = 0.6;
/// A second note was struck with the first if it is so heavy against that.
const BESIDE: f32 = 0.6;
/// ... seen over so many of its periods.
const PERIODS: f32 = 3.0;
/// ... and over fewer than this nothing is known of it.
const FEW_PERIODS: f32 = 2.0;

impl Added {
    /// Whether another note than the one that was asked for was added.
    pub(super) fn is_other(&self) -> bool {
        self.hz > 0.0 && self.asked < OTHER && self.periods > PERIODS
    }

    /// Whether that may be so, and time will tell.
    pub(super) fn is_doubtful(&self) -> bool {
        self.hz > 0.0 && self.asked < OTHER && self.periods > FEW_PERIODS
    }

    /// Whether so much of the note that was asked for was added that its string was struck, though it sounded before.
    pub(super) fn is_more(&self) -> bool {
        self.share > MORE && self.explained > MORE_EXPLAINED && self.asked > OTHER
    }

    /// A note that was struck with one of `hz`, in Hz.
    pub(super) fn beside(&self, hz: f32) -> Option<f32> {
        let far = |a: f32, b: f32| 12.0 * (a / b).log2().abs();
        let class = |a: f32, b: f32| (far(a, b) + 6.0).rem_euclid(12.0) - 6.0;
        let other = if far(self.hz, hz) > 0.6 {
            (self.hz, 1.0)
        } else {
            (self.second_hz, self.second)
        };
        let sounds = other.0 > 0.0 && other.1 > BESIDE && self.periods > PERIODS;
        (sounds && class(other.0, hz).abs() > 0.6).then_some(other.0)
    }
}

/// Looks at what a beginning added.
pub(super) struct AddedNotes {
    rate: f32,
    size: usize,
    range_hz: (f32, f32),
    fft: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    line: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    before: Vec<f32>,
    /// What is there now, and what of the band was taken out of it.
    after: Vec<f32>,
    echo: Vec<f32>,
    added: Vec<f32>,
}

impl AddedNotes {
    pub(super) fn new(rate: f32, range_hz: (f32, f32)) -> AddedNotes {
        let size = (2.0 * LONGEST_S * rate).log2().ceil().exp2() as usize;
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(size);
        AddedNotes {
            rate,
            size,
            range_hz,
            input: vec![0.0; size],
            line: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            before: vec![0.0; size / 2 + 1],
            after: vec![0.0; size / 2 + 1],
            echo: vec![0.0; size / 2 + 1],
            added: vec![0.0; size / 2 + 1],
            fft,
        }
    }

    fn samples(&self, seconds: f32) -> usize {
        (seconds * self.rate) as usize
    }

    /// How many samples a look needs at the most, `late_s` after a beginning.
    pub(super) fn needed(&self, late_s: f32) -> usize {
        self.samples(LONGEST_S + BEFORE_S + late_s) + 2
    }

    /// Looks at what a beginning `age` samples ago added; how heavy is a note of `hz` in it? `echo` is what was taken out of the sound.
    pub(super) fn look(
        &mut self,
        sound: &History,
        echo: Option<&History>,
        age: usize,
        hz: f32,
    ) -> Added {
        let after = age.saturating_sub(self.samples(STROKE_S));
        let count = after.clamp(self.samples(SHORTEST_S), self.samples(LONGEST_S));
        let back = age + self.samples(BEFORE_S) + count;
        let old = sound.newest(back);
        self.spectrum(&old[..count.min(old.len())]);
        std::mem::swap(&mut self.before, &mut self.added);
        if let Some(echo) = echo {
            self.spectrum(echo.newest(count));
            self.echo.copy_from_slice(&self.added);
        }
        self.spectrum(sound.newest(count));
        self.after.copy_from_slice(&self.added);
        let (mut more, mut there) = (0.0, 1e-9);
        for (added, before) in self.added.iter_mut().zip(&self.before) {
            let risen = (*added - before).max(0.0);
            (more, there) = (more + risen, there + *added);
            *added = risen.sqrt();
        }
        let all = self.added.iter().sum::<f32>();
        let first = self.heaviest();
        let asked = self.weight(&self.added, hz);
        let of_band = |hz: f32| match echo {
            Some(_) if hz > 0.0 => {
                self.weight(&self.echo, hz) / (self.weight(&self.after, hz) + 1e-9)
            }
            _ => 0.0,
        };
        let (band, band_first) = (of_band(hz), of_band(first.0));
        let first_hz = self.refined(first.0);
        self.take_out(first.0, count);
        let second = self.heaviest();
        self.take_out(second.0, count);
        let left = self.added.iter().sum::<f32>();
        let share = |weight: f32| {
            if first.1 > 0.0 { weight / first.1 } else { 0.0 }
        };
        Added {
            hz: first_hz,
            second_hz: second.0,
            second: share(second.1),
            asked: share(asked),
            explained: 1.0 - left / (all + 1e-9),
            periods: if hz > 0.0 { hz } else { first_hz } * count as f32 / self.rate,
            band,
            band_first,
            share: more / there,
        }
    }

    /// The magnitudes of some samples, in `added`.
    fn spectrum(&mut self, samples: &[f32]) {
        self.input.fill(0.0);
        let turn = std::f32::consts::PI / samples.len() as f32;
        for (n, (to, sample)) in self.input.iter_mut().zip(samples).enumerate() {
            *to = sample * (turn * (n as f32 + 0.5)).sin().powi(2);
        }
        // The lengths are those of the plan: it cannot fail.
        let _ = self
            .fft
            .process_with_scratch(&mut self.input, &mut self.line, &mut self.scratch);
        for (to, bin) in self.added.iter_mut().zip(&self.line) {
            *to = bin.norm();
        }
    }

    fn places(&self) -> usize {
        let (low, high) = self.range_hz;
        (12.0 * PLACES * (high / low).log2()) as usize
    }

    /// The heaviest note of what was added, in Hz, and its weight.
    fn heaviest(&self) -> (f32, f32) {
        let hz = |place: usize| self.range_hz.0 * (place as f32 / (12.0 * PLACES)).exp2();
        let all = (0..self.places()).map(|place| (hz(place), self.weight(&self.added, hz(place))));
        all.fold(
            (0.0, 0.0),
            |best, note| if note.1 > best.1 { note } else { best },
        )
    }

    /// A note of about `hz` by its lower partials, each by the parabola through its peak, the strong ones counting more.
    fn refined(&self, hz: f32) -> f32 {
        let (mut sum, mut weights) = (0.0, 0.0);
        for m in (1..=6).map(|m| m as f32) {
            let place = self.place(hz, m);
            let near = 0.012 * place + 0.5;
            let (from, to) = ((place - near) as usize, (place + near).ceil() as usize);
            let places = from.max(1)..=to.min(self.added.len() - 2);
            let Some(peak) = places.max_by(|a, b| self.added[*a].total_cmp(&self.added[*b])) else {
                continue;
            };
            let (a, b, c) = (self.added[peak - 1], self.added[peak], self.added[peak + 1]);
            let bend = a - 2.0 * b + c;
            if bend < 0.0 && b >= a && b >= c {
                let peak = peak as f32 + 0.5 * (a - c) / bend;
                sum += b * m * hz * peak / place;
                weights += b * m;
            }
        }
        if weights > 0.0 { sum / weights } else { hz }
    }

    /// Where partial `m` of a note of `hz` lies, in bins, and how far it may be from there.
    fn place(&self, hz: f32, m: f32) -> f32 {
        m * hz * (1.0 + STIFF * m * m).sqrt() * self.size as f32 / self.rate
    }

    fn weight(&self, spectrum: &[f32], hz: f32) -> f32 {
        let mut sum = 0.0;
        for m in 1..=PARTIALS {
            let m = m as f32;
            let place = self.place(hz, m);
            let near = 0.008 * place + 0.5;
            let (from, to) = (
                (place - near).round() as usize,
                (place + near).round() as usize,
            );
            let Some(bins) = spectrum.get(from..=to) else {
                break;
            };
            let most = bins.iter().fold(0.0_f32, |a, b| a.max(*b));
            sum += most * (hz + WEIGHT_A_HZ) / (m * hz + WEIGHT_B_HZ);
        }
        sum
    }

    /// Takes the partials of a note out; `count` samples were looked at.
    fn take_out(&mut self, hz: f32, count: usize) {
        if hz <= 0.0 {
            return;
        }
        let lobe = 2.0 * self.size as f32 / count as f32;
        for m in 1..=2 * PARTIALS {
            let place = self.place(hz, m as f32);
            let near = lobe + 0.008 * place;
            let (from, to) = ((place - near).max(0.0) as usize, (place + near) as usize);
            let last = self.added.len() - 1;
            self.added[from.min(last)..=to.min(last)].fill(0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f32 = 16_000.0;

    fn hz(midi: i32) -> f32 {
        440.0 * ((midi - 69) as f32 / 12.0).exp2()
    }

    /// A string, `t` seconds after its stroke.
    fn string(midi: i32, t: f32) -> f32 {
        let tone = |h: f32| (std::f32::consts::TAU * hz(midi) * h * t).sin() / h;
        (-2.0 * t).exp() * (1..=8).map(|h| tone(h as f32)).sum::<f32>()
    }

    /// What strings add 100 ms after they were struck over others that ring on for half a second; in what is heard as `asked`.
    fn added(ringing: &[i32], struck: &[i32], asked: f32) -> Added {
        let mut notes = AddedNotes::new(RATE, (54.0, 1420.0));
        let mut sound = History::new(notes.needed(0.2));
        for n in 0..9_600 {
            let t = n as f32 / RATE;
            let old: f32 = ringing.iter().map(|midi| string(*midi, t)).sum();
            let since = t - 0.5;
            let new: f32 = struck.iter().map(|midi| string(*midi, since)).sum();
            sound.push(0.1 * (old + if since > 0.0 { new } else { 0.0 }));
        }
        notes.look(&sound, None, 1_600, asked)
    }

    fn midi(hz: f32) -> i32 {
        (69.0 + 12.0 * (hz / 440.0).log2()).round() as i32
    }

    #[test]
    fn of_strings_that_ring_on_only_the_new_one_was_added() {
        for (ringing, struck) in [
            (&[][..], 57),
            (&[57], 64),
            (&[64], 71),
            (&[64], 57),
            (&[45, 52, 57], 61),
            (&[43, 50, 55], 59),
        ] {
            let added = added(ringing, &[struck], hz(struck));
            assert_eq!(midi(added.hz), struck, "{ringing:?}");
            let cents = 1200.0 * (added.hz / hz(struck)).log2();
            assert!(cents.abs() < 15.0, "{ringing:?}: {cents} cents");
            assert!(
                !added.is_other() && added.beside(hz(struck)).is_none(),
                "{ringing:?}"
            );
        }
    }

    #[test]
    fn a_string_struck_again_adds_to_itself() {
        for (ringing, struck, again) in [
            (&[45][..], &[45][..], true),
            (&[57], &[57], true),
            (&[45, 52], &[45], true),
            (&[57], &[], false),
            (&[57], &[64], false),
        ] {
            let added = added(ringing, struck, hz(ringing[0]));
            assert_eq!(added.is_more(), again, "{ringing:?} {struck:?} {added:?}");
        }
    }

    #[test]
    fn two_strings_are_told_from_their_common_period() {
        // Two notes, and the note of their common period.
        for (low, high, common) in [(60, 64, 36), (57, 64, 45), (60, 65, 41), (55, 64, 36)] {
            let added = added(&[], &[low, high], hz(common));
            assert!(added.is_other(), "{low} {high}: {added:?}");
            let beside = added.beside(added.hz).map(midi);
            let mut both = [Some(midi(added.hz)), beside];
            both.sort_unstable();
            assert_eq!(both, [Some(low), Some(high)]);
        }
    }
}
