//! Which frame is now, and when a frame is: what everybody who stamps or waits asks.

use crate::audio::jack::JackDevice;
use crate::clock::map::{ClockMap, ClockPair};
use crate::pedal::stamps::{Stamps, monotonic};
use crate::time::Frame;
use std::sync::{Mutex, MutexGuard};
use std::time::{Duration, Instant};

/// Frames a second until a server tells another.
pub const RATE_AT_REST: u32 = 48_000;
/// The first frame of the daemon's own counting: far enough from zero that no guard reaches below it.
pub const FIRST_FRAME: Frame = Frame(1 << 20);
/// The clocks are read together this often.
const MEASURE_EVERY: Duration = Duration::from_secs(1);
/// Of so many readings the surest counts: another thread may come between.
const READINGS: usize = 5;

/// The map from CLOCK_MONOTONIC to frames, for many threads.
#[derive(Debug)]
pub struct Now {
    map: Mutex<ClockMap>,
    measured: Mutex<Option<Instant>>,
}

impl Now {
    /// Without a server yet.
    pub fn new() -> Now {
        let map = ClockMap::new(FIRST_FRAME, us(monotonic()), RATE_AT_REST);
        Now {
            map: Mutex::new(map),
            measured: Mutex::new(None),
        }
    }

    /// Takes in the server's last cycle, and now and then the distance between its clock and the system's.
    pub fn follow(&self, device: &JackDevice) {
        let Some(point) = device.clock() else { return };
        let mut measured = whole(&self.measured);
        let is_old = measured.is_none_or(|at| at.elapsed() >= MEASURE_EVERY);
        if !is_old {
            return whole(&self.map).cycle(point);
        }
        *measured = Some(Instant::now());
        let read = || {
            let before = device.time_us();
            let source = us(monotonic());
            ClockPair::between(before, source, device.time_us())
        };
        let readings = (0..READINGS).map(|_| read());
        if let Some(pair) = readings.min_by(|one, other| one.doubt_us.total_cmp(&other.doubt_us)) {
            whole(&self.map).measure(pair, point);
        }
    }

    /// The server is gone: frames go on at its rate.
    pub fn leave(&self) {
        *whole(&self.measured) = None;
        whole(&self.map).leave(us(monotonic()));
    }

    /// When a frame begins, on CLOCK_MONOTONIC.
    #[cfg(feature = "midi-alsa")]
    pub fn time_of(&self, frame: Frame) -> Duration {
        Duration::from_secs_f64(whole(&self.map).us_at(frame).max(0.0) / 1e6)
    }

    /// The frame of an instant.
    pub fn frame_at(&self, instant: Instant) -> Frame {
        let now = Instant::now();
        let ahead = instant.saturating_duration_since(now);
        let age = now.saturating_duration_since(instant);
        let at = us(monotonic()) + us(ahead) - us(age);
        whole(&self.map).frame_at(at)
    }
}

impl Stamps for Now {
    fn ago(&self, age: Duration) -> Frame {
        whole(&self.map).frame_at(us(monotonic()) - us(age))
    }
}

fn us(time: Duration) -> f64 {
    time.as_secs_f64() * 1e6
}

/// What is behind a lock is whole after every write, so what a panicking thread left can be used.
fn whole<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(|broken| broken.into_inner())
}
