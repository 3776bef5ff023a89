//! What an hour of practice writes.

use crate::support::dice::Dice;
use crate::support::power::Disk;
use crate::support::practised::{at_ms, moment, take};
use std::path::Path;
use underfoot::journal::{Opened, Writer, open_with_vfs};

/// An hour: bytes written, transactions, syncs, and by how much the file grew.
fn hour(name: &str, takes: u32, every_ms: i64) -> (u64, u64, u64, u64) {
    let disk = Disk::new(name);
    let vfs = disk.name().to_string();
    let mut writer = Writer::new(Box::new(move |_| {
        let store = open_with_vfs(Path::new("/journal.db"), &vfs)?;
        Ok(Opened { store, told: None })
    }));
    let mut dice = Dice(1);
    let length_ms = 3_600_000 / i64::from(takes) - 20_000;
    let mut before = (Default::default(), 0, 0);
    // The first hour makes the file; the second one is counted.
    for hour in 0..2 {
        for number in 0..takes {
            let begins =
                i64::from(hour) * 3_700_000 + i64::from(number) * (length_ms + 20_000) + 1_000;
            let entries = take(
                "Ferry at Six",
                begins,
                (length_ms / every_ms) as u32,
                every_ms,
                &mut dice,
            );
            for pair in entries.windows(2) {
                writer.add(pair[0].clone());
                let (mut at, next) = (at_ms(&pair[0]), at_ms(&pair[1]));
                while at < next {
                    writer.turn(&moment(at));
                    at += writer.idle_ms(at).max(1);
                }
            }
            let last = entries.last().expect("entries").clone();
            let ended = at_ms(&last);
            writer.add(last);
            for wait in [701, 19_000] {
                writer.turn(&moment(ended + wait));
            }
        }
        if hour == 0 {
            writer.finish(&moment(3_650_000));
            before = (
                disk.counts(),
                writer.transactions(),
                disk.length("/journal.db"),
            );
        }
    }
    writer.finish(&moment(7_400_000));
    let after = disk.counts();
    (
        after.written_bytes - before.0.written_bytes,
        writer.transactions() - before.1,
        after.syncs - before.0.syncs,
        (disk.length("/journal.db") - before.2) as u64,
    )
}

#[test]
fn an_hour_of_practice_writes_little() {
    // A note each bar at 120, three a bar at 144; in takes of ten minutes, of one, in one.
    for (name, takes, every_ms) in [
        ("bars in ten minutes", 6, 2_000),
        ("bars in a minute", 60, 2_000),
        ("bars in one", 1, 2_000),
        ("notes in ten minutes", 6, 555),
    ] {
        let (bytes, transactions, syncs, growth) = hour(name, takes, every_ms);
        println!(
            "{name}: {bytes} bytes in {transactions} transactions and {syncs} syncs; the file grew by {growth}"
        );
        assert!(bytes <= 2_000_000, "{name}: {bytes}");
        assert!(
            transactions <= u64::from(takes) + 60,
            "{name}: {transactions}"
        );
    }
}

/// An hour of practice on each day of a year, in six takes of ten minutes: what it writes in all, and how large the file is in the
/// end. `tests/long journal` counts the whole year, every run four weeks of it.
#[test]
fn a_year_of_an_hour_a_day_stays_small() {
    let days = match std::env::var_os("UNDERFOOT_WHOLE_JOURNAL") {
        Some(_) => 365,
        None => 28,
    };
    // A note each bar at 120, and three a bar at 144.
    for (name, every_ms, most_bytes) in [("bars", 2_000, 30_000_000), ("notes", 555, 80_000_000)] {
        let disk = Disk::new(&format!("year-{name}"));
        let mut dice = Dice(3);
        let (mut first, mut transactions) = (0, 0);
        for day in 0..i64::from(days) {
            // The box is switched off overnight.
            let vfs = disk.name().to_string();
            let mut writer = Writer::new(Box::new(move |_| {
                let store = open_with_vfs(Path::new("/journal.db"), &vfs)?;
                Ok(Opened { store, told: None })
            }));
            for number in 0..6 {
                let begins = day * 86_400_000 + number * 620_000 + 1_000;
                let entries = take(
                    "Ferry at Six",
                    begins,
                    (580_000 / every_ms) as u32,
                    every_ms,
                    &mut dice,
                );
                for pair in entries.windows(2) {
                    writer.add(pair[0].clone());
                    let (mut at, next) = (at_ms(&pair[0]), at_ms(&pair[1]));
                    while at < next {
                        writer.turn(&moment(at));
                        at += writer.idle_ms(at).max(1);
                    }
                }
                let last = entries.last().expect("entries").clone();
                let ended = at_ms(&last);
                writer.add(last);
                writer.turn(&moment(ended + 701));
            }
            writer.finish(&moment(day * 86_400_000 + 3_800_000));
            transactions += writer.transactions();
            if day == 0 {
                first = disk.length("/journal.db");
            }
        }
        let (length, written) = (disk.length("/journal.db"), disk.counts().written_bytes);
        println!(
            "{name}: {days} days: the file has {length} bytes ({first} after the first), {written} were written in {transactions} transactions"
        );
        assert!(
            length as u64 <= most_bytes * u64::from(days as u32) / 365 + 200_000,
            "{name}: {length}"
        );
        assert!(
            written <= 2_000_000 * u64::from(days as u32),
            "{name}: {written}"
        );
    }
}
