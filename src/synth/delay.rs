//! A delay line that is read and written a block at a time.

use super::output::BLOCK_FRAMES;
use super::output::Block;

/// The last samples that were written.
#[derive(Debug, Clone)]
pub(super) struct DelayLine {
    /// Whole blocks, so that a written one never wraps.
    samples: Vec<f32>,
    /// Where the next block goes.
    at: usize,
}

impl DelayLine {
    /// A line for delays of up to `frames`.
    pub(super) fn new(frames: usize) -> DelayLine {
        let blocks = frames.div_ceil(BLOCK_FRAMES) + 2;
        DelayLine {
            samples: vec![0.0; blocks * BLOCK_FRAMES],
            at: 0,
        }
    }

    /// What was written `delay` frames before the next block, at least a block and at most what it was made for.
    pub(super) fn read<const N: usize>(&self, delay: usize) -> [f32; N] {
        let mut block = [0.0; N];
        let start = (self.at + self.samples.len() - delay) % self.samples.len();
        let ahead = self.samples.get(start..).unwrap_or_default();
        let count = ahead.len().min(N);
        let (first, rest) = block.split_at_mut(count);
        first.copy_from_slice(ahead.get(..count).unwrap_or_default());
        let rest_len = rest.len();
        rest.copy_from_slice(self.samples.get(..rest_len).unwrap_or_default());
        block
    }

    /// Writes the next block.
    pub(super) fn write(&mut self, block: &Block) {
        if let Some(to) = self.samples.get_mut(self.at..self.at + BLOCK_FRAMES) {
            to.copy_from_slice(block);
        }
        self.at = (self.at + BLOCK_FRAMES) % self.samples.len();
    }

    pub(super) fn clear(&mut self) {
        self.samples.fill(0.0);
    }
}

/// How long nothing has gone into an effect, so that it need not work on silence.
#[derive(Debug, Clone)]
pub(super) struct Rest {
    quiet_blocks: u32,
    /// After so many blocks of silence in and out nothing is left inside.
    needed: u32,
}

/// Below this nothing is heard: 120 dB under full scale.
const SILENT: f32 = 1e-6;

impl Rest {
    /// For an effect that holds sounds for `frames`. It rests from the start.
    pub(super) fn new(frames: usize) -> Rest {
        let needed = frames.div_ceil(BLOCK_FRAMES) as u32 + 1;
        Rest {
            quiet_blocks: needed,
            needed,
        }
    }

    /// Whether a block of this input may be left out.
    pub(super) fn rests(&self, input: &Block) -> bool {
        self.quiet_blocks >= self.needed && input.iter().all(|sample| *sample == 0.0)
    }

    /// A block was worked on; gives whether everything inside may now be cleared.
    pub(super) fn heard(&mut self, blocks: [&Block; 3]) -> bool {
        let is_quiet = |block: &Block| block.iter().all(|sample| sample.abs() < SILENT);
        self.quiet_blocks = if blocks.into_iter().all(is_quiet) {
            self.quiet_blocks + 1
        } else {
            0
        };
        self.quiet_blocks >= self.needed
    }
}
