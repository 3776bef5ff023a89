//! The reverb: a network of eight delay lines (J.-M. Jot, "Digital delay networks for designing artificial reverberators",
//! AES 1991) behind two all-passes that scatter what comes in (M. R. Schroeder, "Natural sounding artificial reverberation",
//! 1962). Every delay is longer than a block, so that a whole block goes through each line at once, four frames side by side.

use super::delay::{DelayLine, Rest};
use super::output::BLOCK_FRAMES;
use super::output::{Block, Lane};

/// Lengths of the lines in seconds: their ratios are far from simple, so that echoes do not fall together.
const LINES_S: [f32; 8] = [
    0.023_31, 0.026_93, 0.029_71, 0.033_37, 0.037_73, 0.041_39, 0.044_87, 0.049_97,
];
/// Lengths of the all-passes in seconds.
const SCATTER_S: [f32; 2] = [0.004_73, 0.007_79];
/// How much an all-pass sends round.
const SCATTER: f32 = 0.6;
/// Time to fall by 60 dB: a small hall.
const DECAY_S: f32 = 1.2;
/// How much of each sample is taken from the one before, each time round: high notes die sooner.
const DAMPING: f32 = 0.2;
/// What comes back of what is sent.
const RETURN: f32 = 0.35;

const HEAD: usize = BLOCK_FRAMES + 1;

struct Line {
    line: DelayLine,
    delay: usize,
    /// What is left after once round: of a sample, and of the one before it.
    keep: f32,
    keep_before: f32,
}

/// The reverb with its tail.
pub(super) struct Reverb {
    scatter: [(DelayLine, usize); 2],
    lines: [Line; 8],
    rest: Rest,
}

fn frames(seconds: f32, rate: f32) -> usize {
    ((seconds * rate) as usize).max(BLOCK_FRAMES)
}

impl Reverb {
    pub(super) fn new(rate: f32) -> Reverb {
        let line = |seconds: f32| {
            let delay = frames(seconds, rate);
            let keep = 10f32.powf(-3.0 * delay as f32 / (DECAY_S * rate));
            Line {
                line: DelayLine::new(delay + 1),
                delay,
                keep: keep * (1.0 - DAMPING),
                keep_before: keep * DAMPING,
            }
        };
        let scatter = |seconds: f32| (DelayLine::new(frames(seconds, rate)), frames(seconds, rate));
        let longest = LINES_S.iter().copied().fold(0.0, f32::max);
        Reverb {
            scatter: SCATTER_S.map(scatter),
            lines: LINES_S.map(line),
            rest: Rest::new(frames(2.0 * longest, rate)),
        }
    }

    /// Adds what comes back of a block.
    pub(super) fn add(&mut self, input: &Block, left: &mut Block, right: &mut Block) {
        if self.rest.rests(input) {
            return;
        }
        let mut scattered = *input;
        for (line, delay) in &mut self.scatter {
            scattered = scatter(line, *delay, &scattered);
        }
        let (wet_left, wet_right) = self.round(&scattered);
        for (to, wet) in left
            .iter_mut()
            .zip(&wet_left)
            .chain(right.iter_mut().zip(&wet_right))
        {
            *to += *wet;
        }
        if self.rest.heard([input, &wet_left, &wet_right]) {
            self.clear();
        }
    }

    pub(super) fn clear(&mut self) {
        self.scatter.iter_mut().for_each(|(line, _)| line.clear());
        self.lines.iter_mut().for_each(|line| line.line.clear());
    }

    /// Once round all lines: each gets a mixture of all, by a Hadamard matrix, which keeps the energy.
    fn round(&mut self, input: &Block) -> (Block, Block) {
        let heads: [[f32; HEAD]; 8] =
            std::array::from_fn(|index| self.lines[index].line.read(self.lines[index].delay + 1));
        let keep: [(f32, f32); 8] =
            std::array::from_fn(|index| (self.lines[index].keep, self.lines[index].keep_before));
        let mut back = [[0.0f32; BLOCK_FRAMES]; 8];
        let (mut left, mut right) = ([0.0f32; BLOCK_FRAMES], [0.0f32; BLOCK_FRAMES]);
        for at in (0..BLOCK_FRAMES).step_by(4) {
            let lane = |index: usize, from: usize| {
                let head = &heads[index];
                Lane([head[from], head[from + 1], head[from + 2], head[from + 3]])
            };
            let mut mixed: [Lane<4>; 8] = std::array::from_fn(|index| {
                let (now, before) = keep[index];
                lane(index, at + 1) * Lane::all(now) + lane(index, at) * Lane::all(before)
            });
            let side = |first: usize| {
                (mixed[first] - mixed[first + 2]) + (mixed[first + 4] - mixed[first + 6])
            };
            let (one, other) = (side(0).0, side(1).0);
            let came = Lane([input[at], input[at + 1], input[at + 2], input[at + 3]]);
            for width in [1, 2, 4] {
                for index in 0..8 {
                    if index & width == 0 {
                        let (low, high) = (mixed[index], mixed[index + width]);
                        (mixed[index], mixed[index + width]) = (low + high, low - high);
                    }
                }
            }
            for (back, mixed) in back.iter_mut().zip(mixed) {
                let sum = (mixed * Lane::all(std::f32::consts::FRAC_1_SQRT_2 * 0.5) + came).0;
                back[at..at + 4].copy_from_slice(&sum);
            }
            for step in 0..4 {
                left[at + step] = one[step] * RETURN;
                right[at + step] = other[step] * RETURN;
            }
        }
        for (line, back) in self.lines.iter_mut().zip(&back) {
            line.line.write(back);
        }
        (left, right)
    }
}

/// An all-pass: every frequency passes alike, spread in time.
fn scatter(line: &mut DelayLine, delay: usize, input: &Block) -> Block {
    let held: Block = line.read(delay);
    let (mut kept, mut out) = ([0.0; BLOCK_FRAMES], [0.0; BLOCK_FRAMES]);
    for (((kept, out), held), input) in kept.iter_mut().zip(&mut out).zip(held).zip(input) {
        *kept = input + SCATTER * held;
        *out = held - SCATTER * *kept;
    }
    line.write(&kept);
    out
}
