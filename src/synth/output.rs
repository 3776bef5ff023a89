//! What voices are added to: both sides and the sends of the effects.

/// Frames between two moves of the parameters.
pub const BLOCK_FRAMES: usize = 64;

/// A block of one side.
pub(super) type Block = [f32; BLOCK_FRAMES];

/// How many voices a sum keeps apart: what a vector register of SSE2 and NEON holds.
pub(super) const WIDTH: usize = 4;

/// A number for each of some voices. Written as plain arrays, of which the compiler makes vector instructions.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(align(16))]
pub(super) struct Lane<const N: usize>(pub(super) [f32; N]);

impl<const N: usize> Lane<N> {
    pub(super) const ZERO: Lane<N> = Lane([0.0; N]);

    #[inline(always)]
    pub(super) fn all(value: f32) -> Lane<N> {
        Lane([value; N])
    }

    #[inline(always)]
    fn with(mut self, other: Lane<N>, of: impl Fn(f32, f32) -> f32) -> Lane<N> {
        for (own, other) in self.0.iter_mut().zip(other.0) {
            *own = of(*own, other);
        }
        self
    }
}

impl<const N: usize> std::ops::Add for Lane<N> {
    type Output = Lane<N>;
    #[inline(always)]
    fn add(self, other: Lane<N>) -> Lane<N> {
        self.with(other, |own, other| own + other)
    }
}

impl<const N: usize> std::ops::Sub for Lane<N> {
    type Output = Lane<N>;
    #[inline(always)]
    fn sub(self, other: Lane<N>) -> Lane<N> {
        self.with(other, |own, other| own - other)
    }
}

impl<const N: usize> std::ops::Mul for Lane<N> {
    type Output = Lane<N>;
    #[inline(always)]
    fn mul(self, other: Lane<N>) -> Lane<N> {
        self.with(other, |own, other| own * other)
    }
}

/// A frame of sums: left, right, reverb, chorus, each still apart by voices.
pub(super) type Frame = [Lane<WIDTH>; 4];

/// The sums of a block.
pub(super) struct Sums {
    pub(super) frames: [Frame; BLOCK_FRAMES],
}

impl Sums {
    pub(super) fn new() -> Sums {
        Sums {
            frames: [[Lane::ZERO; 4]; BLOCK_FRAMES],
        }
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.frames.fill([Lane::ZERO; 4]);
    }

    /// Adds up one of the four.
    pub(super) fn total(&self, which: usize) -> Block {
        let mut block = [0.0; BLOCK_FRAMES];
        for (to, frame) in block.iter_mut().zip(&self.frames) {
            let [a, b, c, d] = frame.get(which).map_or([0.0; WIDTH], |lane| lane.0);
            *to = (a + b) + (c + d);
        }
        block
    }
}
