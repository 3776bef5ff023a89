//! An ear on a stream that may have gaps: what it finds, told on the frames of the audio clock.

use super::ear::Ear;
use super::found::{Found, Heard, PitchReading};
use super::setup::{Instrument, Setup};
use std::collections::VecDeque;

/// Places that are kept: no note is longer in naming than a few gaps.
const KEPT: usize = 8;

/// Where a run without gaps begins: the ear's frame and the clock's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct SoundRun {
    heard: u64,
    frame: u64,
}

/// Listens to blocks that say on which frame they begin. A gap is left out: the ear hears the next sample after it, so
/// that it is no silence and no stroke, and tells all frames as they were.
pub struct Stream {
    setup: Setup,
    ear: Ear,
    heard: u64,
    next: Option<u64>,
    runs: VecDeque<SoundRun>,
    /// How loud the player is known to be.
    level_db: Option<f32>,
}

impl Stream {
    /// A stream of which nothing was heard yet.
    pub fn new(setup: Setup) -> Stream {
        Stream {
            setup,
            ear: Ear::new(setup),
            heard: 0,
            next: None,
            runs: VecDeque::with_capacity(KEPT),
            level_db: None,
        }
    }

    /// The player is known to be so loud; see [`Ear::expect`].
    pub fn expect(&mut self, level_db: Option<f32>) {
        self.level_db = level_db;
        level_db.into_iter().for_each(|db| self.ear.expect(db));
    }

    /// Nothing was heard yet, but what is known of the player.
    fn begin_anew(&mut self, setup: Setup) {
        let level_db = self.level_db;
        *self = Stream::new(setup);
        self.expect(level_db);
    }

    /// Listens for another instrument from now on; what sounds now is forgotten.
    pub fn listen_for(&mut self, instrument: Instrument) {
        if instrument != self.setup.instrument {
            self.begin_anew(Setup {
                instrument,
                ..self.setup
            });
        }
    }

    /// Listens to a block that begins on `frame`; see [`Ear::push`]. A step back is a new stream.
    pub fn push(
        &mut self,
        frame: u64,
        sound: &[f32],
        band: Option<&[f32]>,
        out: &mut impl FnMut(Found),
    ) {
        if self.next.is_some_and(|next| frame < next) {
            self.begin_anew(self.setup);
        }
        if self.next != Some(frame) {
            if self.runs.len() == KEPT {
                self.runs.pop_front();
            }
            let heard = self.heard;
            self.runs.push_back(SoundRun { heard, frame });
        }
        self.next = Some(frame + sound.len() as u64);
        self.heard += sound.len() as u64;
        let Stream { ear, runs, .. } = self;
        let on = |heard: u64| {
            let run = runs.iter().rev().find(|run| run.heard <= heard);
            run.or(runs.front())
                .map_or(heard, |run| (run.frame + heard).saturating_sub(run.heard))
        };
        ear.push(sound, band, &mut |found| {
            out(match found {
                Found::Reading(reading) => Found::Reading(PitchReading {
                    at: on(reading.at),
                    ..reading
                }),
                Found::Named(heard) => Found::Named(Heard {
                    onset: on(heard.onset),
                    onset_known: on(heard.onset_known),
                    known: on(heard.known),
                    ..heard
                }),
                Found::Ended { off } => Found::Ended { off: on(off) },
            });
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    /// A stroke of a string at 220 Hz from `from` on.
    fn sample(from: u64, at: u64) -> f32 {
        if at < from {
            return 0.0;
        }
        let t = (at - from) as f32 / RATE as f32;
        let tone = |h: f32| (std::f32::consts::TAU * 220.0 * h * t).sin() / h;
        0.2 * (-3.0 * t).exp() * (tone(1.0) + tone(2.0) + tone(3.0))
    }

    #[test]
    fn notes_are_told_on_the_frames_of_the_clock_over_gaps() {
        // Blocks that are lost before the note; where the stream begins.
        for (lost, base) in [(0..0u64, 0u64), (40..60, 7_000_000), (10..11, 5)] {
            let mut stream = Stream::new(Setup {
                rate: RATE,
                instrument: Instrument::Guitar,
                a4_hz: 440.0,
                lowest_hz: 0.0,
            });
            let mut onsets = Vec::new();
            for block in (0..400u64).filter(|block| !lost.contains(block)) {
                let sound: Vec<f32> = (0..128).map(|n| sample(20_000, block * 128 + n)).collect();
                stream.push(base + block * 128, &sound, None, &mut |found| {
                    if let Found::Named(heard) = found {
                        onsets.push((heard.onset, heard.midi));
                    }
                });
            }
            let [(onset, 57)] = onsets[..] else {
                panic!("{lost:?}: {onsets:?}");
            };
            assert!(onset.abs_diff(base + 20_000) < 240, "{lost:?}: {onset}");
        }
    }

    #[test]
    fn a_clock_that_steps_back_is_a_new_stream() {
        let mut stream = Stream::new(Setup {
            rate: RATE,
            instrument: Instrument::Guitar,
            a4_hz: 440.0,
            lowest_hz: 0.0,
        });
        let mut newest = 0;
        for frame in [1_000_000u64, 1_000_512, 300] {
            stream.push(frame, &[0.0; 512], None, &mut |found| {
                if let Found::Reading(reading) = found {
                    newest = reading.at;
                }
            });
        }
        assert!((300..=812).contains(&newest), "{newest}");
    }
}
