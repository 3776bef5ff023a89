//! Looking after devices that come and go, each on a thread of its own.
//!
//! # Why is a pedal's stamp an age?
//!
//! The kernel stamps with CLOCK_MONOTONIC, JACK counts another clock. How long ago an edge was is
//! the same in both, to the drift of a few milliseconds.
#![allow(clippy::disallowed_methods)] // Adapters live on threads and read clocks.

use super::DeviceState;
use super::reporter::Reporter;
use super::urgent::hurry_if_allowed;
use crate::device::Backoff;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long a source sleeps at the most before it looks whether it is to end.
pub const SLICE: Duration = Duration::from_millis(250);

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

#[cfg(test)]
mod tests {
    use super::super::reporter::tests::reporter;
    use super::*;
    use crate::time::Frame;

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
}
