//! Where things are kept: the place, the journal, takes.

use super::super::finding::Finding;
use super::super::system::{Asked, System, Wear};

/// Less than this is full in a moment: the journal's log of a take, a take that is saved (90 s of sound).
const FULL_BYTES: u64 = 16 << 20;
/// Less than this will be full one day.
const LITTLE_BYTES: u64 = 200 << 20;
/// File systems that are gone with the power.
const IN_MEMORY: [&str; 3] = ["tmpfs", "ramfs", "overlay"];
/// More than nine tenths of a card's life.
const WORN_TENTHS: u32 = 10;

/// What is wrong where things are kept.
pub fn findings(system: &System, asked: &Asked) -> Vec<Finding> {
    let mut findings = Vec::new();
    if let Some(state) = asked.state.as_deref() {
        let place = state.display();
        const LOST: &str = "place, practice journal and saved takes are not kept";
        match system.mount_of(state) {
            Some(mount) if mount.is_read_only => findings.push(Finding::note(
                "state-read-only",
                format!("{place} cannot be written: {} is mounted read-only", mount.place.display()),
                LOST,
                format!("mount -o remount,rw {}; if that fails the card has faults: back it up and replace it", mount.place.display()),
            )),
            Some(mount) if IN_MEMORY.contains(&mount.kind.as_str()) => findings.push(Finding::note(
                "state-in-memory",
                format!("{place} lies in memory ({})", mount.kind),
                "place, practice journal and saved takes are gone with the power",
                "mount a partition there, or state_dir in [paths]",
            )),
            _ => findings.extend(space(system, &place.to_string(), LOST)),
        }
    } else if asked.fault.is_none() {
        findings.push(Finding::note(
            "no-state",
            "there is no directory to keep anything in",
            "place, practice journal and saved takes are not kept",
            "state_dir in [paths], or start it by its unit",
        ));
    }
    findings.extend(system.wear.iter().filter_map(wear));
    findings
}

fn space(system: &System, place: &str, lost: &'static str) -> Option<Finding> {
    let free = system.free_bytes?;
    let mib = free >> 20;
    let cure = "delete saved takes, or old logs: journalctl --vacuum-size=50M";
    if free < FULL_BYTES {
        return Some(Finding::note(
            "disk-full",
            format!("{mib} MiB are left for {place}"),
            lost,
            cure,
        ));
    }
    let what = || format!("{mib} MiB are left for {place}");
    let why = "it will be full one day, and then nothing is kept";
    (free < LITTLE_BYTES).then(|| Finding::note("disk-low", what(), why, cure))
}

fn wear(card: &Wear) -> Option<Finding> {
    const URGENT: u32 = 3;
    const WARNING: u32 = 2;
    let name = &card.name;
    let cure = "underfoot journal backup FILE, then replace the card";
    let why = "it will refuse to be written, or lose what was written";
    if card.end_of_life >= URGENT || card.tenths > WORN_TENTHS {
        return Some(Finding::risk(
            "card-worn-out",
            format!("{name} is worn out"),
            why,
            cure,
        ));
    }
    let is_worn = card.end_of_life == WARNING || card.tenths == WORN_TENTHS;
    is_worn.then(|| {
        Finding::note(
            "card-worn",
            format!("{name} has less than a tenth of its life left"),
            why,
            cure,
        )
    })
}
