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

/// A spectrum, or several, in three lists, for that is how vectors are worked out: with a power for each frequency.
#[derive(Clone)]
struct Bins {
    re: Vec<f32>,
    im: Vec<f32>,
    power: Vec<f32>,
}

/// One spectrum of them.
#[derive(Clone, Copy)]
struct Part<'a> {
    re: &'a [f32],
    im: &'a [f32],
    power: &'a [f32],
}

impl Bins {
    fn new(count: usize) -> Bins {
        Bins {
            re: vec![0.0; count],
            im: vec![0.0; count],
            power: vec![0.0; count],
        }
    }

    fn clear(&mut self) {
        for list in [&mut self.re, &mut self.im, &mut self.power] {
            list.fill(0.0);
        }
    }

    fn part(&self, bins: std::ops::Range<usize>) -> Part<'_> {
        Part {
            re: &self.re[bins.clone()],
            im: &self.im[bins.clone()],
            power: &self.power[bins],
        }
    }

    /// Takes a spectrum in from bin `from` on, without its powers.
    fn take(&mut self, from: usize, line: &[Complex<f32>], bins: usize) {
        let to = self.re[from..].iter_mut().zip(&mut self.im[from..]);
        for ((re, im), x) in to.zip(&line[..bins]) {
            (*re, *im) = (x.re, x.im);
        }
    }
}

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
    played: Bins,
    newest: usize,
    /// The response, and how unsure it is.
    response: Bins,
    least: f32,
    /// What is left, or expected to come back; the power of all else.
    error: Bins,
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
            bins,
            forward,
            inverse,
            scratch: vec![Complex::default(); scratch],
            wave: vec![0.0; 2 * block],
            line: vec![Complex::default(); block + 1],
            before: vec![0.0; block],
            played: Bins::new(parts * bins),
            newest: 0,
            response: Bins::new(parts * bins),
            least: 0.0,
            error: Bins::new(bins),
            else_power: vec![0.0; bins],
            held: 0,
            blocks: 0,
        }
    }

    /// Begins at nothing: the response is expected from `lead` frames on, of about the power `gain`.
    pub(super) fn begin(&mut self, lead: usize, gain: f32) {
        self.played.clear();
        self.response.clear();
        self.before.fill(0.0);
        self.else_power.fill(0.0);
        for (part, unsure) in self.response.power.chunks_exact_mut(self.bins).enumerate() {
            let late = (part * self.block) as f32 - lead as f32;
            let fall = match late {
                late if late < -(self.block as f32) => BEFORE,
                late => 10_f32.powf(-late.max(0.0) / (FALLS_IN_S * self.rate)),
            };
            unsure.fill(gain * fall);
        }
        self.least = gain * 1e-7;
        self.blocks = 0;
    }

    /// Takes a block of what was played and of what is heard; `clean` becomes what is left.
    pub(super) fn step(&mut self, band: &[f32], sound: &[f32], clean: &mut [f32]) {
        self.hear(band);
        self.expect();
        let half = self.block;
        for ((clean, sound), expected) in clean.iter_mut().zip(sound).zip(&self.wave[half..]) {
            *clean = sound - expected;
        }
        self.blocks += 1;
        let is_new = (self.blocks * self.block) as f32 / self.rate < NEW_S;
        let every = if is_new { 1 } else { EVERY };
        if self.blocks.is_multiple_of(every) {
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
        let from = self.newest * self.bins;
        self.played.take(from, &self.line, self.bins);
        let powers = self.played.power[from..].iter_mut();
        for (power, x) in powers.zip(&self.line[..self.bins]) {
            *power = x.norm_sqr();
        }
    }

    /// The bins of a partition, and those of what was played then.
    fn places(&self, part: usize) -> [std::ops::Range<usize>; 2] {
        let at = (self.newest + part) % self.parts;
        [part, at].map(|part| part * self.bins..(part + 1) * self.bins)
    }

    /// What comes back of it, in the second half of `wave`; and what may be left.
    fn expect(&mut self) {
        self.error.clear();
        for part in 0..self.parts {
            let [of, at] = self.places(part);
            let Bins { re, im, power } = &mut self.error;
            add_products(self.played.part(at), self.response.part(of), re, im, power);
        }
        // Half of the powers of two blocks falls on the new one.
        self.error.power.iter_mut().for_each(|left| *left *= 0.5);
        let (re, im) = (&self.error.re, &self.error.im);
        put_together(re.iter().zip(im), &mut self.line);
        self.synthesise();
    }

    fn learn(&mut self, clean: &[f32]) {
        let half = self.block;
        self.wave[..half].fill(0.0);
        self.wave[half..].copy_from_slice(clean);
        self.analyse();
        self.error.take(0, &self.line, self.bins);
        // From here on the powers are what the steps of all partitions share.
        let powers = self.error.power.iter_mut().zip(&mut self.else_power);
        for ((shared, power), e) in powers.zip(&self.line) {
            *power = SMOOTH * *power + (1.0 - SMOOTH) * e.norm_sqr();
            *shared = 1.0 / (*shared + OTHERS * *power + 1e-9);
        }
        for part in 0..self.parts {
            let [of, at] = self.places(part);
            let error = self.error.part(0..self.bins);
            let Bins { re, im, power } = &mut self.response;
            let (re, im) = (&mut re[of.clone()], &mut im[of.clone()]);
            step(self.played.part(at), error, re, im, &mut power[of]);
        }
    }

    /// Holds some partitions to their length: a response longer than its block would wrap round. Since they were held last, they
    /// may have become others. It learns from one of so many blocks.
    fn hold(&mut self, every: usize) {
        let blocks = (self.parts * every / HELD) as f32;
        let kept = STAYS.powf(2.0 * blocks);
        for _ in 0..HELD {
            let bins = self.held * self.bins..(self.held + 1) * self.bins;
            let part = self.response.part(bins.clone());
            put_together(part.re.iter().zip(part.im), &mut self.line);
            self.synthesise();
            self.wave[self.block..].fill(0.0);
            self.analyse();
            self.response.take(bins.start, &self.line, self.bins);
            let unsure = self.response.power[bins].iter_mut();
            for (unsure, w) in unsure.zip(&self.line) {
                *unsure = kept * *unsure + (1.0 - kept) * w.norm_sqr();
                *unsure = unsure.max(self.least);
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

// Both loops stand alone: inlined, the compiler could not tell any more that their lists do not overlap, and would use no vectors.

/// Adds what comes back of `x` on the way `w`; and with what power that may be wrong.
#[inline(never)]
fn add_products(x: Part<'_>, w: Part<'_>, re: &mut [f32], im: &mut [f32], left: &mut [f32]) {
    let x = x.re.iter().zip(x.im).zip(x.power);
    let w = w.re.iter().zip(w.im).zip(w.power);
    let sums = re.iter_mut().zip(im).zip(left);
    for ((((re, im), left), ((xr, xi), power)), ((wr, wi), unsure)) in sums.zip(x).zip(w) {
        *re += xr * wr - xi * wi;
        *im += xr * wi + xi * wr;
        *left += power * unsure;
    }
}

/// A step of the response: towards what explains the error, as far as it is unsure; and surer by that.
#[inline(never)]
fn step(x: Part<'_>, error: Part<'_>, re: &mut [f32], im: &mut [f32], unsure: &mut [f32]) {
    let x = x.re.iter().zip(x.im).zip(x.power);
    let error = error.re.iter().zip(error.im).zip(error.power);
    let way = re.iter_mut().zip(im).zip(unsure);
    for ((((wr, wi), unsure), ((xr, xi), power)), ((er, ei), shared)) in way.zip(x).zip(error) {
        let step = *unsure * shared;
        *wr += step * (xr * er + xi * ei);
        *wi += step * (xr * ei - xi * er);
        *unsure *= 1.0 - 0.5 * step * power;
    }
}

/// A spectrum of so many bins, and nothing above. It begins with a real one, as that of a real wave does.
fn put_together<'a>(bins: impl Iterator<Item = (&'a f32, &'a f32)>, line: &mut [Complex<f32>]) {
    line.fill(Complex::default());
    for (line, (re, im)) in line.iter_mut().zip(bins) {
        *line = Complex::new(*re, *im);
    }
    line[0].im = 0.0;
}
