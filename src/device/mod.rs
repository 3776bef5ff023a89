//! How a device is: a lost one is a state, never an end. Whoever looks for one waits by a [`Backoff`] and tells what it
//! found through [`Told`].
//!
//! Promise: whoever loses a device tells it once and looks for it again by one back-off.

pub mod folders;
mod input;
#[cfg(any(feature = "gpio", feature = "oled"))]
pub mod lines;
#[cfg(feature = "midi-alsa")]
pub mod midi_ports;
pub mod plain_file;

pub use input::{Hum, InputFault, InputReport, Strings};
use std::time::Duration;

/// Whether a device is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DeviceState {
    /// It could not be found or opened; it is looked for.
    Absent,
    /// It is there and did not work, or worked and is gone; it is tried again.
    Retrying,
    Present,
}

impl DeviceState {
    /// The word for `status`.
    pub fn name(self) -> &'static str {
        match self {
            DeviceState::Absent => "absent",
            DeviceState::Retrying => "retrying",
            DeviceState::Present => "present",
        }
    }
}

/// What was last told of a device: each state is told once with its reason, not at each attempt.
#[derive(Debug, Clone, Default)]
pub struct Told(Option<(DeviceState, Option<String>)>);

impl Told {
    /// Whether this is another state, or another reason, than was told last.
    pub fn is_new(&mut self, state: DeviceState, reason: Option<&str>) -> bool {
        let same = |(told, why): &(DeviceState, Option<String>)| {
            (*told, why.as_deref()) == (state, reason)
        };
        let is_new = !self.0.as_ref().is_some_and(same);
        if is_new {
            self.0 = Some((state, reason.map(str::to_string)));
        }
        is_new
    }
}

/// The waits between attempts: twice as long each time, up to the longest.
#[derive(Debug, Clone)]
pub struct Backoff {
    first: Duration,
    pub longest: Duration,
    next: Duration,
}

impl Backoff {
    /// For what a player plugs in: with the time to open it, it works well within two seconds.
    pub const DEVICE: Backoff =
        Backoff::new(Duration::from_millis(250), Duration::from_millis(1000));

    /// From the first wait to the longest.
    pub const fn new(first: Duration, longest: Duration) -> Backoff {
        Backoff {
            first,
            longest,
            next: first,
        }
    }

    /// An attempt failed: how long to wait before the next one.
    pub fn wait(&mut self) -> Duration {
        let wait = self.next;
        self.next = (wait * 2).min(self.longest);
        wait
    }

    /// It worked: the next loss is looked after soon again.
    pub fn reset(&mut self) {
        self.next = self.first;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_grow_up_to_the_longest_and_begin_anew() {
        let mut backoff = Backoff::DEVICE;
        let mut waits = || [(); 4].map(|()| backoff.wait().as_millis());
        assert_eq!(waits(), [250, 500, 1000, 1000]);
        assert_eq!(waits(), [1000; 4]);
        backoff.reset();
        assert_eq!(backoff.wait().as_millis(), 250);
    }

    #[test]
    fn a_state_is_told_once_and_again_with_another_reason() {
        use DeviceState::{Absent, Present, Retrying};
        let mut told = Told::default();
        for (state, reason, is_new) in [
            (Absent, Some("no such port"), true),
            (Absent, Some("no such port"), false),
            (Absent, Some("not allowed"), true),
            (Present, None, true),
            (Present, None, false),
            (Retrying, None, true),
        ] {
            assert_eq!(told.is_new(state, reason), is_new, "{state:?} {reason:?}");
        }
    }
}
