//! The chorus: what is sent comes back a little later on each side, by a time that rises and falls.

use super::delay::Rest;
use super::output::BLOCK_FRAMES;
use super::output::Block;

/// The middle of the delay in seconds.
const DELAY_S: f32 = 0.012;
/// How far it moves to either side.
const DEPTH_S: f32 = 0.003;
/// How often it moves.
const HZ: f32 = 0.4;
/// What comes back of what is sent.
const RETURN: f32 = 4.0;

/// The chorus with what it holds.
pub(super) struct Chorus {
    /// The last samples, oldest first, and the block that came.
    held: Vec<f32>,
    /// From 0 to 1; the right side is a quarter ahead.
    phase: f32,
    step: f32,
    rate: f32,
    rest: Rest,
}

impl Chorus {
    pub(super) fn new(rate: f32) -> Chorus {
        let frames = ((DELAY_S + DEPTH_S) * rate) as usize + 4;
        Chorus {
            held: vec![0.0; frames + BLOCK_FRAMES],
            phase: 0.0,
            step: HZ * BLOCK_FRAMES as f32 / rate,
            rate,
            rest: Rest::new(frames),
        }
    }

    /// Adds what comes back of a block.
    pub(super) fn add(&mut self, input: &Block, left: &mut Block, right: &mut Block) {
        let from = self.phase;
        self.phase = (self.phase + self.step).fract();
        if self.rest.rests(input) {
            return;
        }
        self.held.copy_within(BLOCK_FRAMES.., 0);
        let new = self.held.len() - BLOCK_FRAMES;
        if let Some(to) = self.held.get_mut(new..) {
            to.copy_from_slice(input);
        }
        let wet = [0.0, 0.25].map(|ahead| {
            let delay = |phase: f32| {
                let turn = std::f32::consts::TAU * (phase + ahead);
                (DELAY_S + DEPTH_S * turn.sin()) * self.rate
            };
            self.delayed(delay(from), delay(from + self.step))
        });
        let [one, other] = &wet;
        for (to, wet) in left.iter_mut().zip(one).chain(right.iter_mut().zip(other)) {
            *to += *wet * RETURN;
        }
        if self.rest.heard([input, one, other]) {
            self.clear();
        }
    }

    pub(super) fn clear(&mut self) {
        self.held.fill(0.0);
    }

    /// The block that came, delayed by what moves evenly from one number of frames to another.
    fn delayed(&self, from: f32, to: f32) -> Block {
        let mut block = [0.0; BLOCK_FRAMES];
        let new = (self.held.len() - BLOCK_FRAMES) as f32;
        let step = 1.0 - (to - from) / BLOCK_FRAMES as f32;
        for (frame, out) in block.iter_mut().enumerate() {
            let place = new - from + frame as f32 * step;
            let whole = place as usize;
            if let Some([before, after]) = self.held.get(whole..whole + 2) {
                *out = before + (after - before) * (place - whole as f32);
            }
        }
        block
    }
}
