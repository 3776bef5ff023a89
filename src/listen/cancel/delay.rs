//! By how much the band comes late: the generalised cross-correlation with phase transform (C. Knapp and G. Carter, "The
//! generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24, 1976), gathered over windows until
//! one delay stands out. Every frequency counts alike, so a loud note of the player is one voice among many.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// The longest delay.
const MOST_LATE_S: f32 = 0.16;
/// A window.
const WINDOW_S: f32 = 0.36;
/// Windows overlap: so many begin in the length of one, at first ...
const OVERLAP: usize = 8;
/// ... and after so many of them without a find.
const SELDOM: usize = 1;
const SELDOM_AFTER: usize = 200;
/// Two strokes that fall together look like a delay, too: what was found first is looked at again for so many windows.
const SURE_AFTER: usize = 40;
/// Which frequencies count.
const LOW_HZ: f32 = 300.0;
const HIGH_HZ: f32 = 8000.0;
/// The delay must stand so far above any other ...
const STANDS_OUT: f32 = 1.8;
/// ... that is further away than this, and be found twice running within it.
const NEAR_S: f32 = 0.002;
/// A room sends back so many times the power of the way that is found.
const GAIN_TIMES: f32 = 3.0;
/// A band softer than this tells nothing (a mean power).
const SILENT: f32 = 1e-9;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Delay {
    /// In frames.
    pub late: usize,
    /// About the power of the way's response.
    pub gain: f32,
}

/// Looks for the delay.
pub(super) struct DelayFinder {
    rate: f32,
    size: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    scratch: Vec<Complex<f32>>,
    window: Vec<f32>,
    sound: Vec<f32>,
    band: Vec<f32>,
    at: usize,
    since: usize,
    /// How much of a window was heard.
    heard: usize,
    windows: usize,
    input: Vec<f32>,
    of_sound: Vec<Complex<f32>>,
    of_band: Vec<Complex<f32>>,
    phases: Vec<Complex<f32>>,
    cross: Vec<Complex<f32>>,
    powers: Vec<f32>,
    sound_powers: Vec<f32>,
    last: Option<usize>,
    found: Option<Delay>,
}

impl DelayFinder {
    pub(super) fn new(rate: f32) -> DelayFinder {
        let size = (rate * WINDOW_S).log2().round().exp2() as usize;
        let mut planner = RealFftPlanner::<f32>::new();
        let (forward, inverse) = (
            planner.plan_fft_forward(size),
            planner.plan_fft_inverse(size),
        );
        let scratch = forward.get_scratch_len().max(inverse.get_scratch_len());
        let bins = size / 2 + 1;
        let hann = |n: usize| {
            let place = (n as f64 + 0.5) / size as f64;
            (std::f64::consts::PI * place).sin().powi(2) as f32
        };
        let none = vec![Complex::default(); bins];
        DelayFinder {
            rate,
            size,
            forward,
            inverse,
            scratch: vec![Complex::default(); scratch],
            window: (0..size).map(hann).collect(),
            sound: vec![0.0; size],
            band: vec![0.0; size],
            at: 0,
            since: 0,
            heard: 0,
            windows: 0,
            input: vec![0.0; size],
            of_sound: none.clone(),
            of_band: none.clone(),
            phases: none.clone(),
            cross: none,
            powers: vec![0.0; bins],
            sound_powers: vec![0.0; bins],
            last: None,
            found: None,
        }
    }

    /// The longest delay that is found, in frames.
    pub(super) fn most_late(&self) -> usize {
        (MOST_LATE_S * self.rate) as usize
    }

    /// What was found, once it was.
    pub(super) fn found(&self) -> Option<Delay> {
        self.found
    }

    /// Begins anew.
    pub(super) fn begin(&mut self) {
        self.phases.fill(Complex::default());
        self.cross.fill(Complex::default());
        self.powers.fill(0.0);
        self.sound_powers.fill(0.0);
        (self.windows, self.since, self.heard) = (0, 0, 0);
        (self.last, self.found) = (None, None);
    }

    /// Takes frames; nothing more is done once the delay is surely known.
    pub(super) fn extend(&mut self, sound: &[f32], band: &[f32]) {
        for (sound, band) in sound.iter().zip(band) {
            if self.found.is_some() && self.windows >= SURE_AFTER {
                return;
            }
            self.push(*sound, *band);
        }
    }

    fn push(&mut self, sound: f32, band: f32) {
        (self.sound[self.at], self.band[self.at]) = (sound, band);
        self.at = (self.at + 1) % self.size;
        self.since += 1;
        self.heard = (self.heard + 1).min(self.size);
        let overlap = if self.windows < SELDOM_AFTER {
            OVERLAP
        } else {
            SELDOM
        };
        if self.heard == self.size && self.since >= self.size / overlap {
            self.since = 0;
            self.look();
        }
    }

    fn look(&mut self) {
        let power = self.band.iter().map(|x| x * x).sum::<f32>() / self.size as f32;
        if power < SILENT {
            return;
        }
        self.windows += 1;
        spectrum(
            &self.forward,
            &self.sound,
            self.at,
            &self.window,
            (&mut self.input, &mut self.scratch),
            &mut self.of_sound,
        );
        spectrum(
            &self.forward,
            &self.band,
            self.at,
            &self.window,
            (&mut self.input, &mut self.scratch),
            &mut self.of_band,
        );
        let step = self.rate / self.size as f32;
        let counted = (LOW_HZ / step) as usize..((HIGH_HZ.min(0.45 * self.rate)) / step) as usize;
        for bin in counted.clone() {
            let (sound, band) = (self.of_sound[bin], self.of_band[bin]);
            let cross = sound * band.conj();
            self.cross[bin] += cross;
            self.powers[bin] += band.norm_sqr();
            self.sound_powers[bin] += sound.norm_sqr();
            self.phases[bin] += cross / (cross.norm() + 1e-20);
        }
        self.of_sound.copy_from_slice(&self.phases);
        // The lengths are those of the plan: it cannot fail.
        if self
            .inverse
            .process_with_scratch(&mut self.of_sound, &mut self.input, &mut self.scratch)
            .is_err()
        {
            return;
        }
        let found = self.peak();
        let near = (NEAR_S * self.rate) as usize;
        if let (Some(at), Some(last)) = (found, self.last)
            && at.abs_diff(last) <= near
        {
            self.found = Some(Delay {
                late: at,
                gain: GAIN_TIMES * self.gain(at, counted),
            });
        }
        self.last = found;
    }

    /// The delay that stands out, if one does.
    fn peak(&self) -> Option<usize> {
        let all = &self.input[..self.most_late()];
        let height = |at: usize| all[at].abs();
        let best = (0..all.len()).max_by(|a, b| height(*a).total_cmp(&height(*b)))?;
        let near = (NEAR_S * self.rate) as usize;
        let others = (0..all.len()).filter(|at| at.abs_diff(best) > near);
        let second = others.map(height).fold(0.0, f32::max);
        (height(best) > STANDS_OUT * second).then_some(best)
    }

    /// The power of a way back of one reflection at this delay: over all frequencies together, so that the player falls out.
    fn gain(&self, late: usize, counted: std::ops::Range<usize>) -> f32 {
        let turn = std::f64::consts::TAU * late as f64 / self.size as f64;
        let (mut along, mut power) = (0.0_f32, 1e-20_f32);
        for bin in counted {
            let angle = (turn * bin as f64) % std::f64::consts::TAU;
            let turned = self.cross[bin] * Complex::from_polar(1.0, angle as f32);
            // Where the player is loud little is known of the band.
            let weight = 1.0 / (self.sound_powers[bin] + 1e-20);
            along += weight * turned.re;
            power += weight * self.powers[bin];
        }
        (along / power).powi(2)
    }
}

/// The spectrum of a ring's newest samples, oldest first.
fn spectrum(
    forward: &Arc<dyn RealToComplex<f32>>,
    ring: &[f32],
    at: usize,
    window: &[f32],
    (input, scratch): (&mut [f32], &mut [Complex<f32>]),
    output: &mut [Complex<f32>],
) {
    let oldest_first = ring[at..].iter().chain(&ring[..at]);
    for ((to, from), window) in input.iter_mut().zip(oldest_first).zip(window) {
        *to = from * window;
    }
    // The lengths are those of the plan: it cannot fail.
    let _ = forward.process_with_scratch(input, output, scratch);
}
