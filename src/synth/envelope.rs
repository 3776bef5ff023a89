//! The two envelopes of a voice (SoundFont 2.04, section 8.1.2, generators 25 to 40), moved a block at a time.

use super::curve::convex;
use super::generator::{COUNT, id};
use super::output::BLOCK_FRAMES;
use super::units::{attenuated, seconds, seconds_or_none};

/// Full attenuation is 100 dB: as an exponent of 2.
const FULL: f32 = -16.609_64;
/// Below this a sound has ended: 100 dB.
const ENDED: f32 = 1e-5;
/// The shortest release: at the standard's least value, a millisecond, each end would be a click.
const MIN_RELEASE_S: f32 = 0.01;
/// How fast a voice ends whose exclusive class is struck again: "rapidly" (section 8.1.2, generator 57).
const CHOKE_S: f32 = 0.04;
const BLOCK: f32 = BLOCK_FRAMES as f32;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    Delay,
    Attack,
    Hold,
    Decay,
    Sustain,
    Release,
}

/// Lengths in frames, and the sustained level from 0 to 1.
#[derive(Debug, Clone, Copy)]
struct Shape {
    delay: f32,
    attack: f32,
    hold: f32,
    decay: f32,
    sustain: f32,
    release: f32,
}

/// The numbers of an envelope's generators.
struct Numbers {
    first: usize,
    key_to_hold: usize,
    key_to_decay: usize,
}

impl Shape {
    /// `key` makes hold and decay longer or shorter, from 60 on (generators 31, 32, 39 and 40).
    fn of(sums: &[f32; COUNT], numbers: &Numbers, key: u8, rate: f32) -> Shape {
        let at = |generator: usize| sums.get(generator).copied().unwrap_or(0.0);
        let up = 60.0 - f32::from(key);
        let first = numbers.first;
        let hold = at(first + 2);
        let hold = if hold <= -12_000.0 {
            hold
        } else {
            hold + up * at(numbers.key_to_hold)
        };
        let decay = at(first + 3) + up * at(numbers.key_to_decay);
        Shape {
            delay: seconds_or_none(at(first)) * rate,
            attack: (seconds(at(first + 1)) * rate).max(1.0),
            hold: seconds_or_none(hold.min(5_000.0)) * rate,
            decay: (seconds(decay.min(8_000.0)) * rate).max(1.0),
            sustain: at(first + 4),
            release: (seconds(at(first + 5)).max(MIN_RELEASE_S) * rate).max(1.0),
        }
    }
}

/// The volume envelope: rises in amplitude, falls in decibels, by 100 dB in the time of decay or release.
#[derive(Debug, Clone)]
pub(super) struct VolumeEnvelope {
    stage: Stage,
    /// Frames left of delay or hold.
    left: f32,
    level: f32,
    shape: Shape,
    /// The factor of a whole block of decay and of release.
    decay: f32,
    release: f32,
}

impl VolumeEnvelope {
    pub(super) fn new(sums: &[f32; COUNT], key: u8, rate: f32) -> VolumeEnvelope {
        let numbers = Numbers {
            first: id::VOL_ENV_DELAY,
            key_to_hold: id::KEY_TO_VOL_ENV_HOLD,
            key_to_decay: id::KEY_TO_VOL_ENV_DECAY,
        };
        let mut shape = Shape::of(sums, &numbers, key, rate);
        // In centibels here; from 1000 on nothing is left.
        shape.sustain = if shape.sustain >= 1000.0 {
            0.0
        } else {
            attenuated(shape.sustain)
        };
        VolumeEnvelope {
            stage: Stage::Delay,
            left: shape.delay,
            level: 0.0,
            shape,
            decay: (FULL * BLOCK / shape.decay).exp2(),
            release: (FULL * BLOCK / shape.release).exp2(),
        }
    }

    /// The level at the end of the next block.
    pub(super) fn advance(&mut self) -> f32 {
        let mut frames = BLOCK;
        if self.stage == Stage::Delay {
            frames = self.wait(frames, Stage::Attack);
        }
        if self.stage == Stage::Attack && frames > 0.0 {
            let needed = (1.0 - self.level) * self.shape.attack;
            if needed > frames {
                self.level += frames / self.shape.attack;
                frames = 0.0;
            } else {
                frames -= needed;
                self.level = 1.0;
                self.stage = Stage::Hold;
                self.left = self.shape.hold;
            }
        }
        if self.stage == Stage::Hold && frames > 0.0 {
            frames = self.wait(frames, Stage::Decay);
        }
        match self.stage {
            Stage::Decay if frames > 0.0 => {
                self.level *= if frames == BLOCK {
                    self.decay
                } else {
                    (FULL * frames / self.shape.decay).exp2()
                };
                if self.level <= self.shape.sustain {
                    self.level = self.shape.sustain;
                    self.stage = Stage::Sustain;
                }
            }
            Stage::Release => self.level *= self.release,
            _ => {}
        }
        self.level
    }

    /// Waits out delay or hold; gives what is left of the block.
    fn wait(&mut self, frames: f32, then: Stage) -> f32 {
        if self.left >= frames {
            self.left -= frames;
            return 0.0;
        }
        let frames = frames - self.left;
        self.stage = then;
        frames
    }

    pub(super) fn let_go(&mut self) {
        self.stage = Stage::Release;
    }

    /// Ends the sound fast.
    pub(super) fn choke(&mut self, rate: f32) {
        self.stage = Stage::Release;
        self.release = self.release.min((FULL * BLOCK / (CHOKE_S * rate)).exp2());
    }

    /// Whether the sound has yet to begin.
    pub(super) fn is_waiting(&self) -> bool {
        self.stage == Stage::Delay
    }

    pub(super) fn level(&self) -> f32 {
        self.level
    }

    /// Whether it only falls from here on.
    pub(super) fn is_falling(&self) -> bool {
        matches!(self.stage, Stage::Decay | Stage::Sustain | Stage::Release)
    }

    /// Whether nothing more will be heard.
    pub(super) fn has_ended(&self) -> bool {
        self.is_falling() && self.level < ENDED
    }
}

/// The modulation envelope: rises by the convex shape, falls in a straight line, all of it in the time of decay or release.
#[derive(Debug, Clone)]
pub(super) struct ModulationEnvelope {
    stage: Stage,
    left: f32,
    /// The straight line's level.
    level: f32,
    shape: Shape,
}

impl ModulationEnvelope {
    pub(super) fn new(sums: &[f32; COUNT], key: u8, rate: f32) -> ModulationEnvelope {
        let numbers = Numbers {
            first: id::MOD_ENV_DELAY,
            key_to_hold: id::KEY_TO_MOD_ENV_HOLD,
            key_to_decay: id::KEY_TO_MOD_ENV_DECAY,
        };
        let mut shape = Shape::of(sums, &numbers, key, rate);
        // In tenths of a per cent that it falls.
        shape.sustain = 1.0 - shape.sustain / 1000.0;
        ModulationEnvelope {
            stage: Stage::Delay,
            left: shape.delay,
            level: 0.0,
            shape,
        }
    }

    /// The level at the end of the next block.
    pub(super) fn advance(&mut self) -> f32 {
        self.left -= BLOCK;
        match self.stage {
            Stage::Delay if self.left < 0.0 => {
                self.stage = Stage::Attack;
                self.level = -self.left / self.shape.attack;
            }
            Stage::Attack => self.level += BLOCK / self.shape.attack,
            Stage::Hold if self.left < 0.0 => {
                self.stage = Stage::Decay;
                self.level += self.left / self.shape.decay;
            }
            Stage::Decay => self.level -= BLOCK / self.shape.decay,
            Stage::Release => self.level = (self.level - BLOCK / self.shape.release).max(0.0),
            _ => {}
        }
        if self.stage == Stage::Attack && self.level >= 1.0 {
            self.stage = Stage::Hold;
            self.left = self.shape.hold - (self.level - 1.0) * self.shape.attack;
            self.level = 1.0;
        }
        if self.stage == Stage::Decay && self.level <= self.shape.sustain {
            self.stage = Stage::Sustain;
            self.level = self.shape.sustain;
        }
        match self.stage {
            Stage::Attack => convex(127.0 * self.level),
            _ => self.level,
        }
    }

    pub(super) fn let_go(&mut self) {
        if self.stage == Stage::Attack {
            self.level = convex(127.0 * self.level);
        }
        self.stage = Stage::Release;
    }
}

#[cfg(test)]
mod tests {
    use super::super::generator::DEFAULTS;
    use super::*;

    #[test]
    fn the_volume_envelope_takes_the_times_of_the_standard() {
        // Section 8.1.2, generators 33 to 38: the delay, a rise in amplitude, the hold, then 100 dB in the time of decay, as far
        // as the sustained level, and 100 dB in the time of release. 1200 timecents are two seconds, 0 one, -1200 a half.
        let mut sums = DEFAULTS.map(f32::from);
        for (generator, amount) in [
            (id::VOL_ENV_DELAY, -1200.0),
            (id::VOL_ENV_ATTACK, 0.0),
            (id::VOL_ENV_HOLD, -1200.0),
            (id::VOL_ENV_DECAY, 1200.0),
            (id::VOL_ENV_SUSTAIN, 500.0),
            (id::VOL_ENV_RELEASE, 0.0),
        ] {
            sums[generator] = amount;
        }
        let rate = 64_000.0;
        let mut envelope = VolumeEnvelope::new(&sums, 60, rate);
        let levels: Vec<f32> = (0..3_500).map(|_| envelope.advance()).collect();
        envelope.let_go();
        let released: Vec<f32> = (0..600).map(|_| envelope.advance()).collect();
        // A block is a millisecond here; the levels are those at its end.
        let decibels = |level: f32| 20.0 * level.log10();
        for (ms, level) in [
            (499, 0.0),
            (750, 0.25),
            (1_000, 0.5),
            (1_500, 1.0),
            (1_999, 1.0),
        ] {
            assert!(
                (levels[ms - 1] - level).abs() < 1e-3,
                "{ms} {}",
                levels[ms - 1]
            );
        }
        for (ms, level) in [
            (2_200, -10.0),
            (2_600, -30.0),
            (3_000, -50.0),
            (3_400, -50.0),
        ] {
            assert!((decibels(levels[ms - 1]) - level).abs() < 0.1, "{ms}");
        }
        assert!((decibels(released[99]) + 60.0).abs() < 0.1);
        assert!(envelope.has_ended());
    }
}
