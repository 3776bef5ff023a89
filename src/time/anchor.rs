//! The exact bridge between ticks and frames.

use super::{Frame, PPQ, Tick, UsPerQuarter};

/// Parts a frame is divided into, so that every tick at every tempo and rate is a whole number of parts.
const PARTS: i128 = PPQ as i128 * 1_000_000;

/// A point where a tick and a (fractional) frame are known to coincide, with the tempo from there on.
///
/// All arithmetic is in whole numbers: moving the anchor from bar to bar adds no error at all, which is why
/// the sound does not depend on the block size and a take of ten hours ends on the right frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Anchor {
    tick: Tick,
    /// Frame of `tick`, in 1/PARTS of a frame.
    parts: i128,
    tempo: UsPerQuarter,
    rate: u32,
}

impl Anchor {
    /// An anchor at `frame` for `tick`, running at `tempo` on a clock of `rate` frames a second.
    pub fn new(tick: Tick, frame: Frame, tempo: UsPerQuarter, rate: u32) -> Anchor {
        Anchor {
            tick,
            parts: i128::from(frame.0) * PARTS,
            tempo,
            rate,
        }
    }

    /// The frame on which `tick` sounds (nearest; ticks before the clock's zero give frame zero).
    pub fn frame(&self, tick: Tick) -> Frame {
        let parts = self.parts_at(tick);
        Frame(u64::try_from((parts + PARTS / 2).div_euclid(PARTS)).unwrap_or(0))
    }

    /// The last tick that sounds on or before `frame`.
    pub fn tick(&self, frame: Frame) -> Tick {
        // Half a frame forward, because frame() rounds to the nearest.
        let parts = i128::from(frame.0) * PARTS + PARTS / 2 - self.parts;
        let per_tick = self.parts_per_tick().max(1);
        let mut tick = Tick(self.tick.0 + parts.div_euclid(per_tick) as i64);
        while self.frame(tick) > frame {
            tick.0 -= 1;
        }
        tick
    }

    /// The same time line, re-anchored at `tick` and running at `tempo` from there.
    pub fn moved_to(&self, tick: Tick, tempo: UsPerQuarter) -> Anchor {
        Anchor {
            tick,
            parts: self.parts_at(tick),
            tempo,
            rate: self.rate,
        }
    }

    /// The same time line, so many frames later.
    pub fn delayed(&self, frames: i64) -> Anchor {
        Anchor {
            parts: self.parts + i128::from(frames) * PARTS,
            ..*self
        }
    }

    /// The tempo from this anchor on.
    pub fn tempo(&self) -> UsPerQuarter {
        self.tempo
    }

    /// The anchored tick.
    pub fn anchored_tick(&self) -> Tick {
        self.tick
    }

    /// Frames a second of the clock.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    fn parts_per_tick(&self) -> i128 {
        i128::from(self.tempo.0) * i128::from(self.rate)
    }

    fn parts_at(&self, tick: Tick) -> i128 {
        self.parts + i128::from(tick.0 - self.tick.0) * self.parts_per_tick()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(qpm: f64, rate: u32) -> Anchor {
        Anchor::new(Tick(0), Frame(0), UsPerQuarter::from_qpm(qpm), rate)
    }

    #[test]
    fn quarters_at_120_are_half_a_second() {
        // By arithmetic: 48,000 frames a second, 120 quarters a minute.
        for (quarter, frame) in [
            (0, 0),
            (1, 24_000),
            (2, 48_000),
            (1_000_000, 24_000_000_000u64),
        ] {
            assert_eq!(at(120.0, 48_000).frame(Tick(quarter * PPQ)), Frame(frame));
        }
    }

    #[test]
    fn moving_the_anchor_ten_thousand_times_adds_no_drift() {
        let straight = at(133.0, 44_100);
        let mut moved = straight;
        for bar in 1..=10_000 {
            moved = moved.moved_to(Tick(bar * 4 * PPQ), straight.tempo());
        }
        let far = Tick(10_001 * 4 * PPQ + 17);
        assert_eq!(moved.frame(far), straight.frame(far));
    }

    #[test]
    fn tick_is_the_inverse_of_frame() {
        for qpm in [30.0, 97.3, 120.0, 300.0] {
            let anchor = at(qpm, 48_000).moved_to(Tick(-3840), UsPerQuarter::from_qpm(qpm));
            let anchor = Anchor::new(Tick(-3840), Frame(1000), anchor.tempo(), 48_000);
            for tick in (-3840..20_000).step_by(37) {
                let back = anchor.tick(anchor.frame(Tick(tick)));
                assert!(
                    back.0 >= tick && anchor.frame(back) == anchor.frame(Tick(tick)),
                    "{qpm} {tick} {back:?}"
                );
            }
        }
    }
}
