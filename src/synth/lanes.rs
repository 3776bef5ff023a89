//! Some voices side by side through a stretch of frames: samples read between, the low-pass, gains, sums.

use super::output::{BLOCK_FRAMES, Frame, Lane, WIDTH};
use super::window::Window;

/// What the voices of a group start from, and how it moves with each frame.
pub(super) struct Group<const N: usize> {
    /// The place in the window, in samples with 24 bits of fraction.
    pub(super) at: [u32; N],
    pub(super) step: [u32; N],
    pub(super) filter: [Lane<N>; 5],
    pub(super) filter_step: [Lane<N>; 5],
    pub(super) memory: [Lane<N>; 2],
    /// Left, right, reverb, chorus.
    pub(super) gains: [Lane<N>; 4],
    pub(super) gain_steps: [Lane<N>; 4],
}

/// What a group needs; what no voice of it needs is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Needs {
    pub(super) filter: bool,
    pub(super) moving_filter: bool,
    pub(super) sends: bool,
}

impl<const N: usize> Group<N> {
    pub(super) const EMPTY: Group<N> = Group {
        at: [0; N],
        step: [0; N],
        filter: [Lane::ZERO; 5],
        filter_step: [Lane::ZERO; 5],
        memory: [Lane::ZERO; 2],
        gains: [Lane::ZERO; 4],
        gain_steps: [Lane::ZERO; 4],
    };

    /// Adds a stretch of frames, which lies within the windows. Reading, low-pass and sums each have a loop of their own, so
    /// that what each keeps fits the registers.
    pub(super) fn run(&mut self, needs: Needs, windows: &[Window; N], frames: &mut [Frame]) {
        let mut sound = [Lane::<N>::ZERO; BLOCK_FRAMES];
        let (sound, _) = sound.split_at_mut(frames.len().min(BLOCK_FRAMES));
        self.read(windows, sound);
        match (needs.filter, needs.moving_filter) {
            (false, _) => {}
            (true, false) => self.filter::<false>(sound),
            (true, true) => self.filter::<true>(sound),
        }
        self.add::<0>(sound, frames);
        if needs.sends {
            self.add::<2>(sound, frames);
        }
    }

    fn read(&mut self, windows: &[Window; N], sound: &mut [Lane<N>]) {
        let (mut at, step) = (self.at, self.step);
        for out in sound {
            *out = interpolated(&at, windows);
            for (at, step) in at.iter_mut().zip(step) {
                *at = at.wrapping_add(step);
            }
        }
        self.at = at;
    }

    fn filter<const MOVING: bool>(&mut self, sound: &mut [Lane<N>]) {
        let [mut b0, mut b1, mut b2, mut a1, mut a2] = self.filter;
        let [b0_step, b1_step, b2_step, a1_step, a2_step] = self.filter_step;
        let [mut first, mut second] = self.memory;
        for sound in sound {
            let x = *sound;
            let out = b0 * x + first;
            first = (b1 * x + second) - a1 * out;
            second = b2 * x - a2 * out;
            *sound = out;
            if MOVING {
                (b0, b1, b2) = (b0 + b0_step, b1 + b1_step, b2 + b2_step);
                (a1, a2) = (a1 + a1_step, a2 + a2_step);
            }
        }
        self.filter = [b0, b1, b2, a1, a2];
        self.memory = [first, second];
    }

    /// Adds to two sums: both sides, or both sends.
    fn add<const FIRST: usize>(&mut self, sound: &[Lane<N>], frames: &mut [Frame]) {
        let (mut one, mut other) = (self.gains[FIRST], self.gains[FIRST + 1]);
        let (one_step, other_step) = (self.gain_steps[FIRST], self.gain_steps[FIRST + 1]);
        for (sound, frame) in sound.iter().zip(frames) {
            (one, other) = (one + one_step, other + other_step);
            fold(&mut frame[FIRST], *sound * one);
            fold(&mut frame[FIRST + 1], *sound * other);
        }
        self.gains[FIRST] = one;
        self.gains[FIRST + 1] = other;
    }
}

/// Adds the lanes of a group to the lanes of a sum.
#[inline(always)]
fn fold<const N: usize>(sum: &mut Lane<WIDTH>, part: Lane<N>) {
    for (index, value) in part.0.into_iter().enumerate() {
        sum.0[index % WIDTH] += value;
    }
}

/// The curve through four samples that passes through the middle two in the direction of their neighbours (cubic Hermite,
/// E. Catmull and R. Rom 1974), between the middle two.
#[inline(always)]
fn interpolated<const N: usize>(at: &[u32; N], windows: &[Window; N]) -> Lane<N> {
    let [mut t0, mut t1, mut t2, mut t3] = [Lane::<N>::ZERO; 4];
    let mut x = Lane::<N>::ZERO;
    for voice in 0..N {
        let place = (at[voice] >> 24) as usize;
        let window = &windows[voice];
        t0.0[voice] = window[place];
        t1.0[voice] = window[place + 1];
        t2.0[voice] = window[place + 2];
        t3.0[voice] = window[place + 3];
    }
    for (x, at) in x.0.iter_mut().zip(at) {
        *x = (at & 0xFF_FFFF) as i32 as f32 * (1.0 / 16_777_216.0);
    }
    let (half, three_halves) = (Lane::all(0.5), Lane::all(1.5));
    let slope = (t2 - t0) * half;
    let cubic = (t1 - t2) * three_halves + (t3 - t0) * half;
    let square = (t2 - t1) - (slope + cubic);
    ((cubic * x + square) * x + slope) * x + t1
}
