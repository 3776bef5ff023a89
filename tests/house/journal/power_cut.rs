//! The power goes at any moment: every take whose end was acknowledged is there, the file opens, practice goes on.

use crate::support::dice::Dice;
use crate::support::power::Disk;
use crate::support::practised::{at_ms, moment, take};
use rusqlite::Connection;
use std::path::Path;
use underfoot::journal::{Entry, Opened, Outcome, Trouble, Writer, open_with_vfs};

const FILE: &str = "/journal.db";
/// Times that the power goes in every run; `tests/long` has a thousand.
const CUTS: u64 = 150;

fn cuts() -> u64 {
    let asked = std::env::var("UNDERFOOT_POWER_CUTS").ok();
    asked.and_then(|count| count.parse().ok()).unwrap_or(CUTS)
}

/// How the connection is set up on top of what the journal does: the writer as it is, or a broken one.
type SetUp = fn(&Connection);

fn writer(disk: &Disk, set_up: SetUp) -> Writer {
    let vfs = disk.name().to_string();
    Writer::new(Box::new(move |_| {
        let store = open_with_vfs(Path::new(FILE), &vfs)?;
        set_up(store.connection());
        Ok(Opened { store, told: None })
    }))
}

/// An evening: takes of some seconds to some minutes, with breaks in which the log is brought into the file.
fn evening(dice: &mut Dice) -> Vec<Entry> {
    let mut entries = Vec::new();
    let mut now_ms = 10_000;
    for number in 0..30 {
        let verdicts = 1 + dice.below(90) as u32;
        let played = take(&format!("take {number}"), now_ms, verdicts, 2_000, dice);
        now_ms = at_ms(played.last().expect("entries")) + 500 + dice.below(60_000) as i64;
        entries.extend(played);
    }
    entries
}

/// Plays the entries until the power goes. Gives how many takes were acknowledged.
fn play(writer: &mut Writer, entries: &[Entry], disk: &Disk) -> u32 {
    let mut kept = 0;
    let mut count = |outcomes: Vec<Outcome>| {
        for outcome in outcomes {
            if let Outcome::Kept(takes) = outcome {
                kept += takes;
            }
        }
    };
    for pair in entries.windows(2) {
        let (now_ms, next_ms) = (at_ms(&pair[0]), at_ms(&pair[1]));
        writer.add(pair[0].clone());
        // The thread wakes when something is due.
        let mut at = now_ms;
        while at < next_ms && !disk.is_off() {
            count(writer.turn(&moment(at)));
            at += writer.idle_ms(at).max(1);
        }
        if disk.is_off() {
            return kept;
        }
    }
    writer.add(entries[entries.len() - 1].clone());
    count(writer.finish(&moment(at_ms(&entries[entries.len() - 1]) + 10_000)));
    kept
}

/// What is wrong after a power cut; nothing if all is well.
fn fault_after(disk: &Disk, entries: &[Entry], kept: u32) -> Option<String> {
    let store = match open_with_vfs(Path::new(FILE), disk.name()) {
        Ok(store) => store,
        Err(Trouble::Unusable(why) | Trouble::NotNow(why)) => {
            return Some(format!("it does not open: {why}"));
        }
    };
    let db = store.connection();
    let whole: String = db
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .expect("an answer");
    if whole != "ok" {
        return Some(whole);
    }
    for number in 0..kept {
        let name = format!("take {number}");
        let begins = entries
            .iter()
            .position(|entry| matches!(entry, Entry::Begin(begin) if begin.chart == name))
            .expect("it was played");
        let rest = &entries[begins..];
        let ends = rest
            .iter()
            .position(|entry| matches!(entry, Entry::End { .. }));
        let played = &rest[..ends.expect("it ended")];
        let asked = played
            .iter()
            .filter(|entry| matches!(entry, Entry::Verdict(_)))
            .count() as i64;
        let there = db.query_row(
            "SELECT ended, (SELECT count(*) FROM verdicts WHERE take = takes.id), asked FROM takes WHERE chart = ?1",
            [&name],
            |row| Ok((row.get::<_, bool>(0)?, row.get::<_, i64>(1)?, row.get::<_, i64>(2)?)),
        );
        if !there
            .as_ref()
            .is_ok_and(|there| *there == (true, asked, asked))
        {
            return Some(format!(
                "{name} of {kept} kept ones: {there:?}, {asked} verdicts were told"
            ));
        }
    }
    None
}

/// Cuts the power at random moments; gives what went wrong, and how many takes had been acknowledged in all.
fn cut_often(name: &str, set_up: SetUp) -> (Vec<String>, u32) {
    let disk = Disk::new(name);
    let mut dice = Dice(15);
    let entries = evening(&mut dice);
    assert_eq!(play(&mut writer(&disk, set_up), &entries, &disk), 30);
    let operations = disk.counts().operations;
    let (mut faults, mut acknowledged) = (Vec::new(), 0);
    for _ in 0..cuts() {
        disk.format();
        let at = 1 + dice.below(operations);
        disk.cut_at(at);
        let kept = play(&mut writer(&disk, set_up), &entries, &disk);
        assert!(disk.is_off(), "it was cut at {at} of {operations}");
        disk.reboot(&mut dice);
        acknowledged += kept;
        let fault = fault_after(&disk, &entries, kept).or_else(|| {
            // Practice goes on.
            let more = take("the next day", 1_000, 20, 2_000, &mut dice);
            let again = play(&mut writer(&disk, set_up), &more, &disk);
            (again != 1).then(|| format!("{again} takes kept after the cut"))
        });
        faults.extend(fault.map(|fault| format!("cut at {at}: {fault}")));
    }
    println!(
        "{name}: {} cuts among {operations} operations, {acknowledged} takes acknowledged, {} faults",
        cuts(),
        faults.len()
    );
    (faults, acknowledged)
}

#[test]
fn no_take_that_was_acknowledged_is_lost() {
    let (faults, acknowledged) = cut_often("power-cut", |_| {});
    assert!(
        acknowledged > cuts() as u32,
        "takes were acknowledged before the cuts: {acknowledged}"
    );
    assert_eq!(faults, Vec::<String>::new());
}

#[test]
fn a_writer_that_does_not_sync_is_found_out() {
    let (faults, _) = cut_often("power-cut-unsynced", |db| {
        db.pragma_update(None, "synchronous", "OFF")
            .expect("a pragma");
    });
    assert!(
        faults.len() as u64 > cuts() / 4,
        "{} of {} cuts",
        faults.len(),
        cuts()
    );
    // The log is synced before it is brought into the file, and not at each commit.
    let (faults, _) = cut_often("power-cut-normal", |db| {
        db.pragma_update(None, "synchronous", "NORMAL")
            .expect("a pragma");
    });
    assert!(!faults.is_empty());
}
