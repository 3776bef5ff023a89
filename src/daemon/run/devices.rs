//! How the devices are, and what of it is worth telling.

use crate::device::DeviceState;
use std::collections::{BTreeMap, BTreeSet};

/// All devices that have told how they are, by name.
#[derive(Debug, Default)]
pub struct Devices {
    known: BTreeMap<String, (DeviceState, Option<String>)>,
    /// From which nothing came that makes sense, once told.
    doubted: BTreeSet<String>,
}

/// What a device's state brings.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct DeviceNews {
    /// It is another state than before.
    pub is_new: bool,
    /// It is there, and what comes from it makes no sense: told once, until it has gone and come again.
    pub doubt: Option<String>,
}

impl Devices {
    /// Takes in how a device is, and logs it where that is new.
    pub fn take(&mut self, name: &str, device: DeviceState, reason: Option<String>) -> DeviceNews {
        let known = self.known.get(name).map(|(device, _)| *device);
        let is_present = |state: DeviceState| state == DeviceState::Present;
        // A loss is told once, whether it is looked for or has gone altogether.
        if known.is_none_or(|known| is_present(known) != is_present(device)) {
            match &reason {
                Some(reason) => log::warn!("{name}: {} ({reason})", device.name()),
                None => log::info!("{name}: {}", device.name()),
            }
        }
        let is_new = known != Some(device);
        if !is_present(device) {
            self.doubted.remove(name);
        }
        let doubt = reason
            .clone()
            .filter(|_| is_present(device) && !is_new && self.doubted.insert(name.to_string()));
        if let Some(doubt) = &doubt {
            log::warn!("{name}: {doubt}");
        }
        self.known.insert(name.to_string(), (device, reason));
        DeviceNews { is_new, doubt }
    }

    /// It is not wanted any more.
    pub fn remove(&mut self, name: &str) {
        self.known.remove(name);
        self.doubted.remove(name);
    }

    /// Name, state and last error of each.
    pub fn all(&self) -> Vec<(String, DeviceState, Option<String>)> {
        let known = self.known.iter();
        known
            .map(|(name, (device, reason))| (name.clone(), *device, reason.clone()))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_doubt_is_told_once_until_the_device_has_gone_and_come_again() {
        use DeviceState::{Absent, Present, Retrying};
        let mut devices = Devices::default();
        for (device, reason, is_new, doubt) in [
            (Absent, Some("not there"), true, None),
            // What is said of it as it comes is no doubt of what comes from it.
            (Present, Some("held since the start"), true, None),
            (Present, None, false, None),
            (
                Present,
                Some("is it 9600 baud?"),
                false,
                Some("is it 9600 baud?"),
            ),
            (Present, None, false, None),
            (Present, Some("is it 9600 baud?"), false, None),
            (Retrying, Some("gone"), true, None),
            (Retrying, Some("busy"), false, None),
            (Present, None, true, None),
            (
                Present,
                Some("is it 9600 baud?"),
                false,
                Some("is it 9600 baud?"),
            ),
        ] {
            let news = devices.take("line", device, reason.map(str::to_string));
            let wanted = DeviceNews {
                is_new,
                doubt: doubt.map(str::to_string),
            };
            assert_eq!(news, wanted, "{device:?} {reason:?}");
            let last = ("line".to_string(), device, reason.map(str::to_string));
            assert_eq!(devices.all(), [last]);
        }
    }
}
