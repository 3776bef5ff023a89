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

/// It learns from each block at first; once it has learnt for so long, from every so manieth: then it only has to follow.
const NEW_S: f32 = 6.0;
const EVERY: usize = 3;

/// Bins that are worked out side by side.
const LANES: usize = 8;

/// A few bins of a spectrum, with a power for each: in lists, for that is how vectors are worked out. Those of all partitions
/// lie one after the other, so that what is summed over them stays where it is worked out.
#[derive(Clone, Copy, Default)]
struct Bins {
    re: [f32; LANES],
    im: [f32; LANES],
    power: [f32; LANES],
}

/// The filter.
pub(super) struct WayBack {
    rate: f32,
    block: usize,
    parts: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    scratch: Vec<Complex<f32>>,
    wave: Vec<f32>,
    line: Vec<Complex<f32>>,
    before: Vec<f32>,
    /// Spectra of what was played, a ring of partitions for each few bins; `newest` is the last one.
    played: Vec<Bins>,
    newest: usize,
    /// The response, and how unsure it is: partitions for each few bins.
    response: Vec<Bins>,
    least: f32,
    /// What is left, or expected to come back; the power of all else.
    error: Vec<Bins>,
    else_power: Vec<f32>,
    held: usize,
    /// Blocks since it began.
    blocks: usize,
}

impl WayBack {
    pub(super) fn new(rate: f32, block: usize) -> WayBack {
        let parts = ((LENGTH_S * rate) as usize).div_ceil(block);
        // Half of the rate itself is left out: there is nothing, and the others fill vectors.
        let bins = block;
        let mut planner = RealFftPlanner::<f32>::new();
        let forward = planner.plan_fft_forward(2 * block);
        let inverse = planner.plan_fft_inverse(2 * block);
        let scratch = forward.get_scratch_len().max(inverse.get_scratch_len());
        WayBack {
            rate,
            block,
            parts,
            forward,
            inverse,
            scratch: vec![Complex::default(); scratch],
            wave: vec![0.0; 2 * block],
            line: vec![Complex::default(); block + 1],
            before: vec![0.0; block],
            played: vec![Bins::default(); parts * bins / LANES],
            newest: 0,
            response: vec![Bins::default(); parts * bins / LANES],
            least: 0.0,
            error: vec![Bins::default(); bins / LANES],
            else_power: vec![0.0; bins],
            held: 0,
            blocks: 0,
        }
    }

    /// Begins at nothing: the response is expected from `lead` frames on, of about the power `gain`.
    pub(super) fn begin(&mut self, lead: usize, gain: f32) {
        self.played.fill(Bins::default());
        self.response.fill(Bins::default());
        self.before.fill(0.0);
        self.else_power.fill(0.0);
        for responses in self.response.chunks_exact_mut(self.parts) {
            for (part, response) in responses.iter_mut().enumerate() {
                let late = (part * self.block) as f32 - lead as f32;
                let fall = match late {
                    late if late < -(self.block as f32) => BEFORE,
                    late => 10_f32.powf(-late.max(0.0) / (FALLS_IN_S * self.rate)),
                };
                response.power = [gain * fall; LANES];
            }
        }
        self.least = gain * 1e-7;
        self.blocks = 0;
    }

    /// Takes a block of what was played and of what is heard; `clean` becomes what is left.
    pub(super) fn step(&mut self, band: &[f32], sound: &[f32], clean: &mut [f32]) {
        self.blocks += 1;
        let is_new = (self.blocks * self.block) as f32 / self.rate < NEW_S;
        let every = if is_new { 1 } else { EVERY };
        let learns = self.blocks.is_multiple_of(every);
        self.hear(band);
        self.expect(learns);
        let half = self.block;
        for ((clean, sound), expected) in clean.iter_mut().zip(sound).zip(&self.wave[half..]) {
            *clean = sound - expected;
        }
        if learns {
            self.learn(clean);
            self.hold(every);
        }
    }

    /// The spectrum of the last two blocks of what was played.
    fn hear(&mut self, band: &[f32]) {
        let half = self.block;
        self.wave[..half].copy_from_slice(&self.before);
        self.wave[half..].copy_from_slice(band);
        self.before.copy_from_slice(band);
        self.newest = (self.newest + self.parts - 1) % self.parts;
        self.analyse();
        let newest = self.played.iter_mut().skip(self.newest).step_by(self.parts);
        for (bins, line) in newest.zip(self.line.chunks_exact(LANES)) {
            take(bins, line);
            bins.power = powers(line);
        }
    }

    /// What comes back of it, in the second half of `wave`; and what may be left, where that is of use.
    fn expect(&mut self, learns: bool) {
        let played = self.played.chunks_exact(self.parts);
        let response = self.response.chunks_exact(self.parts);
        for ((played, response), left) in played.zip(response).zip(&mut self.error) {
            let (early, late) = played.split_at(self.newest);
            let (first, then) = response.split_at(late.len());
            *left = Bins::default();
            for (played, response) in [(late, first), (early, then)] {
                add_products(played, response, left);
                if learns {
                    add_doubts(played, response, &mut left.power);
                }
            }
            // Half of the powers of two blocks falls on the new one.
            left.power.iter_mut().for_each(|left| *left *= 0.5);
        }
        put_together(self.error.iter(), &mut self.line);
        self.synthesise();
    }

    fn learn(&mut self, clean: &[f32]) {
        let half = self.block;
        self.wave[..half].fill(0.0);
        self.wave[half..].copy_from_slice(clean);
        self.analyse();
        let lines = self.line.chunks_exact(LANES);
        let others = self.else_power.chunks_exact_mut(LANES);
        // From here on the powers are what the steps of all partitions share.
        for ((error, line), others) in self.error.iter_mut().zip(lines).zip(others) {
            take(error, line);
            let powers = error.power.iter_mut().zip(others);
            for ((shared, power), e) in powers.zip(line) {
                *power = SMOOTH * *power + (1.0 - SMOOTH) * e.norm_sqr();
                *shared = 1.0 / (*shared + OTHERS * *power + 1e-9);
            }
        }
        let played = self.played.chunks_exact(self.parts);
        let response = self.response.chunks_exact_mut(self.parts);
        for ((played, response), error) in played.zip(response).zip(&self.error) {
            let (early, late) = played.split_at(self.newest);
            let (first, then) = response.split_at_mut(late.len());
            steps(late, error, first);
            steps(early, error, then);
        }
    }

    /// Holds some partitions to their length: a response longer than its block would wrap round. Since they were held last, they
    /// may have become others. It learns from one of so many blocks.
    fn hold(&mut self, every: usize) {
        let blocks = (self.parts * every / HELD) as f32;
        let kept = STAYS.powf(2.0 * blocks);
        for _ in 0..HELD {
            let held = self.response.iter().skip(self.held).step_by(self.parts);
            put_together(held, &mut self.line);
            self.synthesise();
            self.wave[self.block..].fill(0.0);
            self.analyse();
            let held = self.response.iter_mut().skip(self.held).step_by(self.parts);
            for (bins, line) in held.zip(self.line.chunks_exact(LANES)) {
                take(bins, line);
                for (unsure, w) in bins.power.iter_mut().zip(line) {
                    *unsure = kept * *unsure + (1.0 - kept) * w.norm_sqr();
                    *unsure = unsure.max(self.least);
                }
            }
            self.held = (self.held + 1) % self.parts;
        }
    }

    fn analyse(&mut self) {
        // The lengths are those of the plan: it cannot fail.
        let _ =
            self.forward
                .process_with_scratch(&mut self.wave, &mut self.line, &mut self.scratch);
    }

    fn synthesise(&mut self) {
        // The ends of the line are real, and the lengths are those of the plan: it cannot fail.
        let _ =
            self.inverse
                .process_with_scratch(&mut self.line, &mut self.wave, &mut self.scratch);
        let scale = 1.0 / (2 * self.block) as f32;
        self.wave.iter_mut().for_each(|x| *x *= scale);
    }
}

/// Takes bins in, without their powers.
fn take(bins: &mut Bins, line: &[Complex<f32>]) {
    let to = bins.re.iter_mut().zip(&mut bins.im);
    for ((re, im), x) in to.zip(line) {
        (*re, *im) = (x.re, x.im);
    }
}

fn powers(line: &[Complex<f32>]) -> [f32; LANES] {
    let mut powers = [0.0; LANES];
    for (power, x) in powers.iter_mut().zip(line) {
        *power = x.norm_sqr();
    }
    powers
}

// The loops over partitions stand alone, so that sums stay in registers.

/// Adds what comes back of `x` on the way `w`.
#[inline(never)]
fn add_products(x: &[Bins], w: &[Bins], sums: &mut Bins) {
    let (mut re, mut im) = (sums.re, sums.im);
    for (x, w) in x.iter().zip(w) {
        for lane in 0..LANES {
            re[lane] += x.re[lane] * w.re[lane] - x.im[lane] * w.im[lane];
            im[lane] += x.re[lane] * w.im[lane] + x.im[lane] * w.re[lane];
        }
    }
    (sums.re, sums.im) = (re, im);
}

/// Adds with what power that may be wrong.
#[inline(never)]
fn add_doubts(x: &[Bins], w: &[Bins], sums: &mut [f32; LANES]) {
    let mut all = *sums;
    for (x, w) in x.iter().zip(w) {
        let powers = x.power.iter().zip(w.power);
        for (sum, (x, w)) in all.iter_mut().zip(powers) {
            *sum += x * w;
        }
    }
    *sums = all;
}

fn steps(x: &[Bins], error: &Bins, way: &mut [Bins]) {
    x.iter().zip(way).for_each(|(x, way)| step(x, error, way));
}

/// A step of the response: towards what explains the error, as far as it is unsure; and surer by that. It stands alone: inlined
/// into the loop, several steps would be woven into one another, and most of the work be to sort their bins.
#[inline(never)]
fn step(x: &Bins, error: &Bins, way: &mut Bins) {
    for lane in 0..LANES {
        let step = way.power[lane] * error.power[lane];
        let (er, ei) = (error.re[lane], error.im[lane]);
        way.re[lane] += step * (x.re[lane] * er + x.im[lane] * ei);
        way.im[lane] += step * (x.re[lane] * ei - x.im[lane] * er);
        way.power[lane] *= 1.0 - 0.5 * step * x.power[lane];
    }
}

/// A spectrum of so many bins, and nothing above. It begins with a real one, as that of a real wave does.
fn put_together<'a>(bins: impl Iterator<Item = &'a Bins>, line: &mut [Complex<f32>]) {
    line.fill(Complex::default());
    for (line, bins) in line.chunks_exact_mut(LANES).zip(bins) {
        for ((line, re), im) in line.iter_mut().zip(bins.re).zip(bins.im) {
            *line = Complex::new(re, im);
        }
    }
    line[0].im = 0.0;
}
