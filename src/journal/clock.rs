//! When something was: a clock that never jumps, and what the wall says meanwhile.
//!
//! A board without a battery clock starts somewhere in the past and jumps when the network tells the time. So each moment is
//! kept as milliseconds since the boot, and the boot has one offset from there to the wall's time: when the wall clock is set
//! that offset is mended, and with it every take of this boot, also where nothing more is played (`writer`).
// Reads the machine's clocks.
#![allow(clippy::disallowed_methods)]

use rustix::time::{ClockId, clock_gettime};

/// A wall clock that moved by more was set.
const SET_MS: i64 = 2_000;

/// One moment on both clocks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Now {
    /// Which run of the machine: the kernel's random id.
    pub boot: String,
    /// Milliseconds since the boot, sleep included: else sleeping would look like a wall clock that was set.
    pub boot_ms: i64,
    /// Milliseconds since 1970, UTC, as the wall clock has it.
    pub wall_ms: i64,
    /// Whether the wall clock is known to be right.
    pub synced: bool,
}

/// What is known of a boot's wall clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct WallOffset {
    /// Milliseconds from the boot's zero to 1970's.
    pub ms: i64,
    /// Whether the wall clock was known to be right.
    pub synced: bool,
}

impl Now {
    pub(super) fn offset(&self) -> WallOffset {
        WallOffset {
            ms: self.wall_ms - self.boot_ms,
            synced: self.synced,
        }
    }
}

impl WallOffset {
    /// Whether it is to take the place of what was known: a clock that is known to be right is not mended by one that is not.
    pub(super) fn mends(self, known: WallOffset) -> bool {
        let is_better = self.synced || !known.synced;
        let is_other = (self.ms - known.ms).abs() > SET_MS || self.synced != known.synced;
        is_better && is_other
    }
}

/// The machine's clocks.
#[derive(Debug, Clone)]
pub struct WallClock {
    boot: String,
}

impl Default for WallClock {
    fn default() -> WallClock {
        WallClock::new()
    }
}

impl WallClock {
    /// Finds out which boot this is.
    pub fn new() -> WallClock {
        // Where the kernel tells none a boot is what lasts as long as we do.
        let told = std::fs::read_to_string("/proc/sys/kernel/random/boot_id");
        let boot = told.map_or_else(
            |_| format!("process {}", std::process::id()),
            |text| text.trim().to_string(),
        );
        WallClock { boot }
    }

    /// This moment.
    pub fn now(&self) -> Now {
        Now {
            boot: self.boot.clone(),
            boot_ms: self.boot_ms(),
            wall_ms: self.wall_ms(),
            // systemd-timesyncd(8) and systemd-time-wait-sync(8) leave this file once the time was had.
            synced: std::path::Path::new("/run/systemd/timesync/synchronized").exists(),
        }
    }

    /// Milliseconds since the boot: cheap, for the daemon's loop.
    pub fn boot_ms(&self) -> i64 {
        ms(ClockId::Boottime)
    }

    /// Milliseconds since 1970, as the wall clock has it: as cheap.
    pub fn wall_ms(&self) -> i64 {
        ms(ClockId::Realtime)
    }
}

fn ms(clock: ClockId) -> i64 {
    let time = clock_gettime(clock);
    time.tv_sec * 1_000 + time.tv_nsec / 1_000_000
}
