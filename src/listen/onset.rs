//! Where something begins: the spectrum rises in many places at once.

use super::history::History;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// How many bands the spectrum is gathered into.
pub(super) const BANDS: usize = 24;
/// How many looks back the spectrum is compared with at least: further than the window is long ...
const LEAST_BACK: usize = 6;
/// ... and at most: a period of a bass's low B and more.
const BACK: usize = 20;
/// A band counts with at most so many decibels.
const MOST_DB: f32 = 24.0;

/// The powers of the newest few milliseconds in bands.
pub(super) struct Spectrum {
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    edges: [usize; BANDS + 1],
}

impl Spectrum {
    /// A window of about 10.7 ms; bands from 60 Hz to 8 kHz, or as high as the rate allows.
    pub(super) fn new(rate: f32) -> Spectrum {
        let size = ((rate * 0.0107).log2().round().exp2() as usize).max(64);
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(size);
        let (low, high, step) = (60.0_f32, 8000.0_f32.min(0.45 * rate), rate / size as f32);
        let mut edges = [0; BANDS + 1];
        for (band, edge) in edges.iter_mut().enumerate() {
            let hz = low * (high / low).powf(band as f32 / BANDS as f32);
            *edge = (hz / step).round() as usize;
        }
        edges[0] = edges[0].max(1);
        for band in 1..=BANDS {
            edges[band] = edges[band].max(edges[band - 1] + 1).min(size / 2);
        }
        let hann = |n: usize| {
            let place = (n as f64 + 0.5) / size as f64;
            (std::f64::consts::PI * place).sin().powi(2) as f32
        };
        Spectrum {
            window: (0..size).map(hann).collect(),
            input: vec![0.0; size],
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            edges,
        }
    }

    /// How many samples a look needs.
    pub(super) fn needed(&self) -> usize {
        self.window.len()
    }

    /// The power of each band over the newest samples (a sine of full scale: about 0.5 in its band).
    pub(super) fn powers(&mut self, sound: &History) -> [f32; BANDS] {
        let newest = sound.newest(self.window.len());
        for ((to, &from), window) in self.input.iter_mut().zip(newest).zip(&self.window) {
            *to = from * window;
        }
        let mut powers = [0.0; BANDS];
        // The lengths are those of the plan: it cannot fail.
        let done =
            self.fft
                .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        if done.is_err() {
            return powers;
        }
        let norm = 16.0 / (3.0 * (self.window.len() as f32).powi(2));
        for (power, edges) in powers.iter_mut().zip(self.edges.windows(2)) {
            let bins = &self.output[edges[0]..edges[1]];
            *power = bins.iter().map(Complex::norm_sqr).sum::<f32>() * norm;
        }
        powers
    }
}

/// Watches the powers of the bands for a rise.
#[derive(Debug, Clone)]
pub(super) struct Rise {
    past: [[f32; BANDS]; BACK],
    at: usize,
    seen: usize,
}

impl Rise {
    pub(super) fn new() -> Rise {
        Rise {
            past: [[0.0; BANDS]; BACK],
            at: 0,
            seen: 0,
        }
    }

    /// By how many decibels the bands have risen on the average against the 15 ms before, or so many `looks` if they are more:
    /// within a period of a low string its spectrum rises, too. What lies under `floor` (a power) does not count.
    pub(super) fn push(&mut self, powers: &[f32; BANDS], floor: f32, looks: usize) -> f32 {
        let looks = looks.clamp(LEAST_BACK, BACK);
        let mut sum = 0.0;
        let mut now_db = [0.0; BANDS];
        let floor = floor + 1e-14;
        let floor_db = 10.0 * floor.log10();
        for band in 0..BANDS {
            let now = 10.0 * (powers[band] + floor).log10();
            // The loudest of the older looks: a beat between two strings is no beginning.
            let older = (2..looks).map(|back| self.past[(self.at + BACK - 1 - back) % BACK][band]);
            let before = older.fold(floor_db, f32::max);
            sum += (now - before).clamp(0.0, MOST_DB);
            now_db[band] = now;
        }
        self.past[self.at] = now_db;
        self.at = (self.at + 1) % BACK;
        self.seen = (self.seen + 1).min(2 * BACK);
        if self.seen <= LEAST_BACK {
            0.0
        } else {
            sum / BANDS as f32
        }
    }
}
