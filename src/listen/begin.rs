//! The moment at which a sound that has just risen began.

use super::history::History;

/// The peaks of the sound in blocks of half a millisecond.
#[derive(Debug, Clone)]
pub(super) struct Envelope {
    peaks: History,
    block: usize,
    filled: usize,
    peak: f32,
}

/// How far back a beginning is looked for: 22 ms, in blocks.
const BACK: usize = 44;
/// What is taken as the sound before it: 14 to 30 ms ago.
const BEFORE: std::ops::Range<usize> = 28..60;
/// A beginning is at the latest where the sound comes within 28 dB of its peak so far.
const UNDER_PEAK: f32 = 0.04;

impl Envelope {
    pub(super) fn new(rate: f32) -> Envelope {
        Envelope {
            peaks: History::new(BEFORE.end),
            block: ((rate * 0.0005) as usize).max(1),
            filled: 0,
            peak: 0.0,
        }
    }

    pub(super) fn extend(&mut self, mut sound: &[f32]) {
        while !sound.is_empty() {
            let (now, later) = sound.split_at(sound.len().min(self.block - self.filled));
            self.peak = now.iter().fold(self.peak, |peak, x| peak.max(x.abs()));
            self.filled += now.len();
            if self.filled == self.block {
                self.peaks.push(self.peak);
                (self.filled, self.peak) = (0, 0.0);
            }
            sound = later;
        }
    }

    /// How many samples before the newest one the sound began: where it rose over what was there before.
    pub(super) fn began(&self) -> u64 {
        let all = self.peaks.newest(BEFORE.end);
        let count = all.len();
        let loudest = |peaks: &[f32]| peaks.iter().fold(0.0_f32, |a, &b| a.max(b));
        let peak = loudest(&all[count - 16..]);
        let before = loudest(&all[count - BEFORE.end..count - BEFORE.start]);
        let threshold = (before * 1.15).clamp(peak * UNDER_PEAK, peak * 0.5);
        let (mut first, mut quiet) = (count - 1, 0);
        for at in (count - BACK..count).rev() {
            if all[at] >= threshold {
                (first, quiet) = (at, 0);
            } else {
                quiet += 1;
                if quiet > 3 && at < count - 6 {
                    break;
                }
            }
        }
        ((count - first) * self.block + self.filled) as u64
    }
}
