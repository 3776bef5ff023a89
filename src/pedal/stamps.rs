//! When something happened, for those who see it later.
#![allow(clippy::disallowed_methods)] // Adapters read clocks.

use crate::time::Frame;
use std::sync::Arc;
use std::time::Duration;

/// What sources stamp with.
pub trait Stamps: Send + Sync {
    /// The frame of so long ago.
    fn ago(&self, age: Duration) -> Frame;

    /// The frame of now.
    fn now(&self) -> Frame {
        self.ago(Duration::ZERO)
    }
}

impl<F: Fn(Duration) -> Frame + Send + Sync> Stamps for F {
    fn ago(&self, age: Duration) -> Frame {
        self(age)
    }
}

/// A clock that sources share.
pub type StampClock = Arc<dyn Stamps>;
/// Now on CLOCK_MONOTONIC, which the kernel stamps with.
pub fn monotonic() -> Duration {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
    Duration::new(now.tv_sec.max(0) as u64, now.tv_nsec.max(0) as u32)
}

/// How long ago a kernel stamp (CLOCK_MONOTONIC) was; at most a second, for no source is later than that.
#[cfg(any(feature = "evdev", feature = "gpio"))]
pub fn age_of(stamp: Duration) -> Duration {
    monotonic()
        .saturating_sub(stamp)
        .min(Duration::from_secs(1))
}

/// The stamps of a source with a clock of its own: each message arrives late by what it waited, so the least lateness seen is
/// taken for none. It may grow slowly, because the clocks drift.
#[derive(Debug, Clone, Default)]
pub struct Arrivals {
    /// Least of arrival less stamp, in microseconds, and the stamp it was seen at.
    least: Option<(f64, f64)>,
}

/// How fast two quartz clocks may drift apart, in parts of one.
const DRIFT: f64 = 200e-6;
/// No message waits longer, in microseconds: if one seems to, its clock has jumped.
const MOST_LATE_US: f64 = 50_000.0;

impl Arrivals {
    /// How long a message waited that carries `stamp_us` and arrived at `arrival_us`, each by its own clock.
    pub fn age(&mut self, stamp_us: u64, arrival_us: u64) -> Duration {
        let stamp = stamp_us as f64;
        let lateness = arrival_us as f64 - stamp;
        let grown = self
            .least
            .map(|(least, since)| least + (stamp - since).max(0.0) * DRIFT);
        let least = match grown {
            Some(grown) if lateness - grown <= MOST_LATE_US => grown.min(lateness),
            _ => lateness,
        };
        self.least = Some((least, stamp));
        Duration::from_secs_f64((lateness - least).max(0.0) / 1e6)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn late_messages_are_as_old_as_they_waited() {
        // Sent every 10 ms, arriving up to 5 ms late: after the first one in time all are told right.
        let mut arrivals = Arrivals::default();
        let mut age_ms = |sent_ms: u64, late_ms: u64| {
            let (stamp, arrival) = (777 + sent_ms, 5_000 + sent_ms + late_ms);
            let age = arrivals.age(stamp * 1000, arrival * 1000);
            (age.as_secs_f64() * 1000.0).round() as u64
        };
        let late_ms = [3, 0, 5, 1, 2, 5, 0, 4];
        let told: Vec<u64> = (0u64..8)
            .map(|n| age_ms(n * 10, late_ms[n as usize]))
            .collect();
        assert_eq!(told, [0, 0, 5, 1, 2, 5, 0, 4]);
        // The source's clock stood still for a second: that is no lateness.
        assert_eq!((age_ms(100, 1_000), age_ms(110, 1_003)), (0, 3));
    }
}
