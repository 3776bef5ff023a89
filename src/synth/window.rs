//! A voice's way through its samples: a window of them at a time, in which no loop and no sample ends.

use super::zones::Wave;

/// How many samples a window lets a voice move on by.
pub(super) const WINDOW: usize = 256;
/// A window: one sample before the first, two after the last, and one to make it even.
pub(super) type Window = [f32; WINDOW + 4];

/// Where a voice is in its samples.
#[derive(Debug, Clone)]
pub(super) struct Track {
    /// In samples, with 32 bits of fraction.
    pub(super) at: u64,
    pub(super) step: u64,
    /// Whether the loop is still repeated.
    pub(super) loops: bool,
    pub(super) wave: Wave,
}

impl Track {
    /// Frames until the window's end, from a fraction of 24 bits and a step of as many.
    pub(super) fn frames_in_window(&self) -> usize {
        let step = (self.step >> 8).max(1);
        let room = ((WINDOW as u64) << 24) - 1 - self.fraction();
        usize::try_from(room / step).unwrap_or(usize::MAX) + 1
    }

    /// The fraction of the place, in 24 bits.
    pub(super) fn fraction(&self) -> u64 {
        (self.at & 0xFFFF_FFFF) >> 8
    }

    /// Fills the part of a window that the next `frames` need.
    pub(super) fn fill(&self, window: &mut Window, samples: &[i16], frames: usize) {
        let moved = self.fraction() + (self.step >> 8) * frames as u64;
        let needed = ((moved >> 24) as usize + 4).min(window.len());
        let (window, _) = window.split_at_mut(needed);
        let Some((before, mut rest)) = window.split_first_mut() else {
            return;
        };
        let mut at = (self.at >> 32) as u32;
        let earlier = at.saturating_sub(1).max(self.wave.start);
        *before = samples
            .get(earlier as usize)
            .map_or(0.0, |sample| f32::from(*sample));
        while !rest.is_empty() {
            let end = if self.loops {
                at = self.wrapped(at);
                self.wave.loop_end
            } else {
                self.wave.end
            };
            let run = samples.get(at as usize..end as usize).unwrap_or_default();
            if run.is_empty() {
                return rest.fill(0.0);
            }
            let count = run.len().min(rest.len());
            let (now, later) = rest.split_at_mut(count);
            now.iter_mut()
                .zip(run)
                .for_each(|(to, from)| *to = f32::from(*from));
            rest = later;
            at += count as u32;
        }
    }

    /// Moves on.
    pub(super) fn advance(&mut self, frames: usize) {
        self.at += self.step * frames as u64;
        if self.loops {
            let whole = self.wrapped((self.at >> 32) as u32);
            self.at = u64::from(whole) << 32 | self.at & 0xFFFF_FFFF;
        }
    }

    /// Whether the sample is over.
    pub(super) fn has_ended(&self) -> bool {
        !self.loops && self.at >> 32 >= u64::from(self.wave.end)
    }

    fn wrapped(&self, at: u32) -> u32 {
        let Wave {
            loop_start,
            loop_end,
            ..
        } = self.wave;
        if at < loop_end {
            at
        } else {
            loop_start + (at - loop_start) % (loop_end - loop_start).max(1)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The samples that a window begins with, a step of one on, from a place.
    fn seen(at: u32, loops: bool) -> [f32; 8] {
        let samples: Vec<i16> = (0..10).collect();
        let track = Track {
            at: u64::from(at) << 32,
            step: 1 << 32,
            loops,
            wave: Wave {
                start: 2,
                end: 9,
                loop_start: 4,
                loop_end: 7,
                rate_hz: 48_000,
                root_key: 60,
                correction_cents: 0,
            },
        };
        let mut window = [-1.0; WINDOW + 4];
        track.fill(&mut window, &samples, 4);
        *window.first_chunk().expect("eight samples")
    }

    #[test]
    fn a_window_shows_a_loop_as_often_as_it_passes_and_silence_behind_the_end() {
        for (at, loops, samples) in [
            (2, false, [2.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]),
            (6, false, [5.0, 6.0, 7.0, 8.0, 0.0, 0.0, 0.0, 0.0]),
            (3, true, [2.0, 3.0, 4.0, 5.0, 6.0, 4.0, 5.0, 6.0]),
            (6, true, [5.0, 6.0, 4.0, 5.0, 6.0, 4.0, 5.0, 6.0]),
        ] {
            assert_eq!(seen(at, loops), samples, "{at} {loops}");
        }
    }
}
