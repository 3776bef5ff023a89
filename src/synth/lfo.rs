//! The low-frequency oscillators: triangles that begin upwards after a delay (SoundFont 2.04, generators 21 to 24).

use super::output::BLOCK_FRAMES;
use super::units::{hz, seconds_or_none};

/// An oscillator, moved a block at a time.
#[derive(Debug, Clone)]
pub(super) struct Lfo {
    delay_frames: f32,
    /// From 0 to 1.
    phase: f32,
    step: f32,
}

impl Lfo {
    pub(super) fn new(delay_timecents: f32, cents: f32, rate: f32) -> Lfo {
        Lfo {
            delay_frames: seconds_or_none(delay_timecents) * rate,
            phase: 0.0,
            step: (hz(cents) * BLOCK_FRAMES as f32 / rate).min(0.5),
        }
    }

    /// Where it stands at the end of the next block, from -1 to 1.
    pub(super) fn advance(&mut self) -> f32 {
        if self.delay_frames > 0.0 {
            self.delay_frames -= BLOCK_FRAMES as f32;
            return 0.0;
        }
        self.phase += self.step;
        if self.phase >= 1.0 {
            self.phase -= 1.0;
        }
        match self.phase {
            phase if phase < 0.25 => 4.0 * phase,
            phase if phase < 0.75 => 2.0 - 4.0 * phase,
            phase => 4.0 * phase - 4.0,
        }
    }
}
