//! When takes were, on boxes without a battery clock.

use crate::support::dice::Dice;
use crate::support::practised::take;
use std::path::Path;
use underfoot::journal::{self, Entry, Now, Outcome, Writer};

const HOUR_MS: i64 = 3_600_000;
/// A day of 2026, near noon.
const NOON_MS: i64 = 1_789_991_000_000;

fn writer(path: &Path) -> Writer {
    let path = path.to_path_buf();
    Writer::new(Box::new(move |now| journal::open(&path, now)))
}

fn now(boot: &str, boot_ms: i64, begins_ms: i64, synced: bool) -> Now {
    Now {
        boot: boot.into(),
        boot_ms,
        wall_ms: begins_ms + boot_ms,
        synced,
    }
}

/// An hour of a run of the machine with one take in it, five minutes after its beginning.
fn run(path: &Path, boot: &str, begins_ms: i64, synced: bool) {
    let mut writer = writer(path);
    let entries: Vec<Entry> = take(boot, 300_000, 30, 2_000, &mut Dice(2));
    entries.into_iter().for_each(|entry| writer.add(entry));
    let outcomes = writer.finish(&now(boot, HOUR_MS, begins_ms, synced));
    assert_eq!(outcomes, [Outcome::Kept(1)]);
}

/// When each take began, by its chart.
fn takes(path: &Path) -> Vec<(String, i64)> {
    let db = journal::open_to_read(path).expect("a journal");
    let mut rows = db
        .prepare("SELECT t.chart, b.offset_ms + t.begun_ms FROM takes t JOIN boots b ON b.id = t.boot ORDER BY 2")
        .expect("tables");
    let read = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?));
    let rows = rows.query_map([], read).expect("rows");
    rows.collect::<Result<_, _>>().expect("rows")
}

#[test]
fn a_clock_that_is_set_after_the_program_began_again_mends_what_was_before() {
    // Set while no program ran, or while the next one does; nothing more is played.
    for set_before in [true, false] {
        let dir = tempfile::tempdir().expect("a directory");
        let path = dir.path().join("journal.db");
        run(&path, "one", 0, false);
        assert_eq!(takes(&path), [("one".to_string(), 300_000)]);
        let mut writer = writer(&path).looking_back();
        let mut at_ms = 2 * HOUR_MS;
        for _ in 0..6 {
            let is_set = set_before || at_ms > 2 * HOUR_MS + 15_000;
            let begins_ms = if is_set { NOON_MS } else { 0 };
            assert_eq!(writer.turn(&now("one", at_ms, begins_ms, is_set)), []);
            at_ms += writer.idle_ms(at_ms).clamp(1, 10_000);
        }
        assert_eq!(takes(&path), [("one".to_string(), NOON_MS + 300_000)]);
    }
}

#[test]
fn a_run_whose_clock_was_never_set_lies_between_those_that_are_known() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let day_ms = 24 * HOUR_MS;
    run(&path, "monday", NOON_MS, true);
    run(&path, "tuesday", 0, false);
    run(&path, "wednesday", 0, false);
    // This clock went on where it was when the box was switched off.
    assert_eq!(takes(&path)[0].1, 300_000);
    run(&path, "thursday", NOON_MS + 3 * day_ms, true);
    run(&path, "friday", NOON_MS + 4 * day_ms, false);
    let told = takes(&path);
    let names: Vec<&str> = told.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        names,
        ["monday", "tuesday", "wednesday", "thursday", "friday"]
    );
    for (number, (name, at_ms)) in told.iter().enumerate() {
        let right_ms = NOON_MS + number as i64 * day_ms + 300_000;
        assert!(
            (at_ms - right_ms).abs() < 2 * HOUR_MS,
            "{name}: {at_ms} {right_ms}"
        );
    }
}

#[test]
fn a_run_of_another_box_stays_when_it_was() {
    let dir = tempfile::tempdir().expect("a directory");
    let [ours, theirs] = ["ours.db", "theirs.db"].map(|name| dir.path().join(name));
    run(&theirs, "theirs", 0, false);
    run(&ours, "ours", NOON_MS, true);
    let mut store = journal::open_as_it_is(&ours).expect("a journal");
    journal::merge(store.connection_mut(), &theirs, None).expect("merged");
    drop(store);
    run(&ours, "ours again", NOON_MS + 24 * HOUR_MS, true);
    assert_eq!(takes(&ours)[0], ("theirs".to_string(), 300_000));
}
