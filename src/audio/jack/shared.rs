//! What JACK's threads and the control thread share. What the callback touches is single values without a lock.

use crate::clock::map::ClockPoint;
use crate::time::Frame;
use jack::PortId;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering, fence};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// JACK's 32-bit frame `now`, carried on from `last`, a known 32-bit frame and its wide one. A step back
/// (the server's counter must not go back, but may) stays at the wide frame.
pub fn widen(now: u32, last: (u32, u64)) -> u64 {
    let step = now.wrapping_sub(last.0);
    if step > u32::MAX / 2 {
        last.1
    } else {
        last.1 + u64::from(step)
    }
}

#[derive(Debug, Default)]
pub(super) struct Shared {
    gone: AtomicBool,
    panicked: AtomicBool,
    /// The device is to be closed, and the callback has seen it.
    leaving: AtomicBool,
    left: AtomicBool,
    /// Ports that came, for the loop. JACK tells of them on a thread that may wait.
    came: Mutex<Vec<PortId>>,
    beats: AtomicU32,
    xruns: AtomicU32,
    /// Messages for which the block's buffer, the queue of our clock, and that of the event log had no room.
    pub(super) lost_midi_out: AtomicU32,
    pub(super) lost_clock_out: AtomicU32,
    pub(super) lost_played: AtomicU32,
    rate: AtomicU32,
    /// The sequence number of the clock: odd while it is written (a seqlock with one writer).
    sequence: AtomicU32,
    frame: AtomicU64,
    usecs: AtomicU64,
}

impl Shared {
    pub(super) fn new(rate: u32) -> Shared {
        Shared {
            rate: AtomicU32::new(rate),
            ..Shared::default()
        }
    }

    /// One store: this is called as from a signal handler.
    pub(super) fn set_gone(&self) {
        self.gone.store(true, Ordering::Release);
    }

    pub(super) fn is_gone(&self) -> bool {
        self.gone.load(Ordering::Acquire)
    }

    /// The device is to be closed: the callback does nothing from its next cycle on.
    pub(super) fn leave(&self) {
        self.leaving.store(true, Ordering::Release);
    }

    /// For the callback: whether it has nothing to do any more.
    pub(super) fn is_leaving(&self) -> bool {
        let leaving = self.leaving.load(Ordering::Acquire);
        if leaving {
            self.left.store(true, Ordering::Release);
        }
        leaving
    }

    /// Whether the callback has seen that it has nothing to do any more.
    pub(super) fn has_left(&self) -> bool {
        self.left.load(Ordering::Acquire)
    }

    pub(super) fn set_panicked(&self) {
        self.panicked.store(true, Ordering::Relaxed);
    }

    pub(super) fn has_panicked(&self) -> bool {
        self.panicked.load(Ordering::Relaxed)
    }

    pub(super) fn set_rate(&self, rate: u32) {
        self.rate.store(rate, Ordering::Relaxed);
    }

    pub(super) fn rate_changed(&self, from: u32) -> bool {
        self.rate.load(Ordering::Relaxed) != from
    }

    pub(super) fn port_came(&self, port: PortId) {
        self.came().push(port);
    }

    pub(super) fn take_ports_that_came(&self) -> Vec<PortId> {
        std::mem::take(&mut *self.came())
    }

    /// What is behind the lock is whole after every write.
    fn came(&self) -> MutexGuard<'_, Vec<PortId>> {
        self.came.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// One more. Wraps around.
    pub(super) fn bump(counter: &AtomicU32) {
        counter.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn count_xrun(&self) {
        self.xruns.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn xruns(&self) -> u32 {
        self.xruns.load(Ordering::Relaxed)
    }

    pub(super) fn beat(&self) {
        self.beats.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn beats(&self) -> u32 {
        self.beats.load(Ordering::Relaxed)
    }

    /// Publishes a cycle. Only the callback calls it.
    pub(super) fn publish(&self, frame: Frame, usecs: u64) {
        let sequence = self.sequence.load(Ordering::Relaxed);
        self.sequence
            .store(sequence.wrapping_add(1), Ordering::Relaxed);
        fence(Ordering::Release);
        self.frame.store(frame.0, Ordering::Relaxed);
        self.usecs.store(usecs, Ordering::Relaxed);
        self.sequence
            .store(sequence.wrapping_add(2), Ordering::Release);
    }

    /// The last cycle; none before the first.
    pub(super) fn clock(&self) -> Option<ClockPoint> {
        loop {
            let before = self.sequence.load(Ordering::Acquire);
            let point = ClockPoint {
                frame: Frame(self.frame.load(Ordering::Relaxed)),
                usecs: self.usecs.load(Ordering::Relaxed),
                rate: self.rate.load(Ordering::Relaxed),
            };
            fence(Ordering::Acquire);
            if before.is_multiple_of(2) && self.sequence.load(Ordering::Relaxed) == before {
                return (before > 0).then_some(point);
            }
            std::hint::spin_loop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_widen_over_the_wrap() {
        // now, last narrow, last wide, expected
        for (now, last, wide, expected) in [
            (100, 36, 1_000, 1_064),
            (10, u32::MAX - 9, 5_000_000_000u64, 5_000_000_020),
            (100, 100, 7, 7),
            (90, 100, 7, 7),
        ] {
            assert_eq!(widen(now, (last, wide)), expected, "{now} {last}");
        }
    }

    #[test]
    fn a_reader_never_sees_half_a_cycle() {
        let shared = Shared::new(48_000);
        assert_eq!(shared.clock(), None);
        std::thread::scope(|scope| {
            scope.spawn(|| (1..50_000u64).for_each(|n| shared.publish(Frame(n), n * 1000)));
            scope.spawn(|| {
                for _ in 0..50_000 {
                    let whole = shared
                        .clock()
                        .is_none_or(|point| point.usecs == point.frame.0 * 1000);
                    assert!(whole);
                }
            });
        });
    }
}
