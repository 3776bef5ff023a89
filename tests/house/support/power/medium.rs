//! What lies on the disk, what programs see of it, and what a power cut leaves.

use crate::support::dice::Dice;
use std::collections::HashMap;

/// What the medium writes at once.
const SECTOR: usize = 512;

#[derive(Debug, Clone)]
pub(super) enum Change {
    Write(usize, Vec<u8>),
    Truncate(usize),
}

#[derive(Debug, Clone, Default)]
pub(super) struct FileOnDisk {
    /// What is on the medium.
    pub(super) safe: Vec<u8>,
    /// Whether its name is.
    pub(super) named: bool,
    /// What programs see.
    pub(super) seen: Vec<u8>,
    /// What was done since the last sync.
    pub(super) changes: Vec<Change>,
}

/// What the disk did.
#[derive(Debug, Clone, Copy, Default)]
pub struct DiskCounts {
    pub operations: u64,
    pub written_bytes: u64,
    pub syncs: u64,
}

#[derive(Debug, Default)]
pub(super) struct Medium {
    pub(super) files: HashMap<String, FileOnDisk>,
    pub(super) shared: HashMap<String, Vec<Box<[u8; 32_768]>>>,
    pub(super) counts: DiskCounts,
    /// The operation at which the power goes.
    pub(super) cut_at: Option<u64>,
    pub(super) is_off: bool,
    pub(super) refuses_syncs: bool,
}

impl Medium {
    /// Counts something that reaches the medium; false: the power is off.
    pub(super) fn has_power(&mut self) -> bool {
        self.counts.operations += 1;
        if self.cut_at == Some(self.counts.operations) {
            self.is_off = true;
        }
        !self.is_off
    }

    pub(super) fn write(&mut self, name: &str, at: usize, bytes: &[u8]) -> bool {
        let powered = self.has_power();
        let was_off = self.is_off && self.cut_at != Some(self.counts.operations);
        if was_off {
            return false;
        }
        // The write during which the power goes may reach the medium in part.
        let file = self.files.entry(name.to_string()).or_default();
        apply(&mut file.seen, &Change::Write(at, bytes.to_vec()));
        file.changes.push(Change::Write(at, bytes.to_vec()));
        self.counts.written_bytes += bytes.len() as u64;
        powered
    }

    pub(super) fn sync(&mut self, name: &str) -> bool {
        if !self.has_power() || self.refuses_syncs {
            return false;
        }
        self.counts.syncs += 1;
        let is_log = name.ends_with("-wal") || name.ends_with("-journal");
        let Some(file) = self.files.get_mut(name) else {
            return true;
        };
        file.safe.clone_from(&file.seen);
        file.changes.clear();
        if is_log && !file.named {
            self.files.values_mut().for_each(|file| file.named = true);
        }
        true
    }

    pub(super) fn reboot(&mut self, dice: &mut Dice) {
        let forgets_all = dice.below(3) == 0;
        self.files
            .retain(|_, file| file.named || !forgets_all && dice.below(2) == 0);
        for file in self.files.values_mut() {
            for change in std::mem::take(&mut file.changes) {
                if forgets_all {
                    continue;
                }
                match change {
                    Change::Write(at, bytes) => {
                        for (number, sector) in bytes.chunks(SECTOR).enumerate() {
                            if dice.below(2) == 0 {
                                let at = at + number * SECTOR;
                                apply(&mut file.safe, &Change::Write(at, sector.to_vec()));
                            }
                        }
                    }
                    cut if dice.below(2) == 0 => apply(&mut file.safe, &cut),
                    Change::Truncate(_) => {}
                }
            }
            file.seen.clone_from(&file.safe);
            file.named = true;
        }
        self.shared.clear();
        (self.is_off, self.cut_at, self.counts) = (false, None, DiskCounts::default());
    }
}

pub(super) fn apply(bytes: &mut Vec<u8>, change: &Change) {
    match change {
        Change::Write(at, new) => {
            if bytes.len() < at + new.len() {
                bytes.resize(at + new.len(), 0);
            }
            bytes[*at..at + new.len()].copy_from_slice(new);
        }
        Change::Truncate(length) => bytes.resize(*length, 0),
    }
}
