//! From the full rate down to the rate of the analysis.

use super::history::History;

/// A low-pass filter of which only every `factor`th output is worked out.
#[derive(Debug, Clone)]
pub(super) struct Decimator {
    taps: Vec<f32>,
    history: History,
    factor: usize,
    phase: usize,
}

impl Decimator {
    /// Takes every `factor`th sample of the signal without what would fold back. A windowed sine of eight taps a
    /// phase, with its edge at 0.42 of the new rate.
    pub(super) fn new(factor: usize) -> Decimator {
        let factor = factor.max(1);
        let count = if factor == 1 { 1 } else { 8 * factor + 1 };
        let middle = (count - 1) as f64 / 2.0;
        let edge = 0.84 / factor as f64;
        let mut taps: Vec<f64> = (0..count)
            .map(|n| {
                let x = n as f64 - middle;
                let sine = if x == 0.0 {
                    edge
                } else {
                    (std::f64::consts::PI * edge * x).sin() / (std::f64::consts::PI * x)
                };
                let place = (n as f64 + 0.5) / count as f64;
                sine * (std::f64::consts::PI * place).sin().powi(2)
            })
            .collect();
        let sum: f64 = taps.iter().sum();
        taps.iter_mut().for_each(|tap| *tap /= sum);
        Decimator {
            taps: taps.iter().map(|&tap| tap as f32).collect(),
            history: History::new(count),
            factor,
            phase: 0,
        }
    }

    /// Takes one sample; gives one every `factor` samples.
    pub(super) fn push(&mut self, sample: f32) -> Option<f32> {
        self.history.push(sample);
        self.phase += 1;
        if self.phase < self.factor {
            return None;
        }
        self.phase = 0;
        Some(dot(&self.taps, self.history.newest(self.taps.len())))
    }
}

/// The sum of products of two slices of one length, in sixteen running sums so that the compiler uses vectors. The
/// order of the additions is fixed: the same input always gives the same bits.
pub(super) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut sums = [0.0_f32; 16];
    let (a16, a_rest) = a.as_chunks::<16>();
    let (b16, b_rest) = b.as_chunks::<16>();
    for (a, b) in a16.iter().zip(b16) {
        for lane in 0..16 {
            sums[lane] += a[lane] * b[lane];
        }
    }
    let rest: f32 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    sums.iter().sum::<f32>() + rest
}
