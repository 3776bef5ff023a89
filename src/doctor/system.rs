//! What the rules look at: the system as it was read, what the configuration asks of it, and what the daemon tells.

use std::collections::BTreeMap;
use std::path::PathBuf;

/// The system, as `/proc`, `/sys` and `/etc` tell it. What cannot be read is missing, and nothing is said about it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct System {
    pub processes: Vec<Process>,
    /// User names and their numbers.
    pub users: Vec<(String, u32)>,
    pub groups: Vec<Group>,
    pub mounts: Vec<Mount>,
    /// One for each processor that has one.
    pub governors: Vec<Governor>,
    /// What the kernel reads the time from.
    pub clock_source: Option<String>,
    pub usb: Vec<UsbDevice>,
    /// Sensors that tell of a supply below its limit now.
    pub low_supplies: Vec<String>,
    /// The firmware's flags of undervoltage and throttling, where there are any.
    pub throttled: Option<u32>,
    /// How often processors were slowed down for heat.
    pub heat_throttles: u64,
    pub serial_lines: Vec<SerialLine>,
    pub cards: Vec<Card>,
    /// The card that `/etc/default/underfoot-jackd` names.
    pub jack_card: Option<String>,
    pub wear: Vec<Wear>,
    /// Files that are asked for and there: SoundFonts, the speech program.
    pub present: Vec<PathBuf>,
    /// What is left where things are kept, in bytes.
    pub free_bytes: Option<u64>,
    /// Whether the unit is to start at boot.
    pub starts_at_boot: bool,
}

/// A program that runs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Process {
    pub pid: u32,
    pub name: String,
    pub arguments: Vec<String>,
    pub user: u32,
    /// Numbers of its groups.
    pub groups: Vec<u32>,
    /// Whether one of its threads is scheduled in real time.
    pub is_realtime: bool,
    /// The highest real-time priority that it may have.
    pub realtime_limit: Option<u64>,
    /// How much memory it may lock, in bytes.
    pub lock_limit_bytes: Option<u64>,
}

/// A line of `/etc/group`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    pub name: String,
    pub number: u32,
    pub members: Vec<String>,
}

/// A mounted file system.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mount {
    pub place: PathBuf,
    pub kind: String,
    pub is_read_only: bool,
}

/// How a processor chooses its frequency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Governor {
    pub driver: String,
    pub name: String,
}

/// A USB device that sounds or is stepped on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UsbDevice {
    pub name: String,
    pub place: String,
    /// Whether the kernel may put it to sleep.
    pub may_sleep: bool,
}

/// A line of the kernel's serial driver.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SerialLine {
    pub number: u32,
    pub framing_errors: u64,
}

/// A sound card with an output.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Card {
    pub name: String,
    /// Whether one of its outputs runs.
    pub runs: bool,
}

/// How worn a memory card is that tells (JEDEC JESD84-B51: device life time estimation, pre end of life).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wear {
    pub name: String,
    /// Tenths of its life that are used up, rounded up; 11: more than all.
    pub tenths: u32,
    /// 1 normal, 2 warning, 3 urgent.
    pub end_of_life: u32,
}

/// What the configuration asks of the system.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Asked {
    /// Every fault of the configuration, if it has any.
    pub fault: Option<String>,
    /// Groups that its devices need.
    pub wanted: Vec<Wanted>,
    /// The SoundFont it names, or else the usual places.
    pub soundfonts: Vec<PathBuf>,
    /// The places where the speech program may be; none where nothing is spoken.
    pub speech: Vec<PathBuf>,
    /// Where things are kept.
    pub state: Option<PathBuf>,
    /// Whether any switch is named.
    pub has_foot: bool,
}

/// A group, and what for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    pub group: &'static str,
    pub what_for: &'static str,
}

/// What the running daemon tells of itself.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Told {
    /// present, retrying, hung.
    pub jack: String,
    pub xruns: u64,
    /// Name and last error of each device that is not there.
    pub missing: Vec<(String, Option<String>)>,
    pub counters: BTreeMap<String, u64>,
}

impl System {
    /// The running daemons.
    pub(super) fn daemons(&self) -> impl Iterator<Item = &Process> {
        let runs = |process: &&Process| process.arguments.iter().any(|argument| argument == "run");
        self.named("underfoot").filter(runs)
    }

    pub(super) fn named(&self, name: &'static str) -> impl Iterator<Item = &Process> {
        self.processes
            .iter()
            .filter(move |process| process.name == name)
    }

    pub(super) fn user_name(&self, number: u32) -> String {
        let found = self.users.iter().find(|(_, known)| *known == number);
        found.map_or(number.to_string(), |(name, _)| name.clone())
    }

    /// The file system in which a path lies.
    pub(super) fn mount_of(&self, path: &std::path::Path) -> Option<&Mount> {
        let holds = self
            .mounts
            .iter()
            .filter(|mount| path.starts_with(&mount.place));
        // Of those mounted at one place the last one is seen.
        holds.max_by_key(|mount| mount.place.components().count())
    }
}
