//! Measuring against a real server on a machine that others use too.
//!
//! A dummy server has no sound card that waits: on a busy machine it loses cycles, and every thread wakes late. Such a
//! run says nothing about the program, so it is told and repeated. Whether the machine was busy is never read off the
//! program's own lateness: lost cycles tell it, or a [`Probe`]. What comes late on a calm machine is late, and the test
//! is red. Where no run was calm, the quick tier says so and goes on (a line that begins with NOT MEASURED, which
//! `tests/run` counts); the longer tier sets `UNDERFOOT_STRICT` and fails.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Whether figures are asked for, not only facts.
pub fn strict() -> bool {
    std::env::var("UNDERFOOT_STRICT").is_ok()
}

/// How often a run is tried: quickly told before every change, patiently where figures are asked for.
fn attempts() -> usize {
    if strict() { 8 } else { 3 }
}

/// Why a run says nothing.
#[derive(Debug)]
#[expect(dead_code, reason = "printed")]
pub enum Disturbed {
    /// The machine was busy: cycles lost, or a probe that woke late.
    Busy(String),
    /// Something is amiss though the machine was calm: by chance once, but not every time.
    Amiss(String),
}

impl Disturbed {
    /// What a run with so many lost cycles tells.
    pub fn by(gaps: u32, why: String) -> Disturbed {
        match gaps {
            0 => Disturbed::Amiss(why),
            _ => Disturbed::Busy(format!("{why}, {gaps} lost cycles")),
        }
    }
}

/// What came of several runs.
#[derive(Debug, PartialEq, Eq)]
enum Tried<T> {
    /// One run was undisturbed, and found this.
    Measured(T),
    /// None was well, and the machine was not to blame for all of them.
    Amiss,
    /// The machine was always busy.
    NotMeasured,
}

fn tried<T>(
    name: &str,
    attempts: usize,
    mut run: impl FnMut() -> Result<T, Disturbed>,
) -> Tried<T> {
    let mut result = Tried::NotMeasured;
    for repeated in 0..attempts {
        match run() {
            Ok(found) => {
                println!("{name}: runs repeated: {repeated}");
                return Tried::Measured(found);
            }
            Err(why) => {
                println!("{name}: once more: {why:?}");
                if matches!(why, Disturbed::Amiss(_)) {
                    result = Tried::Amiss;
                }
            }
        }
    }
    result
}

/// Repeats `run` until one was undisturbed and gives what that one found. `None`: nothing was measured.
///
/// # Panics
/// If a run was amiss and none was well; if nothing was measured and figures are asked for.
pub fn undisturbed<T>(name: &str, run: impl FnMut() -> Result<T, Disturbed>) -> Option<T> {
    match tried(name, attempts(), run) {
        Tried::Measured(found) => return Some(found),
        Tried::Amiss => panic!("{name}: amiss, and in no run well"),
        Tried::NotMeasured => {}
    }
    assert!(!strict(), "{name}: this machine was never calm enough");
    println!("NOT MEASURED: {name}: this machine was never calm enough");
    None
}

/// How long the daemon's loop sleeps at the most, and the probe.
const PERIOD: Duration = Duration::from_millis(2);

/// A thread that does nothing but wake as often as the daemon's loop, with the same priority, and note how late it was.
pub struct Probe {
    is_over: Arc<AtomicBool>,
    thread: JoinHandle<Wakes>,
}

/// Each time at which a probe was to wake, and how much later it woke.
pub struct Wakes(Vec<(Instant, Duration)>);

impl Probe {
    /// Begins to measure.
    pub fn start() -> Probe {
        let is_over = Arc::new(AtomicBool::new(false));
        let until = Arc::clone(&is_over);
        let thread = std::thread::spawn(move || {
            let mut wakes = Vec::new();
            while !until.load(Ordering::Relaxed) {
                let due = Instant::now() + PERIOD;
                std::thread::sleep(PERIOD);
                wakes.push((due, due.elapsed()));
            }
            Wakes(wakes)
        });
        Probe { is_over, thread }
    }

    /// What it saw.
    pub fn finish(self) -> Wakes {
        self.is_over.store(true, Ordering::Relaxed);
        self.thread.join().expect("a probe")
    }
}

impl Wakes {
    /// The latest wake-up in a window.
    pub fn worst_between(&self, from: Instant, to: Instant) -> Duration {
        let inside = |(due, late): &&(Instant, Duration)| *due + *late >= from && *due <= to;
        let late = self.0.iter().filter(inside).map(|(_, late)| *late);
        late.max().unwrap_or_default()
    }

    /// The latest wake-up of all.
    pub fn worst(&self) -> Duration {
        let late = self.0.iter().map(|(_, late)| *late);
        late.max().unwrap_or_default()
    }
}

#[test]
fn what_is_amiss_in_a_calm_run_is_not_excused_by_busy_ones() {
    let busy = || Err(Disturbed::Busy("busy".into()));
    let amiss = || Err(Disturbed::Amiss("amiss".into()));
    type Run = fn() -> Result<u8, Disturbed>;
    let cases: [([Run; 3], Tried<u8>); 5] = [
        ([|| Ok(1), busy, amiss], Tried::Measured(1)),
        ([busy, amiss, || Ok(2)], Tried::Measured(2)),
        ([amiss, busy, busy], Tried::Amiss),
        ([busy, busy, amiss], Tried::Amiss),
        ([busy, busy, busy], Tried::NotMeasured),
    ];
    for (index, (runs, wanted)) in cases.into_iter().enumerate() {
        let mut runs = runs.into_iter();
        let found = tried("a case", 3, || runs.next().expect("three runs")());
        assert_eq!(found, wanted, "case {index}");
    }
}

#[test]
fn a_probe_is_late_where_a_wake_up_overlaps_the_window() {
    let start = Instant::now();
    let at = |ms: u64| start + Duration::from_millis(ms);
    let late = |due, ms| (at(due), Duration::from_millis(ms));
    let wakes = Wakes(vec![late(2, 0), late(4, 9), late(15, 1), late(18, 30)]);
    for (from, to, worst) in [
        (0, 3, 0),
        (5, 6, 9),
        (13, 13, 9),
        (14, 16, 1),
        (20, 90, 30),
        (49, 60, 0),
    ] {
        let found = wakes.worst_between(at(from), at(to));
        assert_eq!(found, Duration::from_millis(worst), "{from} to {to}");
    }
    assert_eq!(wakes.worst(), Duration::from_millis(30));
}
