//! What the band was in the sound before it was taken out: what is left of it may be taken for a note.

use super::history::History;

/// The band as it came back, at the rate of the coarse look.
#[derive(Debug, Clone)]
pub(super) struct Echo {
    factor: usize,
    sum: f32,
    filled: usize,
    coarse: History,
}

impl Echo {
    /// For every `factor` samples one is kept, and the newest `size` of these.
    pub(super) fn new(factor: usize, size: usize) -> Echo {
        Echo {
            factor,
            sum: 0.0,
            filled: 0,
            coarse: History::new(size),
        }
    }

    /// Takes samples. Their means will do: it is asked how loud a note is in it, not of what pitch.
    pub(super) fn extend(&mut self, samples: &[f32]) {
        for sample in samples {
            self.sum += sample;
            self.filled += 1;
            if self.filled == self.factor {
                self.coarse.push(self.sum / self.factor as f32);
                (self.sum, self.filled) = (0.0, 0);
            }
        }
    }

    /// It is over, and what was is no more.
    pub(super) fn forget(&mut self) {
        (self.sum, self.filled) = (0.0, 0);
        self.coarse.clear();
    }

    /// Its newest samples.
    pub(super) fn coarse(&self) -> &History {
        &self.coarse
    }
}
