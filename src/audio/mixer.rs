//! Levels without jumps, and the limiter that stands before every output.

/// Frames of a sub-block.
pub const BLOCK_FRAMES: usize = 64;
/// At or below this level, in dB, there is silence.
pub const SILENT_DB: f32 = -90.0;
/// The highest level, in dB; more is clamped.
pub const MAX_DB: f32 = 6.0;

/// The gain of a level in dB: silence at or below [`SILENT_DB`] and for what is not a number, clamped at
/// [`MAX_DB`].
pub fn db_to_gain(db: f32) -> f32 {
    if db > SILENT_DB {
        10f32.powf(db.min(MAX_DB) / 20.0)
    } else {
        0.0
    }
}

/// A gain that moves to its target in a straight line.
#[derive(Debug, Clone)]
pub(crate) struct Ramp {
    now: f32,
    target: f32,
    step: f32,
    left: u32,
}

impl Ramp {
    /// A gain at rest.
    pub(crate) fn new(gain: f32) -> Ramp {
        Ramp {
            now: gain,
            target: gain,
            step: 0.0,
            left: 0,
        }
    }

    /// Moves to `gain` in `frames` (at least one).
    pub(crate) fn to(&mut self, gain: f32, frames: u32) {
        self.target = gain;
        self.left = frames.max(1);
        self.step = (gain - self.now) / self.left as f32;
    }

    /// The gain of the frame before.
    pub(crate) fn now(&self) -> f32 {
        self.now
    }

    /// The gain of the next frame.
    pub(crate) fn next(&mut self) -> f32 {
        if self.left > 0 {
            self.left -= 1;
            self.now = if self.left == 0 {
                self.target
            } else {
                self.now + self.step
            };
        }
        self.now
    }

    /// Moves `frames` on at once and gives the gain there.
    pub(crate) fn skip(&mut self, frames: u32) -> f32 {
        if frames >= self.left {
            self.left = 0;
            self.now = self.target;
        } else {
            self.left -= frames;
            self.now += self.step * frames as f32;
        }
        self.now
    }

    /// Multiplies a block, frame by frame.
    pub(crate) fn apply(&mut self, block: &mut [f32]) {
        if self.left == 0 {
            if self.now != 1.0 {
                block.iter_mut().for_each(|sample| *sample *= self.now);
            }
        } else {
            block.iter_mut().for_each(|sample| *sample *= self.next());
        }
    }

    /// Multiplies both sides of a stereo block by the same gains.
    pub(crate) fn apply_stereo(&mut self, left: &mut [f32], right: &mut [f32]) {
        let mut twin = self.clone();
        twin.apply(left);
        self.apply(right);
    }
}

/// The highest magnitude that leaves an output: -2 dBFS, so that what a converter makes of it between the samples stays below
/// -1 dB.
pub(crate) const CEILING: f32 = 0.794_33;
/// How fast the limiter lets go.
const RELEASE_MS: f32 = 80.0;

/// A peak limiter without look-ahead: it pulls the gain down within the frame that needs it and lets go
/// slowly. Below the ceiling the samples pass bit for bit. Its state moves frame by frame, so the block size
/// does not matter.
#[derive(Debug, Clone)]
pub(crate) struct Limiter {
    gain: f32,
    release: f32,
}

impl Limiter {
    /// A limiter for a clock of `rate` frames a second.
    pub(crate) fn new(rate: u32) -> Limiter {
        Limiter {
            gain: 1.0,
            release: 1.0 - (-1000.0 / (RELEASE_MS * rate as f32)).exp(),
        }
    }

    /// Limits both sides by the same gain, so that the picture does not move.
    pub(crate) fn stereo(&mut self, left: &mut [f32], right: &mut [f32]) {
        if self.is_idle(peak_bits(left).max(peak_bits(right))) {
            return;
        }
        for (left, right) in left.iter_mut().zip(&mut *right) {
            let gain = self.step(left.abs().max(right.abs()));
            *left = held(*left, gain);
            *right = held(*right, gain);
        }
    }

    /// Limits one channel.
    pub(crate) fn mono(&mut self, block: &mut [f32]) {
        if self.is_idle(peak_bits(block)) {
            return;
        }
        for sample in &mut *block {
            let gain = self.step(sample.abs());
            *sample = held(*sample, gain);
        }
    }

    /// Whether a block of this peak passes untouched: the usual case, which costs one look at each sample.
    fn is_idle(&self, peak_bits: u32) -> bool {
        self.gain == 1.0 && peak_bits <= CEILING.to_bits()
    }

    fn step(&mut self, peak: f32) -> f32 {
        if self.gain < 1.0 {
            self.gain += (1.0 - self.gain) * self.release;
            if self.gain > 0.999_99 {
                self.gain = 1.0;
            }
        }
        if peak * self.gain > CEILING {
            self.gain = CEILING / peak;
        }
        self.gain
    }
}

/// The bits of the greatest magnitude. The bits of magnitudes order as the magnitudes do, infinity and what
/// is not a number above all; as integers they are compared many at a time.
fn peak_bits(block: &[f32]) -> u32 {
    let magnitude = |sample: &f32| (sample.to_bits() & 0x7FFF_FFFF) as i32;
    block.iter().map(magnitude).fold(0, i32::max) as u32
}

/// What is not a number, or rounds above the ceiling, does not leave.
fn held(sample: f32, gain: f32) -> f32 {
    let out = sample * gain;
    if out.is_finite() {
        out.clamp(-CEILING, CEILING)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn decibels_become_gains() {
        // 20 log10 of an amplitude ratio (ISO 80000-3): 6.02 dB is twice.
        for (db, gain) in [
            (0.0, 1.0),
            (-20.0, 0.1),
            (-6.0206, 0.5),
            (6.0, 1.9953),
            (40.0, 1.9953),
            (-90.0, 0.0),
            (f32::NEG_INFINITY, 0.0),
            (f32::NAN, 0.0),
        ] {
            assert!((db_to_gain(db) - gain).abs() < 1e-4, "{db}");
        }
        assert!((20.0 * CEILING.log10() + 2.0).abs() < 1e-3);
    }

    #[test]
    fn a_ramp_has_no_jump_and_arrives() {
        let mut ramp = Ramp::new(0.0);
        ramp.to(1.0, 100);
        let mut last = 0.0;
        for _ in 0..100 {
            let now = ramp.next();
            assert!((now - last).abs() < 0.0101);
            last = now;
        }
        assert_eq!(last, 1.0);
        assert_eq!(ramp.next(), 1.0);
    }

    #[test]
    fn up_to_three_decibels_below_full_scale_the_limiter_is_not_there() {
        // -3 dBFS: 0.7079.
        let quiet: Vec<f32> = (0..1000).map(|n| 0.7079 * (n as f32 * 0.1).sin()).collect();
        let (mut left, mut right) = (quiet.clone(), quiet.clone());
        Limiter::new(48_000).stereo(&mut left, &mut right);
        assert_eq!((left, right), (quiet.clone(), quiet));
    }

    proptest! {
        #[test]
        fn nothing_above_the_ceiling_leaves_and_blocks_do_not_matter(
            samples in proptest::collection::vec(any::<f32>(), 1..300),
            cut in 0usize..300,
        ) {
            let mut whole = samples.clone();
            Limiter::new(48_000).mono(&mut whole);
            prop_assert!(whole.iter().all(|s| s.abs() <= CEILING));
            let mut parts = samples.clone();
            let cut = cut.min(parts.len());
            let mut limiter = Limiter::new(48_000);
            let (first, second) = parts.split_at_mut(cut);
            limiter.mono(first);
            limiter.mono(second);
            prop_assert_eq!(whole, parts);
        }
    }
}
