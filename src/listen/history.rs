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
        self.samples[self.at] = sample;
        self.samples[self.at + self.size] = sample;
        self.at += 1;
        if self.at == self.size {
            self.at = 0;
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
        let mut history = History::new(5);
        for n in 0..23 {
            history.push(n as f32);
            let newest = history.newest(5);
            assert_eq!(newest[4], n as f32);
            assert_eq!(newest[2], (n as f32 - 2.0).max(0.0));
        }
        assert_eq!(history.newest(9).len(), 5);
    }
}
