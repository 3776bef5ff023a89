//! Foot pedals that act as keyboards, on USB or Bluetooth.
//!
//! Such a pedal types letters into whatever has the focus, so the device that the user names is grabbed. Edges carry the
//! kernel's own stamps. Auto-repeat is no press; what the kernel had to drop is made up for by the crate.

// An adapter: it has a thread and opens devices.
#![allow(clippy::disallowed_methods)]

use super::SWITCHES;
use super::reporter::Reporter;
use super::source::{SLICE, Unusable};
use super::stamps::age_of;
use ::evdev::{Device, EventSummary, KeyCode};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::UNIX_EPOCH;

/// Which pedal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PedalSettings {
    /// A device (best one of /dev/input/by-id), or a part of its name, or `vendor:product` in hexadecimal.
    pub device: String,
    /// The kernel's code of each key and its switch, from 1.
    pub keys: Vec<(u16, u8)>,
    /// Whether nobody else gets the keys.
    pub grab: bool,
    /// Which switches are down when no foot is on them.
    pub at_rest: [bool; SWITCHES],
}

/// The kernel's code of a key by its name in input-event-codes.h (`KEY_PAGEUP`), if there is such a key.
pub fn key_code(name: &str) -> Option<u16> {
    name.parse::<KeyCode>().ok().map(KeyCode::code)
}

impl super::source::Device for PedalSettings {
    type Open = Device;

    fn open(&mut self) -> Result<Device, Unusable> {
        Ok(open(self)?)
    }

    fn begin(&mut self, device: &Device, reporter: &mut Reporter) -> Option<String> {
        reporter.begin(held(self, device), &self.at_rest)
    }

    fn work(
        &mut self,
        device: &mut Device,
        reporter: &mut Reporter,
        stop: &AtomicBool,
    ) -> Result<(), String> {
        while !stop.load(Ordering::Relaxed) {
            wait(device).map_err(|error| error.to_string())?;
            let events = match device.fetch_events() {
                Ok(events) => events,
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => continue,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => return Err(error.to_string()),
            };
            for event in events {
                // 2 is auto-repeat.
                let EventSummary::Key(_, key, value @ 0..=1) = event.destructure() else {
                    continue;
                };
                let stamp = event.timestamp().duration_since(UNIX_EPOCH);
                let at = reporter.ago(age_of(stamp.unwrap_or_default()));
                for (_, switch) in self.keys.iter().filter(|(code, _)| *code == key.code()) {
                    reporter.set(*switch, value == 1, at);
                }
            }
        }
        Ok(())
    }
}

fn wait(device: &Device) -> io::Result<()> {
    let slice = Timespec {
        tv_sec: 0,
        tv_nsec: SLICE.subsec_nanos().into(),
    };
    let mut fds = [PollFd::new(device, PollFlags::IN)];
    match poll(&mut fds, Some(&slice)) {
        Ok(_) | Err(rustix::io::Errno::INTR) => Ok(()),
        Err(error) => Err(error.into()),
    }
}

/// The levels of a device just opened.
fn held(settings: &PedalSettings, device: &Device) -> [bool; SWITCHES] {
    let mut down = [false; SWITCHES];
    if let Ok(keys) = device.get_key_state() {
        for (code, switch) in &settings.keys {
            let index = usize::from(*switch).wrapping_sub(1);
            if let Some(level) = down.get_mut(index) {
                *level = keys.contains(KeyCode::new(*code));
            }
        }
    }
    down
}

fn open(settings: &PedalSettings) -> Result<Device, String> {
    let path = find(&settings.device)?;
    let told = |error: io::Error| match error.kind() {
        io::ErrorKind::PermissionDenied => {
            format!(
                "{}: {error} (is this user in the group input?)",
                path.display()
            )
        }
        _ => format!("{}: {error}", path.display()),
    };
    let mut device = Device::open(&path).map_err(told)?;
    device.set_nonblocking(true).map_err(told)?;
    count_monotonic(&device).map_err(told)?;
    if settings.grab {
        device.grab().map_err(|error| {
            format!(
                "{}: another program has grabbed it ({error})",
                path.display()
            )
        })?;
    }
    Ok(device)
}

/// Lets the kernel stamp with CLOCK_MONOTONIC, which no time server moves.
fn count_monotonic(device: &Device) -> io::Result<()> {
    /// EVIOCSCLOCKID of linux/input.h: a write of an int under 'E', 0xa0.
    const SET_CLOCK: u32 = 0x4004_45a0;
    const MONOTONIC: i32 = 1;
    // SAFETY: the request reads one int and keeps no pointer.
    let done = unsafe {
        let set = rustix::ioctl::Setter::<SET_CLOCK, i32>::new(MONOTONIC);
        rustix::ioctl::ioctl(device, set)
    };
    done.map_err(io::Error::from)
}

/// The device of this path or name. Of several with the name the one with the lowest number.
fn find(wanted: &str) -> Result<PathBuf, String> {
    if wanted.starts_with('/') {
        return if Path::new(wanted).exists() {
            Ok(PathBuf::from(wanted))
        } else {
            Err(format!("{wanted} is not there"))
        };
    }
    let mut closed = 0;
    for path in devices() {
        match Device::open(&path) {
            Ok(device) if is_named(&device, wanted) => return Ok(path),
            Ok(_) => {}
            Err(error) => closed += u32::from(error.kind() == io::ErrorKind::PermissionDenied),
        }
    }
    Err(match closed {
        0 => format!("no input device is named \"{wanted}\""),
        _ => format!(
            "no input device that may be opened is named \"{wanted}\" (is this user in the group input?)"
        ),
    })
}

fn is_named(device: &Device, wanted: &str) -> bool {
    let id = device.input_id();
    let by_id = format!("{:04x}:{:04x}", id.vendor(), id.product());
    by_id == wanted.to_lowercase() || device.name().is_some_and(|name| name.contains(wanted))
}

/// All input devices, in the order of their numbers.
fn devices() -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir("/dev/input") else {
        return Vec::new();
    };
    let mut numbered: Vec<(u32, PathBuf)> = entries
        .flatten()
        .filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let number = name.strip_prefix("event")?.parse().ok()?;
            Some((number, entry.path()))
        })
        .collect();
    numbered.sort();
    numbered.into_iter().map(|(_, path)| path).collect()
}

/// A path to the device that stays when it is plugged in again, if there is one.
fn lasting(path: &Path) -> Option<PathBuf> {
    let real = path.canonicalize().ok()?;
    let entries = std::fs::read_dir("/dev/input/by-id").ok()?;
    let mut names: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    names.sort();
    names
        .into_iter()
        .find(|name| name.canonicalize().is_ok_and(|to| to == real))
}

/// A device that acts as a keyboard, listened to without taking it away from others.
#[derive(Debug)]
pub struct KeyPresses {
    device: Device,
    named: String,
}

/// Every device with keys: its name, and how opening it went.
pub fn keyboards() -> Vec<(String, Result<KeyPresses, String>)> {
    let open = |path: PathBuf| match Device::open(&path) {
        Ok(device) => {
            device.supported_keys()?;
            let name = device.name().unwrap_or("no name").to_string();
            let named =
                lasting(&path).map_or_else(|| name.clone(), |path| path.display().to_string());
            Some((name, Ok(KeyPresses { device, named })))
        }
        Err(error) => Some((path.display().to_string(), Err(error.to_string()))),
    };
    devices().into_iter().filter_map(open).collect()
}

impl KeyPresses {
    /// The path or name by which the configuration finds it.
    pub fn device(&self) -> &str {
        &self.named
    }

    /// Waits for the next key to go down; `None` when the device is gone.
    pub fn next_press(&mut self) -> Option<String> {
        loop {
            for event in self.device.fetch_events().ok()? {
                if let EventSummary::Key(_, key, 1) = event.destructure() {
                    return Some(format!("{key:?}"));
                }
            }
        }
    }
}
