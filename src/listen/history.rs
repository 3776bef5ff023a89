//! The newest samples of a signal, always readable as one slice.

/// Sums of squares go on up to this, and begin anew when the ring is full: differences of them stay exact to some 1e-12.
const MOST_ENERGY: f64 = 1e4;

/// A ring that keeps every sample twice, so that the newest ones lie in one piece.
#[derive(Debug, Clone)]
pub(super) struct History {
    samples: Vec<f32>,
    /// The sum of all squares up to each sample; empty where nobody asks.
    energies: Vec<f64>,
    energy: f64,
    size: usize,
    at: usize,
}

impl History {
    /// Room for the newest `size` samples; silence to begin with.
    pub(super) fn new(size: usize) -> History {
        let size = size.max(1);
        History {
            samples: vec![0.0; 2 * size],
            energies: Vec::new(),
            energy: 0.0,
            size,
            at: 0,
        }
    }

    /// The same, and the energy of any stretch of it is known.
    pub(super) fn with_energies(size: usize) -> History {
        let size = size.max(1) + 1;
        History {
            energies: vec![0.0; 2 * size],
            ..History::new(size)
        }
    }

    /// Takes one sample in; the oldest one goes.
    pub(super) fn push(&mut self, sample: f32) {
        self.extend(&[sample]);
    }

    /// Takes samples in, oldest first; as many old ones go.
    pub(super) fn extend(&mut self, mut samples: &[f32]) {
        while !samples.is_empty() {
            let fits = samples.len().min(self.size - self.at);
            let (now, later) = samples.split_at(fits);
            for from in [self.at, self.at + self.size] {
                self.samples[from..from + fits].copy_from_slice(now);
            }
            if !self.energies.is_empty() {
                self.add_energies(now);
            }
            self.at = (self.at + fits) % self.size;
            samples = later;
        }
    }

    /// Sample by sample, so that it does not matter how many come at a time.
    fn add_energies(&mut self, now: &[f32]) {
        if self.at == 0 && self.energy > MOST_ENERGY {
            let energy = std::mem::take(&mut self.energy);
            self.energies.iter_mut().for_each(|sum| *sum -= energy);
        }
        let (once, twice) = self.energies.split_at_mut(self.size);
        let (once, twice) = (&mut once[self.at..], &mut twice[self.at..]);
        let mut energy = self.energy;
        for (sum, &sample) in once.iter_mut().zip(now) {
            energy += f64::from(sample) * f64::from(sample);
            *sum = energy;
        }
        twice[..now.len()].copy_from_slice(&once[..now.len()]);
        self.energy = energy;
    }

    /// Sums of squares up to each of `count` samples, oldest first, the last of them `back` before the newest one.
    pub(super) fn energies(&self, count: usize, back: usize) -> &[f64] {
        let end = self.at + self.size - back;
        &self.energies[end - count..end]
    }

    /// The sum of squares of `count` samples, the last of them `back` before the newest one.
    pub(super) fn energy(&self, count: usize, back: usize) -> f32 {
        let newest = self.at + self.size - 1 - back;
        (self.energies[newest] - self.energies[newest - count]) as f32
    }

    /// Silence again.
    pub(super) fn clear(&mut self) {
        self.samples.fill(0.0);
        self.energies.fill(0.0);
        self.energy = 0.0;
    }

    /// The newest `count` samples (at most the size), oldest first.
    pub(super) fn newest(&self, count: usize) -> &[f32] {
        let end = self.at + self.size;
        &self.samples[end - count.min(self.size)..end]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_samples_lie_in_one_piece() {
        // By how many at a time.
        for step in [1, 2, 3, 7] {
            let mut history = History::new(5);
            let all: Vec<f32> = (0..42).map(|n| n as f32).collect();
            let mut last = 0.0;
            for samples in all.chunks(step) {
                history.extend(samples);
                last += samples.len() as f32;
                let newest = history.newest(5);
                assert_eq!(newest[4], last - 1.0);
                assert_eq!(newest[2], (last - 3.0).max(0.0));
            }
            assert_eq!(history.newest(9).len(), 5);
        }
    }

    #[test]
    fn energies_are_those_of_the_definition_however_many_come_at_a_time() {
        let all: Vec<f32> = (0..900).map(|n| 30.0 * (n as f32 * 0.7).sin()).collect();
        for step in [1, 7, 64, 300] {
            let mut history = History::with_energies(100);
            for samples in all.chunks(step) {
                history.extend(samples);
            }
            for (count, back) in [(0, 0), (1, 0), (100, 0), (60, 40), (1, 99)] {
                let end = all.len() - back;
                let wanted: f32 = all[end - count..end].iter().map(|x| x * x).sum();
                let energy = history.energy(count, back);
                assert!(
                    (energy - wanted).abs() <= 1e-5 * wanted,
                    "{count} {back}: {energy} {wanted}"
                );
                let sums = history.energies(3, back.min(90));
                assert!(sums[0] <= sums[1] && sums[1] <= sums[2]);
            }
        }
    }
}
