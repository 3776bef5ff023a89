//! The way from the loudspeaker back into the sound: an adaptive filter in the frequency domain, in partitions.
//!
//! The filter is a Kalman filter over the response of each partition at each frequency (G. Enzner and P. Vary,
//! "Frequency-domain adaptive Kalman filter for acoustic echo control in hands-free telephones", Signal Processing 86,
//! 2006; in partitions with a diagonal covariance: F. Kuech, E. Mabande and G. Enzner, ICASSP 2014; both from memory). It
//! knows how sure it is of each of them, and how loud everything else is: the player. So it learns quickly while the band
//! sounds alone, hardly at all while the player is loud, and needs no detector of who plays.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// How long the filter is: the sound of a loudspeaker and the first reflections of a room.
const LENGTH_S: f32 = 0.05;
/// The response is expected to fall by 10 dB in so long.
const FALLS_IN_S: f32 = 0.02;
/// Before the delay it is expected to be so much softer.
const BEFORE: f32 = 1e-3;
/// How much of the way stays as it is from block to block.
const STAYS: f32 = 0.999_97;
/// How much of the measured power of the player is that of the blocks before.
const SMOOTH: f32 = 0.7;
/// How many times its power the player counts. A string sounds on from block to block, so that blocks tell less than if each
/// were new.
const OTHERS: f32 = 6.0;
/// How many partitions are held to their length in a block, one after the other.
const HELD: usize = 2;

/// The filter.
pub(super) struct WayBack {
    rate: f32,
    block: usize,
    parts: usize,
    bins: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    scratch: Vec<Complex<f32>>,
    wave: Vec<f32>,
    line: Vec<Complex<f32>>,
    before: Vec<f32>,
    /// Spectra of what was played, a ring of partitions; `newest` is the last one.
    played: Vec<Complex<f32>>,
    newest: usize,
    /// The response, and how unsure it is (a power).
    response: Vec<Complex<f32>>,
    unsure: Vec<f32>,
    least: f32,
    /// The power of all else, and what may be left of the band.
    else_power: Vec<f32>,
    left: Vec<f32>,
    /// What the steps of all partitions share.
    shared: Vec<f32>,
    held: usize,
}

impl WayBack {
    pub(super) fn new(rate: f32, block: usize) -> WayBack {
        let (parts, bins) = (((LENGTH_S * rate) as usize).div_ceil(block), block + 1);
        let mut planner = RealFftPlanner::<f32>::new();
        let forward = planner.plan_fft_forward(2 * block);
        let inverse = planner.plan_fft_inverse(2 * block);
        let scratch = forward.get_scratch_len().max(inverse.get_scratch_len());
        let none = Complex::default();
        WayBack {
            rate,
            block,
            parts,
            bins,
            forward,
            inverse,
            scratch: vec![none; scratch],
            wave: vec![0.0; 2 * block],
            line: vec![none; bins],
            before: vec![0.0; block],
            played: vec![none; parts * bins],
            newest: 0,
            response: vec![none; parts * bins],
            unsure: vec![0.0; parts * bins],
            least: 0.0,
            else_power: vec![0.0; bins],
            left: vec![0.0; bins],
            shared: vec![0.0; bins],
            held: 0,
        }
    }

    /// Begins at nothing: the response is expected from `lead` frames on, of about the power `gain`.
    pub(super) fn begin(&mut self, lead: usize, gain: f32) {
        self.played.fill(Complex::default());
        self.response.fill(Complex::default());
        self.before.fill(0.0);
        self.else_power.fill(0.0);
        self.left.fill(0.0);
        for (part, unsure) in self.unsure.chunks_exact_mut(self.bins).enumerate() {
            let late = (part * self.block) as f32 - lead as f32;
            let fall = match late {
                late if late < -(self.block as f32) => BEFORE,
                late => 10_f32.powf(-late.max(0.0) / (FALLS_IN_S * self.rate)),
            };
            unsure.fill(gain * fall);
        }
        self.least = gain * 1e-7;
    }

    /// Takes a block of what was played and of what is heard; `clean` becomes what is left.
    pub(super) fn step(&mut self, band: &[f32], sound: &[f32], clean: &mut [f32]) {
        self.hear(band);
        self.expect();
        let half = self.block;
        for ((clean, sound), expected) in clean.iter_mut().zip(sound).zip(&self.wave[half..]) {
            *clean = sound - expected;
        }
        self.learn(clean);
        self.hold();
    }

    /// The spectrum of the last two blocks of what was played.
    fn hear(&mut self, band: &[f32]) {
        let half = self.block;
        self.wave[..half].copy_from_slice(&self.before);
        self.wave[half..].copy_from_slice(band);
        self.before.copy_from_slice(band);
        self.newest = (self.newest + self.parts - 1) % self.parts;
        let to = &mut self.played[self.newest * self.bins..][..self.bins];
        let _ = self
            .forward
            .process_with_scratch(&mut self.wave, to, &mut self.scratch);
    }

    /// What comes back of it, in the second half of `wave`; and what may be left.
    fn expect(&mut self) {
        self.line.fill(Complex::default());
        self.left.fill(0.0);
        for part in 0..self.parts {
            let at = (self.newest + part) % self.parts * self.bins;
            let of = part * self.bins;
            let played = &self.played[at..at + self.bins];
            let response = &self.response[of..of + self.bins];
            let unsure = &self.unsure[of..of + self.bins];
            let sums = self.line.iter_mut().zip(&mut self.left);
            for (((line, left), (x, w)), p) in sums.zip(played.iter().zip(response)).zip(unsure) {
                *line += x * w;
                *left += x.norm_sqr() * p;
            }
        }
        // Half of the powers of two blocks falls on the new one.
        self.left.iter_mut().for_each(|left| *left *= 0.5);
        real_ends(&mut self.line);
        let _ =
            self.inverse
                .process_with_scratch(&mut self.line, &mut self.wave, &mut self.scratch);
        let scale = 1.0 / (2 * self.block) as f32;
        self.wave.iter_mut().for_each(|x| *x *= scale);
    }

    fn learn(&mut self, clean: &[f32]) {
        let half = self.block;
        self.wave[..half].fill(0.0);
        self.wave[half..].copy_from_slice(clean);
        let _ =
            self.forward
                .process_with_scratch(&mut self.wave, &mut self.line, &mut self.scratch);
        for (power, e) in self.else_power.iter_mut().zip(&self.line) {
            *power = SMOOTH * *power + (1.0 - SMOOTH) * e.norm_sqr();
        }
        let (kept, renewed) = (STAYS * STAYS, 1.0 - STAYS * STAYS);
        let powers = self.left.iter().zip(&self.else_power);
        for (shared, (left, power)) in self.shared.iter_mut().zip(powers) {
            *shared = 1.0 / (left + OTHERS * power + 1e-9);
        }
        for part in 0..self.parts {
            let at = (self.newest + part) % self.parts * self.bins;
            let of = part * self.bins;
            let played = &self.played[at..at + self.bins];
            let response = &mut self.response[of..of + self.bins];
            let unsure = &mut self.unsure[of..of + self.bins];
            let shared = self.shared.iter().zip(&self.line);
            for (((w, p), x), (share, e)) in response.iter_mut().zip(unsure).zip(played).zip(shared)
            {
                let step = *p * share;
                *w += x.conj() * e * step;
                *p = kept * (1.0 - 0.5 * step * x.norm_sqr()) * *p + renewed * w.norm_sqr();
                *p = p.max(self.least);
            }
        }
    }

    /// Holds some partitions to their length: a response longer than its block would wrap round.
    fn hold(&mut self) {
        let scale = 1.0 / (2 * self.block) as f32;
        for _ in 0..HELD {
            let part = &mut self.response[self.held * self.bins..][..self.bins];
            self.line.copy_from_slice(part);
            real_ends(&mut self.line);
            let _ = self.inverse.process_with_scratch(
                &mut self.line,
                &mut self.wave,
                &mut self.scratch,
            );
            self.wave[self.block..].fill(0.0);
            self.wave[..self.block].iter_mut().for_each(|x| *x *= scale);
            let _ = self
                .forward
                .process_with_scratch(&mut self.wave, part, &mut self.scratch);
            self.held = (self.held + 1) % self.parts;
        }
    }
}

/// The ends of a real wave's spectrum are real, which the inverse asks for.
fn real_ends(line: &mut [Complex<f32>]) {
    if let [first, .., last] = line {
        (first.im, last.im) = (0.0, 0.0);
    }
}
