//! From the clocks that sources stamp with to the server's frames.
//!
//! Three clocks count: the server's frames; the clock by which the server times its cycles (Debian's jackd 2 takes
//! CLOCK_MONOTONIC_RAW, others CLOCK_MONOTONIC); and the one that a source stamps with (kernel events:
//! CLOCK_MONOTONIC). The first two are tied by each cycle. The last two drift apart, for one of them is steered by
//! the network's time; they are read together now and then, and a line goes through the readings.
//!
//! # Why are both clocks read together each second?
//!
//! jackd counts CLOCK_MONOTONIC_RAW, the kernel stamps with
//! CLOCK_MONOTONIC, which the network's time steers: they drift by up to 0.5 ms a second. A line through the last sixteen
//! readings (`clock/map.rs`), each counting by how long it took, follows that; sources tell how long ago something was
//! and never how many frames, so that the server's rate may change.

use crate::time::Frame;
use arrayvec::ArrayVec;

/// Readings that are kept: at one a second the line follows a changed drift within a quarter of a minute.
const KEPT: usize = 16;
/// How far two clocks of one machine may run apart, in parts of one: a network's time steers by up to 500e-6.
const MOST_DRIFT: f64 = 1_000e-6;
/// Farther off the line than this, in microseconds beyond what is doubtful, a clock has been set.
const JUMP_US: f64 = 500.0;
/// No reading is surer than this, in microseconds.
const SUREST_US: f64 = 1.0;
/// Readings nearer together than this tell nothing of the drift, in microseconds.
const APART_US: f64 = 500_000.0;

/// A cycle's first frame and its time on the server's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockPoint {
    /// The frame.
    pub frame: Frame,
    /// Microseconds; which of the system's clocks this counts depends on the server's build.
    pub usecs: u64,
    /// Frames a second.
    pub rate: u32,
}

/// A source's clock and the server's, read together, in microseconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClockPair {
    pub source_us: f64,
    pub server_us: f64,
    /// How far they may have been apart in time.
    pub doubt_us: f64,
}

impl ClockPair {
    /// The source's clock was read between two readings of the server's.
    pub fn between(before_us: u64, source_us: f64, after_us: u64) -> ClockPair {
        let (before, after) = (before_us as f64, after_us as f64);
        ClockPair {
            source_us,
            server_us: before.midpoint(after),
            doubt_us: (after - before).abs() / 2.0,
        }
    }
}

/// How far the server's clock is ahead of a source's, and how that changes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Offsets {
    pairs: ArrayVec<ClockPair, KEPT>,
    /// The line: at this time of the source, so much ahead, growing so fast.
    at_us: f64,
    ahead_us: f64,
    drift: f64,
}

impl Offsets {
    /// Takes a reading. One that no drift explains begins anew: a clock was set, or it is another server.
    pub fn measure(&mut self, pair: ClockPair) {
        if let Some(expected) = self.server_us(pair.source_us) {
            let known = self
                .pairs
                .iter()
                .map(|pair| pair.doubt_us)
                .fold(0.0, f64::max);
            let since = (pair.source_us - self.at_us).abs();
            let most = JUMP_US + pair.doubt_us + known + MOST_DRIFT * since;
            if (pair.server_us - expected).abs() > most || pair.source_us < self.at_us {
                self.pairs.clear();
            }
        }
        if self.pairs.is_full() {
            self.pairs.remove(0);
        }
        self.pairs.push(pair);
        self.draw();
    }

    /// The server's time at a time of the source; none before a reading.
    pub fn server_us(&self, source_us: f64) -> Option<f64> {
        let known = !self.pairs.is_empty();
        known.then_some(source_us + self.ahead_us + self.drift * (source_us - self.at_us))
    }

    /// The source's time at a time of the server; none before a reading.
    pub fn source_us(&self, server_us: f64) -> Option<f64> {
        let known = !self.pairs.is_empty();
        let since = (server_us - self.at_us - self.ahead_us) / (1.0 + self.drift);
        known.then_some(self.at_us + since)
    }

    /// The line through the readings; each counts by how sure it is.
    fn draw(&mut self) {
        let (Some(first), Some(last)) = (self.pairs.first(), self.pairs.last()) else {
            return;
        };
        let (mut weights, mut x_sum, mut y_sum, mut xx_sum, mut xy_sum) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for pair in &self.pairs {
            let weight = pair.doubt_us.max(SUREST_US).powi(-2);
            let x = pair.source_us - last.source_us;
            let y = (pair.server_us - last.server_us) - x;
            weights += weight;
            x_sum += weight * x;
            y_sum += weight * y;
            xx_sum += weight * x * x;
            xy_sum += weight * x * y;
        }
        let spread = weights * xx_sum - x_sum * x_sum;
        self.drift = if last.source_us - first.source_us < APART_US || spread <= 0.0 {
            0.0
        } else {
            ((weights * xy_sum - x_sum * y_sum) / spread).clamp(-MOST_DRIFT, MOST_DRIFT)
        };
        self.at_us = last.source_us;
        self.ahead_us = last.server_us - last.source_us + (y_sum - self.drift * x_sum) / weights;
    }
}

/// From times of CLOCK_MONOTONIC to frames, with or without a server.
#[derive(Debug, Clone, PartialEq)]
pub struct ClockMap {
    point: ClockPoint,
    /// Without readings there is no server, and the point counts the source's own time.
    offsets: Offsets,
}

impl ClockMap {
    /// Without a server frames go on from `frame` at `now_us`, `rate` a second.
    pub fn new(frame: Frame, now_us: f64, rate: u32) -> ClockMap {
        ClockMap {
            point: ClockPoint {
                frame,
                usecs: now_us.max(0.0) as u64,
                rate,
            },
            offsets: Offsets::default(),
        }
    }

    /// A server's cycle. It counts once both clocks were read together.
    pub fn cycle(&mut self, point: ClockPoint) {
        if !self.offsets.pairs.is_empty() {
            self.point = point;
        }
    }

    /// The clocks were read together while the server stood at `point`.
    pub fn measure(&mut self, pair: ClockPair, point: ClockPoint) {
        self.offsets.measure(pair);
        self.point = point;
    }

    /// The server is gone: frames go on from here at its rate.
    pub fn leave(&mut self, now_us: f64) {
        let (frame, rate) = (self.frame_at(now_us), self.point.rate);
        *self = ClockMap::new(frame, now_us, rate);
    }

    /// The last frame that began at or before a time of CLOCK_MONOTONIC, in microseconds; before frame 0: 0.
    pub fn frame_at(&self, us: f64) -> Frame {
        let server_us = self.offsets.server_us(us).unwrap_or(us);
        let since_us = server_us - self.point.usecs as f64;
        let frames = (since_us * f64::from(self.point.rate) / 1e6).floor();
        let frame = self.point.frame.0.saturating_add_signed(frames as i64);
        Frame(frame)
    }

    /// When a frame begins, in microseconds of CLOCK_MONOTONIC.
    pub fn us_at(&self, frame: Frame) -> f64 {
        let frames = frame.0 as f64 - self.point.frame.0 as f64;
        let server_us = self.point.usecs as f64 + frames * 1e6 / f64::from(self.point.rate.max(1));
        self.offsets.source_us(server_us).unwrap_or(server_us)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn pair(source_us: f64, server_us: f64) -> ClockPair {
        ClockPair {
            source_us,
            server_us,
            doubt_us: 1.0,
        }
    }

    fn point(frame: u64, usecs: u64, rate: u32) -> ClockPoint {
        let frame = Frame(frame);
        ClockPoint { frame, usecs, rate }
    }

    #[test]
    fn times_become_frames() {
        // By arithmetic. The server's clock is 144 ms behind ours, as it was measured on one machine.
        for (rate, us, frame) in [
            (48_000, 10_144_000.0, 480_000),
            (48_000, 10_644_000.0, 504_000),
            (48_000, 10_143_990.0, 479_999),
            (44_100, 11_144_000.0, 524_100),
            (96_000, 10_145_000.0, 480_096),
            (48_000, 144_000.0, 0),
            (48_000, 0.0, 0),
        ] {
            let mut map = ClockMap::new(Frame(7), 0.0, 8_000);
            map.measure(
                pair(10_144_000.0, 10_000_000.0),
                point(480_000, 10_000_000, rate),
            );
            assert_eq!(map.frame_at(us), Frame(frame), "{rate} {us}");
        }
    }

    #[test]
    fn without_a_server_frames_go_on_at_the_last_rate() {
        let mut map = ClockMap::new(Frame(1_000), 2_000_000.0, 48_000);
        assert_eq!(map.frame_at(2_500_000.0), Frame(25_000));
        // A cycle alone says nothing: whose clock it counts is not known yet.
        map.cycle(point(5, 5, 44_100));
        assert_eq!(map.frame_at(2_500_000.0), Frame(25_000));
        map.measure(
            pair(3_000_000.0, 77_000_000.0),
            point(100_000, 77_000_000, 44_100),
        );
        map.cycle(point(100_441, 77_010_000, 44_100));
        assert_eq!(map.frame_at(3_010_000.0), Frame(100_441));
        map.leave(3_100_000.0);
        assert_eq!(map.frame_at(3_100_000.0), Frame(104_410));
        assert_eq!(map.frame_at(4_100_000.0), Frame(148_510));
    }

    #[test]
    fn a_reading_counts_by_how_sure_it_is() {
        let mut offsets = Offsets::default();
        for second in 0..10 {
            let us = f64::from(second) * 1e6;
            // Every third was interrupted for a millisecond.
            let late = if second % 3 == 1 { 1_000.0 } else { 0.0 };
            offsets.measure(ClockPair {
                source_us: us,
                server_us: us + 500.0 + late,
                doubt_us: 2.0 + late,
            });
        }
        let off = offsets.server_us(10e6).unwrap() - 10e6 - 500.0;
        assert!(off.abs() < 0.1, "{off}");
        let between = ClockPair::between(100, 777.0, 108);
        assert_eq!((between.server_us, between.doubt_us), (104.0, 4.0));
    }

    #[test]
    fn a_clock_that_was_set_is_believed_with_the_next_reading() {
        let mut offsets = Offsets::default();
        (0..5).for_each(|second| {
            offsets.measure(pair(f64::from(second) * 1e6, f64::from(second) * 1e6))
        });
        offsets.measure(pair(5e6, 3_605e6));
        assert_eq!(offsets.server_us(5.5e6), Some(3_605.5e6));
        offsets.measure(pair(1e6, 9e6));
        assert_eq!(offsets.server_us(2e6), Some(10e6));
    }

    proptest! {
        #[test]
        fn clocks_that_drift_are_followed(
            drift_ppm in -400.0..400.0f64,
            apart_us in -1e12..1e12f64,
            misread in prop::collection::vec(-1.0..1.0f64, 30),
        ) {
            let mut offsets = Offsets::default();
            let server = |us: f64| apart_us + us * (1.0 + drift_ppm / 1e6);
            for (second, misread) in (100u32..).zip(&misread) {
                let us = f64::from(second) * 1e6;
                // What was read may be off by all that is doubtful.
                let doubt_us = 5.0;
                offsets.measure(ClockPair { source_us: us, server_us: server(us) + misread * doubt_us, doubt_us });
                // Half a second back is the oldest stamp, a second on is the next reading.
                for then in [us - 0.5e6, us, us + 1e6] {
                    let off = (offsets.server_us(then).unwrap() - server(then)).abs();
                    // One reading alone knows no drift; two of them double their doubt in a second.
                    let most = if second == 100 { 405.0 } else { 20.0 };
                    prop_assert!(off <= most, "{} s: off by {off} us", second);
                }
            }
        }

        #[test]
        fn frames_and_times_go_both_ways_and_never_cross(
            rate in prop::sample::select(vec![22_050u32, 44_100, 48_000, 96_000, 192_000]),
            frame in 1u64 << 20..1 << 40,
            on in 0u64..200_000,
            drift_ppm in -400.0..400.0f64,
        ) {
            let mut map = ClockMap::new(Frame(0), 0.0, 48_000);
            let at = point(frame, 5_000_000_000, rate);
            map.measure(pair(1e9, 4_999_000_000.0), at);
            map.measure(pair(1.001e9, 4_999_000_000.0 + 1e6 * (1.0 + drift_ppm / 1e6)), at);
            let then = Frame(frame + on);
            let back = map.frame_at(map.us_at(then) + 0.01);
            prop_assert!(back.0.abs_diff(then.0) <= u64::from(rate > 96_000), "{back:?} {then:?}");
            prop_assert!(map.us_at(Frame(then.0 + 1)) > map.us_at(then));
            prop_assert!(map.frame_at(map.us_at(then) + 100.0) >= back);
        }
    }
}
