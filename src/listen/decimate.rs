//! From the full rate down to the rate of the analysis.

use super::history::History;

/// Products that are added side by side.
const LANES: usize = 16;

/// A low-pass filter of which only every `factor`th output is worked out.
#[derive(Debug, Clone)]
pub(super) struct Decimator {
    taps: Vec<f32>,
    factor: usize,
}

impl Decimator {
    /// Takes every `factor`th sample of the signal without what would fold back. A windowed sine of eight taps a
    /// phase, with its edge at 0.42 of the new rate.
    pub(super) fn new(factor: usize) -> Decimator {
        let factor = factor.max(1);
        let count = if factor == 1 { 1 } else { 8 * factor + 1 };
        let middle = (count - 1) as f64 / 2.0;
        let edge = 0.84 / factor as f64;
        let taps: Vec<f64> = (0..count)
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
        // Whole vectors: what is before the first tap counts nothing.
        let before = count.next_multiple_of(LANES) - count;
        let filter = taps.iter().map(|&tap| (tap / sum) as f32);
        Decimator {
            taps: std::iter::repeat_n(0.0, before).chain(filter).collect(),
            factor,
        }
    }

    /// How many samples of the whole are needed for the newest `count`.
    pub(super) fn needed(&self, count: usize) -> usize {
        self.taps.len() + count
    }

    /// Takes the newest `count` samples of `whole`, a multiple of the factor; gives `coarse` one for every `factor` of them.
    pub(super) fn pass(&self, whole: &History, count: usize, coarse: &mut History) {
        let taps = self.taps.len();
        let samples = whole.newest(taps + count - self.factor);
        let mut few = [0.0; LANES];
        let mut windows = samples.windows(taps).step_by(self.factor);
        loop {
            let mut count = 0;
            for (to, samples) in few.iter_mut().zip(&mut windows) {
                *to = dot(&self.taps, samples);
                count += 1;
            }
            if count == 0 {
                break;
            }
            coarse.extend(&few[..count]);
        }
    }
}

/// The sum of products of two slices of one length, in sixteen running sums so that the compiler uses vectors. The
/// order of the additions is fixed: the same input always gives the same bits.
pub(super) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut sums = [0.0_f32; LANES];
    let (a16, a_rest) = a.as_chunks::<LANES>();
    let (b16, b_rest) = b.as_chunks::<LANES>();
    for (a, b) in a16.iter().zip(b16) {
        for lane in 0..LANES {
            sums[lane] += a[lane] * b[lane];
        }
    }
    let rest: f32 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    summed(sums) + rest
}

/// By halves, in vectors.
fn summed(mut sums: [f32; LANES]) -> f32 {
    let mut half = LANES / 2;
    while half > 0 {
        for lane in 0..half {
            sums[lane] += sums[lane + half];
        }
        half /= 2;
    }
    sums[0]
}

/// [`dot`] of a slice with three stretches of one that is longer by two samples: from its first, its second and its third sample
/// on. Each sample of `a` is read once; the sums are the same to the bit.
pub(super) fn three_dots(a: &[f32], b: &[f32]) -> [f32; 3] {
    let sums = three_sums(a, b);
    let done = a.len() - a.len() % LANES;
    std::array::from_fn(|from| {
        let rest = a[done..].iter().zip(&b[done + from..]);
        let rest: f32 = rest.map(|(a, b)| a * b).sum();
        summed(sums[from]) + rest
    })
}

/// The running sums of whole vectors. They are three lists by name and the loop stands alone, so that they stay in registers.
#[inline(never)]
fn three_sums(a: &[f32], b: &[f32]) -> [[f32; LANES]; 3] {
    let (mut first, mut second, mut third) = ([0.0; LANES], [0.0; LANES], [0.0; LANES]);
    let chunks = |from: usize| b[from..].as_chunks::<LANES>().0;
    let b = chunks(0).iter().zip(chunks(1)).zip(chunks(2));
    for (a, ((b1, b2), b3)) in a.as_chunks::<LANES>().0.iter().zip(b) {
        for lane in 0..LANES {
            first[lane] += a[lane] * b1[lane];
            second[lane] += a[lane] * b2[lane];
            third[lane] += a[lane] * b3[lane];
        }
    }
    [first, second, third]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_at_once_are_each_as_it_is_alone() {
        let all: Vec<f32> = (0..200).map(|n| (n as f32 * 0.37).sin()).collect();
        for len in [0, 1, 15, 16, 17, 100, 160] {
            let (a, b) = (&all[20..20 + len], &all[..len + 2]);
            let alone = [0, 1, 2].map(|from| dot(a, &b[from..from + len]));
            assert_eq!(three_dots(a, b), alone, "{len}");
        }
    }
}
