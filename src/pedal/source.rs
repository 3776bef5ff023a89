//! What the devices that have a thread of their own share: being looked after, and telling what they do.

// Adapters live on threads and read clocks; this is what they have in common.
#![allow(clippy::disallowed_methods)]

use super::midi::MidiEdges;
use super::urgent::hurry_if_allowed;
use super::{DeviceState, Edge, SWITCHES};
use crate::clock::ClockMessage;
use crate::device::{Backoff, Told};
use crate::midi::MidiMessage;
use crate::time::Frame;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

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

/// How long a source sleeps at the most before it looks whether it is to end.
pub const SLICE: Duration = Duration::from_millis(250);

/// What a source tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SourceEvent {
    /// A switch moved.
    Edge(Edge),
    /// A message of a MIDI clock came.
    Clock(Frame, ClockMessage),
    /// The state changed; with the reason, or a caution.
    State(DeviceState, Option<String>),
}

/// Why a device cannot be used, and whether it is there at all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unusable(pub DeviceState, pub String);

impl From<String> for Unusable {
    fn from(reason: String) -> Unusable {
        Unusable(DeviceState::Absent, reason)
    }
}

/// A device that comes and goes: looked for, opened, used until it is lost, and looked for again
/// ([`SourceThread::supervise`]). It need not recover by itself.
pub trait Device: Send + 'static {
    /// What is open while it works; dropped when it is lost.
    type Open;

    /// Looks for it and opens it.
    ///
    /// # Errors
    /// In words, when that is not possible now; it is tried again.
    fn open(&mut self) -> Result<Self::Open, Unusable>;

    /// It was just opened: takes its levels as they are. What is to be said of them.
    fn begin(&mut self, open: &Self::Open, reporter: &mut Reporter) -> Option<String> {
        let _ = (open, reporter);
        None
    }

    /// Uses it until `stop` is set.
    ///
    /// # Errors
    /// The reason, when it is lost.
    fn work(
        &mut self,
        open: &mut Self::Open,
        reporter: &mut Reporter,
        stop: &AtomicBool,
    ) -> Result<(), String>;
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

    /// Looks after a device on a thread of this name, and lets `reporter` tell what it does and how it is.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn supervise(
        name: &str,
        mut device: impl Device,
        mut reporter: Reporter,
    ) -> std::io::Result<SourceThread> {
        SourceThread::start(name, move |stop| {
            look_after(&mut device, &mut reporter, stop, &|wait| pause(wait, stop));
        })
    }
}

fn look_after<D: Device>(
    device: &mut D,
    reporter: &mut Reporter,
    stop: &AtomicBool,
    pause: &dyn Fn(Duration),
) {
    let mut backoff = Backoff::DEVICE;
    while !stop.load(Ordering::Relaxed) {
        match device.open() {
            Ok(mut open) => {
                let since = Instant::now();
                let caution = device.begin(&open, reporter);
                reporter.tell(DeviceState::Present, caution);
                let worked = device.work(&mut open, reporter, stop);
                // A lost device that stays open would come back under another name.
                drop(open);
                let Err(reason) = worked else { return };
                reporter.lose(reason);
                // One that fails as soon as it is opened is looked for less often, too.
                if since.elapsed() > backoff.longest {
                    backoff.reset();
                }
            }
            Err(Unusable(state, reason)) => reporter.tell(state, Some(reason)),
        }
        pause(backoff.wait());
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

/// Tells what a device does: the edges of its switches and the messages of its clock in order, and each of its states once.
/// What is down when the device is lost goes up.
pub struct Reporter {
    sink: Sink,
    clock: Clock,
    down: [bool; SWITCHES],
    last: Frame,
    told: Told,
}

impl Reporter {
    /// Everything up, no state told. Events go to `sink`, stamped by `clock`.
    pub fn new(clock: Clock, sink: Sink) -> Reporter {
        Reporter {
            sink,
            clock,
            down: [false; SWITCHES],
            last: Frame(0),
            told: Told::default(),
        }
    }

    /// The frame of so long ago, by the clock that stamps.
    pub fn ago(&self, age: Duration) -> Frame {
        self.clock.ago(age)
    }

    /// A switch (from 1) is at this level since `at`. Told if it is new.
    pub fn set(&mut self, switch: u8, down: bool, at: Frame) {
        let level = usize::from(switch)
            .checked_sub(1)
            .and_then(|index| self.down.get_mut(index));
        let Some(level) = level else { return };
        if std::mem::replace(level, down) != down {
            let at = self.in_order(at);
            (self.sink)(SourceEvent::Edge(Edge { switch, down, at }));
        }
    }

    /// A MIDI message came: a clock's, or one that may move switches.
    pub fn midi(&mut self, message: &MidiMessage, switches: &MidiEdges, at: Frame) {
        if let Some(message) = ClockMessage::from_bytes(message.bytes()) {
            let at = self.in_order(at);
            (self.sink)(SourceEvent::Clock(at, message));
            return;
        }
        for edge in switches.message(message, at) {
            self.set(edge.switch, edge.down, edge.at);
        }
    }

    /// What was sent later did not happen before.
    fn in_order(&mut self, at: Frame) -> Frame {
        self.last = self.last.max(at);
        self.last
    }

    /// Takes these levels as they are, telling no edge: those of a device just opened. What is to be said of switches that
    /// are not at rest although nobody has moved them yet.
    pub fn begin(&mut self, down: [bool; SWITCHES], at_rest: &[bool; SWITCHES]) -> Option<String> {
        self.down = down;
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

    /// The device is gone, or its cable is: what was down goes up.
    pub fn lose(&mut self, reason: impl Into<String>) {
        for switch in 1..=SWITCHES as u8 {
            self.set(switch, false, self.ago(Duration::ZERO));
        }
        self.tell(DeviceState::Retrying, Some(reason.into()));
    }

    /// Tells a state once, not at each attempt.
    pub fn tell(&mut self, state: DeviceState, reason: Option<String>) {
        if self.told.is_new(state, reason.as_deref()) {
            (self.sink)(SourceEvent::State(state, reason));
        }
    }
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

    /// A reporter whose now is frame 1000, a frame a millisecond, and the words for what it told.
    fn reporter() -> (Reporter, Arc<Mutex<Vec<String>>>) {
        let told = Arc::new(Mutex::new(Vec::new()));
        let to = Arc::clone(&told);
        let sink: Sink = Box::new(move |event| {
            to.lock().unwrap().push(match event {
                SourceEvent::Edge(Edge { switch, down, at }) => {
                    format!("{switch}{}@{}", if down { 'v' } else { '^' }, at.0)
                }
                SourceEvent::Clock(at, message) => format!("{message:?}@{}", at.0),
                SourceEvent::State(state, None) => state.name().to_string(),
                SourceEvent::State(state, Some(why)) => format!("{}: {why}", state.name()),
            });
        });
        let clock = Arc::new(|age: Duration| Frame(1000 - age.as_millis() as u64));
        (Reporter::new(clock, sink), told)
    }

    #[test]
    fn what_changes_is_told_in_order_and_what_is_lost_lets_go() {
        let (mut reporter, told) = reporter();
        reporter.tell(DeviceState::Present, None);
        reporter.tell(DeviceState::Present, None);
        for (switch, at) in [(1, 980), (1, 990), (2, 500), (0, 1000), (9, 1000)] {
            reporter.set(switch, true, Frame(at));
        }
        reporter.lose("gone");
        // An edge that is older than the one before is told at its place: time does not go back.
        let wanted = [
            "present",
            "1v@980",
            "2v@980",
            "1^@1000",
            "2^@1000",
            "retrying: gone",
        ];
        assert_eq!(told.lock().unwrap()[..], wanted);
    }

    #[test]
    fn midi_is_a_clock_or_moves_switches() {
        let (mut reporter, told) = reporter();
        let switches = MidiEdges::new(&[(2, "note 60".parse().unwrap())]);
        // All that a clock says (MIDI 1.0: F8, FA, FB, FC, F2), and what it does not.
        for (bytes, at) in [
            (&[0xfa][..], 100),
            (&[0xf8], 90),
            (&[0x90, 60, 1], 110),
            (&[0x90, 61, 1], 115),
            (&[0xfe], 120),
            (&[0xf2, 16, 0], 130),
            (&[0xfb], 140),
            (&[0xfc], 150),
        ] {
            let message = MidiMessage::from_bytes(bytes).unwrap();
            reporter.midi(&message, &switches, Frame(at));
        }
        let wanted = [
            "Start@100",
            "Tick@100",
            "2v@110",
            "Position(16)@130",
            "Continue@140",
            "Stop@150",
        ];
        assert_eq!(told.lock().unwrap()[..], wanted);
    }

    #[test]
    fn only_what_is_not_at_rest_is_held() {
        let (mut reporter, _) = reporter();
        let (mut down, mut at_rest) = ([false; SWITCHES], [false; SWITCHES]);
        (down[1], down[2], at_rest[2]) = (true, true, true);
        let told = reporter.begin(down, &at_rest).unwrap();
        assert!(
            told.starts_with("held since the start: switch 2;"),
            "{told}"
        );
        at_rest[1] = true;
        assert_eq!(reporter.begin(down, &at_rest), None);
    }

    /// Opens as the words say: "no" is not there, "busy" is there but does not open, "lost" is lost at once with its
    /// switch down, "end" works until all ends.
    struct Scripted(std::vec::IntoIter<&'static str>);

    impl Device for Scripted {
        type Open = &'static str;

        fn open(&mut self) -> Result<&'static str, Unusable> {
            match self.0.next().expect("an end") {
                "no" => Err("not there".to_string().into()),
                "busy" => Err(Unusable(DeviceState::Retrying, "busy".into())),
                other => Ok(other),
            }
        }

        fn work(
            &mut self,
            open: &mut &'static str,
            reporter: &mut Reporter,
            _: &AtomicBool,
        ) -> Result<(), String> {
            reporter.set(1, true, Frame(7));
            match *open {
                "lost" => Err("pulled out".to_string()),
                _ => Ok(()),
            }
        }
    }

    #[test]
    fn a_device_is_looked_for_until_the_end_and_each_loss_is_told_once() {
        let (mut reporter, told) = reporter();
        let words = vec!["no", "no", "busy", "busy", "no", "lost", "no", "end"];
        let waits = std::cell::RefCell::new(Vec::new());
        look_after(
            &mut Scripted(words.into_iter()),
            &mut reporter,
            &AtomicBool::new(false),
            &|wait| waits.borrow_mut().push(wait.as_millis()),
        );
        let wanted = [
            "absent: not there",
            "retrying: busy",
            "absent: not there",
            "present",
            "1v@7",
            "1^@1000",
            "retrying: pulled out",
            "absent: not there",
            "present",
            "1v@1000",
        ];
        assert_eq!(told.lock().unwrap()[..], wanted);
        assert_eq!(waits.take(), [250, 500, 1000, 1000, 1000, 1000, 1000]);
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
