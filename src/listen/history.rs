//! The newest samples of a signal, always readable as one slice.

/// A ring that keeps every sample twice, so that the newest ones lie in one piece.
#[derive(Debug, Clone)]
pub(super) struct History {
    samples: Vec<f32>,
    size: usize,
    at: usize,
}

impl History {
    /// Room for the newest `size` samples; silence to begin with.
    pub(super) fn new(size: usize) -> History {
        let size = size.max(1);
        History {
            samples: vec![0.0; 2 * size],
            size,
            at: 0,
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
            self.at = (self.at + fits) % self.size;
            samples = later;
        }
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
}
