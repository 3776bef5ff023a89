//! Watches an input while the band is silent, and tells now and then what it is like.

use crate::device::InputReport;
use crate::listen::{InputCheck, InputSetup};

/// What the box plays louder than this may be in the input.
const BAND: f32 = 1e-4;
/// So long it rings on in a room.
const RINGS_S: f32 = 0.5;
/// How often it is told.
const TELL_S: f32 = 0.5;
/// After so long, and once it is sure, it looks anew: somebody turns knobs meanwhile.
const ANEW_S: f32 = 8.0;

/// One input, watched.
pub struct InputWatch {
    setup: InputSetup,
    check: InputCheck,
    /// The last report that was sure.
    sure: Option<InputReport>,
    silent_frames: u64,
    untold_frames: u64,
}

impl InputWatch {
    /// Nothing was heard yet.
    pub fn new(setup: InputSetup) -> InputWatch {
        InputWatch {
            setup,
            check: InputCheck::new(setup),
            sure: None,
            silent_frames: u64::MAX,
            untold_frames: 0,
        }
    }

    fn frames(&self, seconds: f32) -> u64 {
        (seconds * self.setup.rate as f32) as u64
    }

    /// Listens to a block, with what was played meanwhile beside it; gives what is known, twice a second.
    pub fn push(&mut self, sound: &[f32], played: &[f32]) -> Option<InputReport> {
        let count = sound.len() as u64;
        self.silent_frames = match played.iter().any(|sample| sample.abs() > BAND) {
            true => 0,
            false => self.silent_frames.saturating_add(count),
        };
        if self.silent_frames < self.frames(RINGS_S) {
            return None;
        }
        self.check.push(sound);
        self.untold_frames += count;
        if self.untold_frames < self.frames(TELL_S) {
            return None;
        }
        self.untold_frames = 0;
        let report = self.check.report();
        if report.is_sure {
            self.sure = Some(report);
            if report.listened_s > ANEW_S {
                self.check = InputCheck::new(self.setup);
            }
        }
        // What clips is told at once; else what was sure stands until something else is.
        match self.sure {
            Some(sure) if report.clipped == 0 => Some(sure),
            _ => Some(report),
        }
    }
}
