//! What the sources that have a thread of their own share.

// Adapters live on threads and read clocks; this is what they have in common.
#![allow(clippy::disallowed_methods)]

use super::urgent::hurry_if_allowed;
use super::{DeviceState, Edge, SWITCHES};
use crate::time::Frame;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
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
pub type Clock = Arc<dyn Stamps>;
/// Where events go; called on the source's thread.
pub type Sink = Box<dyn FnMut(SourceEvent) + Send>;

/// From one look for a missing device to the next: with the time to open it, one that is plugged in works within two
/// seconds.
pub const LOOK_EVERY: Duration = Duration::from_secs(1);
/// How long a source sleeps at the most before it looks whether it is to end.
pub const SLICE: Duration = Duration::from_millis(250);

/// What a source tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SourceEvent {
    /// A switch moved.
    Edge(Edge),
    /// The state changed; with the reason, or a caution.
    State(DeviceState, Option<String>),
}

/// A source's thread; ends with this.
#[derive(Debug)]
pub struct SourceThread {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl SourceThread {
    /// Runs `work` on a thread of this name; it is to come back soon after the flag is set.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(
        name: &str,
        work: impl FnOnce(&AtomicBool) + Send + 'static,
    ) -> std::io::Result<SourceThread> {
        let stop = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stop);
        let thread = std::thread::Builder::new()
            .name(name.to_string())
            .spawn(move || {
                hurry_if_allowed();
                work(&flag)
            })?;
        Ok(SourceThread {
            stop,
            thread: Some(thread),
        })
    }
}

impl Drop for SourceThread {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // A panic of that thread is not ours to repeat.
            let _ = thread.join();
        }
    }
}

/// Waits, but not beyond the flag.
pub fn pause(pause: Duration, stop: &AtomicBool) {
    let mut left = pause;
    while !left.is_zero() && !stop.load(Ordering::Relaxed) {
        let slice = left.min(SLICE);
        std::thread::park_timeout(slice);
        left = left.saturating_sub(slice);
    }
}

/// Levels and stamps of a source's switches: passes on what changes, in order, and lets go what is down when the device is
/// lost.
pub struct Levels {
    sink: Sink,
    clock: Clock,
    down: [bool; SWITCHES],
    last: Frame,
    told: Option<(DeviceState, Option<String>)>,
}

impl Levels {
    /// Everything up.
    pub fn new(clock: Clock, sink: Sink) -> Levels {
        Levels {
            sink,
            clock,
            down: [false; SWITCHES],
            last: Frame(0),
            told: None,
        }
    }

    /// A switch is at this level since `age`. Told if it is new.
    pub fn set(&mut self, switch: u8, down: bool, age: Duration) {
        let at = self.clock.ago(age);
        self.set_at(switch, down, at);
    }

    /// The same with a frame.
    pub fn set_at(&mut self, switch: u8, down: bool, at: Frame) {
        let level = usize::from(switch)
            .checked_sub(1)
            .and_then(|index| self.down.get_mut(index));
        let Some(level) = level else { return };
        if std::mem::replace(level, down) != down {
            let at = at.max(self.last);
            self.last = at;
            (self.sink)(SourceEvent::Edge(Edge { switch, down, at }));
        }
    }

    /// The level that a switch was last at.
    pub fn is_down(&self, switch: u8) -> bool {
        let index = usize::from(switch).wrapping_sub(1);
        self.down.get(index).copied().unwrap_or(false)
    }

    /// Takes these levels as they are, telling no edge: those of a device just opened.
    pub fn begin(&mut self, down: [bool; SWITCHES]) {
        self.down = down;
    }

    /// The device is gone: what was down goes up.
    pub fn let_go(&mut self) {
        for switch in 1..=SWITCHES as u8 {
            self.set(switch, false, Duration::ZERO);
        }
    }

    /// Tells a state once, not at each attempt.
    pub fn tell(&mut self, state: DeviceState, reason: Option<String>) {
        let now = Some((state, reason.clone()));
        if self.told != now {
            self.told = now;
            (self.sink)(SourceEvent::State(state, reason));
        }
    }

    /// The frame of now.
    pub fn now(&self) -> Frame {
        self.clock.now()
    }
}

/// What is to be said of a switch that is not at rest although nobody has moved it yet.
pub fn held_since_start(down: &[bool; SWITCHES], at_rest: &[bool; SWITCHES]) -> Option<String> {
    let held: Vec<String> = (0..SWITCHES)
        .filter(|index| down[*index] && !at_rest[*index])
        .map(|index| (index + 1).to_string())
        .collect();
    (!held.is_empty()).then(|| {
        format!(
            "held since the start: switch {}; a foot on it, or is it normally closed?",
            held.join(", ")
        )
    })
}

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
    use std::sync::Mutex;

    #[test]
    fn levels_tell_what_changes_in_order_and_let_go() {
        let told = Arc::new(Mutex::new(Vec::new()));
        let to = Arc::clone(&told);
        let sink: Sink = Box::new(move |event| {
            to.lock().unwrap().push(match event {
                SourceEvent::Edge(edge) => {
                    format!(
                        "{}{}@{}",
                        edge.switch,
                        if edge.down { 'v' } else { '^' },
                        edge.at.0
                    )
                }
                SourceEvent::State(state, _) => state.name().to_string(),
            });
        });
        let mut levels = Levels::new(
            Arc::new(|age: Duration| Frame(1000 - age.as_millis() as u64)),
            sink,
        );
        levels.tell(DeviceState::Present, None);
        levels.tell(DeviceState::Present, None);
        levels.set(1, true, Duration::from_millis(20));
        levels.set(1, true, Duration::from_millis(10));
        levels.set(2, true, Duration::from_millis(500));
        levels.set(0, true, Duration::ZERO);
        levels.set(9, true, Duration::ZERO);
        levels.let_go();
        levels.tell(DeviceState::Retrying, Some("gone".into()));
        // An edge that is older than the one before is told at its place: time does not go back.
        let wanted = [
            "present", "1v@980", "2v@980", "1^@1000", "2^@1000", "retrying",
        ];
        assert_eq!(told.lock().unwrap()[..], wanted);
    }

    #[test]
    fn only_what_is_not_at_rest_is_held() {
        let mut down = [false; SWITCHES];
        (down[1], down[2]) = (true, true);
        let mut at_rest = [false; SWITCHES];
        at_rest[2] = true;
        let told = held_since_start(&down, &at_rest).unwrap();
        assert!(
            told.starts_with("held since the start: switch 2;"),
            "{told}"
        );
        at_rest[1] = true;
        assert_eq!(held_since_start(&down, &at_rest), None);
    }

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
