//! What cannot be written at once is there in the end, once, and nothing beside it.

use crate::support::dice::Dice;
use crate::support::power::Disk;
use crate::support::practised::{moment, take};
use rusqlite::{Connection, TransactionBehavior};
use std::cell::RefCell;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use underfoot::journal::{
    self, Act, ChosenNotes, Entry, Now, Opened, Outcome, TakeBegin, Trouble, Writer, open_with_vfs,
};

/// A journal that does not wait for other programs.
fn impatient(path: &Path) -> Writer {
    let path = path.to_path_buf();
    Writer::new(Box::new(move |now| {
        let opened = journal::open(&path, now)?;
        let db = opened.store.connection();
        db.busy_timeout(std::time::Duration::ZERO).expect("set");
        Ok(opened)
    }))
}

fn kept(outcomes: &[Outcome]) -> u32 {
    let takes = |outcome: &Outcome| match outcome {
        Outcome::Kept(takes) => *takes,
        Outcome::Told(_) => 0,
    };
    outcomes.iter().map(takes).sum()
}

fn told(outcomes: &[Outcome]) -> Vec<&str> {
    let lines = outcomes.iter().filter_map(|outcome| match outcome {
        Outcome::Told(line) => Some(line.as_str()),
        Outcome::Kept(_) => None,
    });
    lines.collect()
}

/// Each take: its chart, seconds, notes asked for, rows of verdicts, of their tallies, of gestures, whether it ended.
type Row = (String, f64, i64, i64, i64, i64, bool);

fn takes(db: &Connection) -> Vec<Row> {
    let sql = "SELECT chart, seconds, asked, (SELECT count(*) FROM verdicts WHERE take = t.id),
        (SELECT sum(asked) FROM tallies WHERE take = t.id), (SELECT count(*) FROM acts WHERE take = t.id), ended
        FROM takes t ORDER BY id";
    let mut rows = db.prepare(sql).expect("tables");
    let read = |row: &rusqlite::Row<'_>| {
        let tallied: Option<i64> = row.get(4)?;
        Ok((
            row.get(0)?,
            row.get(1)?,
            row.get(2)?,
            row.get(3)?,
            tallied.unwrap_or(0),
            row.get(5)?,
            row.get(6)?,
        ))
    };
    let rows = rows.query_map([], read).expect("rows");
    rows.collect::<Result<_, _>>().expect("rows")
}

/// A take of 90 notes in 180 s, and what it is in the tables; its first 50 entries are a first part.
fn a_take() -> (Vec<Entry>, Row) {
    let entries = take("today", 0, 90, 2_000, &mut Dice(3));
    (entries, ("today".into(), 180.5, 90, 90, 90, 3, true))
}

/// Another program that has begun to write.
fn writes_elsewhere(path: &Path) -> Connection {
    let other = Connection::open(path).expect("a journal");
    let begun = other.execute_batch("BEGIN IMMEDIATE");
    begun.expect("nobody writes");
    other
}

#[test]
fn a_take_is_one_take_where_another_program_writes_meanwhile() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let mut writer = impatient(&path);
    let (entries, expected) = a_take();
    let (before, after) = entries.split_at(50);
    before.iter().cloned().for_each(|entry| writer.add(entry));
    assert_eq!(writer.turn(&moment(100_000)), []);
    let mut other = Connection::open(&path).expect("a journal");
    let change = other.transaction_with_behavior(TransactionBehavior::Immediate);
    let change = change.expect("nobody writes");
    after.iter().cloned().for_each(|entry| writer.add(entry));
    let outcomes = writer.turn(&moment(200_000));
    let lines = told(&outcomes);
    assert!(
        lines.len() == 1 && lines[0].contains("another program holds it"),
        "{lines:?}"
    );
    drop(change);
    assert_eq!(kept(&writer.turn(&moment(240_000))), 1);
    assert_eq!(takes(&other), [expected]);
}

thread_local! {
    /// Another program's connection, which is closed when it is waited for.
    static OTHER: RefCell<Option<Connection>> = const { RefCell::new(None) };
}

#[test]
fn another_program_s_change_is_waited_for() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let opened = path.clone();
    let mut writer = Writer::new(Box::new(move |now| {
        let mut opened = journal::open(&opened, now)?;
        let ends = |_: i32| OTHER.with_borrow_mut(Option::take).is_some();
        let db = opened.store.connection_mut();
        db.busy_handler(Some(ends)).expect("set");
        Ok(opened)
    }));
    let (entries, expected) = a_take();
    let (before, after) = entries.split_at(50);
    before.iter().cloned().for_each(|entry| writer.add(entry));
    writer.turn(&moment(100_000));
    let other = writes_elsewhere(&path);
    OTHER.set(Some(other));
    after.iter().cloned().for_each(|entry| writer.add(entry));
    assert_eq!(writer.turn(&moment(200_000)), [Outcome::Kept(1)]);
    assert_eq!(
        takes(&Connection::open(&path).expect("a journal")),
        [expected]
    );
}

#[test]
fn a_take_is_one_take_where_the_file_is_out_of_reach_for_a_while() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let (opened, is_full) = (path.clone(), Arc::new(AtomicBool::new(false)));
    let full = Arc::clone(&is_full);
    let mut writer = Writer::new(Box::new(move |now| match full.load(Ordering::Relaxed) {
        false => {
            let opened = journal::open(&opened, now)?;
            let db = opened.store.connection();
            db.busy_timeout(std::time::Duration::ZERO).expect("set");
            Ok(opened)
        }
        true => Err(Trouble::NotNow("no space is left".into())),
    }));
    let (entries, expected) = a_take();
    let (before, after) = entries.split_at(50);
    before.iter().cloned().for_each(|entry| writer.add(entry));
    writer.turn(&moment(100_000));
    // The file cannot be opened again either.
    let other = writes_elsewhere(&path);
    is_full.store(true, Ordering::Relaxed);
    after.iter().cloned().for_each(|entry| writer.add(entry));
    assert_eq!(told(&writer.turn(&moment(200_000))).len(), 1);
    assert_eq!(writer.turn(&moment(240_000)), []);
    other.execute_batch("ROLLBACK").expect("it was begun");
    is_full.store(false, Ordering::Relaxed);
    assert_eq!(kept(&writer.turn(&moment(280_000))), 1);
    assert_eq!(takes(&other), [expected]);
}

#[test]
fn what_failed_and_came_through_all_the_same_is_there_once() {
    // Where a sync fails the commit is refused, but all of it may have reached the file (SQLite's "WAL" documentation: a
    // commit is what recovery finds a commit record of).
    let (entries, expected) = a_take();
    // Once in the middle of the take, once for all of it.
    for (name, split) in [("sync-refused-later", 50), ("sync-refused-at-once", 0)] {
        let disk = Disk::new(name);
        let vfs = disk.name().to_string();
        let mut writer = Writer::new(Box::new(move |_| {
            let store = open_with_vfs(Path::new("/journal.db"), &vfs)?;
            Ok(Opened { store, told: None })
        }));
        let (before, after) = entries.split_at(split);
        before.iter().cloned().for_each(|entry| writer.add(entry));
        writer.turn(&moment(100_000));
        disk.refuse_syncs(true);
        after.iter().cloned().for_each(|entry| writer.add(entry));
        let outcomes = writer.turn(&moment(200_000));
        assert_eq!(
            (kept(&outcomes), told(&outcomes).len()),
            (0, 1),
            "{name}: {outcomes:?}"
        );
        disk.refuse_syncs(false);
        assert_eq!(kept(&writer.turn(&moment(240_000))), 1, "{name}");
        drop(writer);
        let store = open_with_vfs(Path::new("/journal.db"), disk.name()).expect("a journal");
        assert_eq!(
            takes(store.connection()),
            std::slice::from_ref(&expected),
            "{name}"
        );
    }
}

#[test]
fn what_a_deleted_take_goes_on_with_is_not_another_s() {
    let dir = tempfile::tempdir().expect("a directory");
    let (path, other) = (dir.path().join("journal.db"), dir.path().join("other.db"));
    let mut theirs = impatient(&other);
    let strangers = take("a stranger's", 0, 10, 2_000, &mut Dice(8));
    strangers.into_iter().for_each(|entry| theirs.add(entry));
    theirs.finish(&Now {
        boot: "another box".into(),
        ..moment(30_000)
    });
    let mut writer = impatient(&path);
    let (entries, _) = a_take();
    let (before, after) = entries.split_at(50);
    before.iter().cloned().for_each(|entry| writer.add(entry));
    writer.turn(&moment(100_000));
    // The newest take is deleted, and another journal's may get its number.
    let mut store = journal::open_as_it_is(&path).expect("a journal");
    journal::forget(store.connection_mut(), Some("me"), None).expect("written");
    journal::merge(store.connection_mut(), &other, Some("Bo")).expect("merged");
    after.iter().cloned().for_each(|entry| writer.add(entry));
    assert_eq!(kept(&writer.turn(&moment(200_000))), 1);
    let expected = [
        ("a stranger's".to_string(), 20.5, 10, 10, 10, 2, true),
        ("today".to_string(), 180.5, 43, 43, 43, 2, true),
    ];
    assert_eq!(takes(store.connection()), expected);
    // What is left of it stands under its stage.
    let stages: i64 = store
        .connection()
        .query_row(
            "SELECT count(*) FROM stages WHERE name = 'roots on one'",
            [],
            |row| row.get(0),
        )
        .expect("a count");
    assert_eq!(stages, 2);
}

#[test]
fn what_the_foot_does_at_rest_wakes_nobody() {
    let mut writer = Writer::new(Box::new(|_| panic!("nothing is to be written")));
    writer.add(Entry::Act(Act {
        at_ms: 1_000,
        switch: 1,
        gesture: "tap",
        action: "louder",
    }));
    for now_ms in [1_000, 2_000, 500_000] {
        assert_eq!(writer.turn(&moment(now_ms)), []);
        assert_eq!(writer.idle_ms(now_ms), 60_000, "{now_ms}");
    }
    assert_eq!(writer.finish(&moment(600_000)), []);
}

#[test]
fn a_clock_that_is_set_after_the_last_take_mends_it() {
    let right = 1_789_991_000_000;
    let at = |boot_ms: i64, right_ms: Option<i64>| Now {
        boot: "one".into(),
        boot_ms,
        wall_ms: boot_ms + right_ms.unwrap_or(0),
        synced: right_ms.is_some(),
    };
    for is_switched_off in [false, true] {
        let dir = tempfile::tempdir().expect("a directory");
        let path = dir.path().join("journal.db");
        let mut writer = impatient(&path);
        let entries = take("today", 5_000, 10, 2_000, &mut Dice(3));
        entries.into_iter().for_each(|entry| writer.add(entry));
        assert_eq!(kept(&writer.turn(&at(30_000, None))), 1);
        // Nothing is played any more; the network tells the time.
        match is_switched_off {
            true => drop(writer.finish(&at(31_000, Some(right)))),
            false => {
                assert!(writer.idle_ms(30_000) <= 10_000, "it is looked for");
                assert_eq!(writer.turn(&at(40_000, Some(right))), []);
                assert_eq!(writer.idle_ms(40_000), 60_000, "it was found");
            }
        }
        let before = writer.transactions();
        assert_eq!(writer.turn(&at(90_000, Some(right + 500))), []);
        assert_eq!(writer.transactions(), before, "nothing has changed");
        let db = journal::open_to_read(&path).expect("a journal");
        let players = journal::players(&db).expect("read");
        assert_eq!(players[0].last_ms, right + 5_000, "{is_switched_off}");
    }
}

#[test]
fn what_is_held_too_long_is_given_up_note_by_note_and_counted() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let is_there = Arc::new(AtomicBool::new(false));
    let (opened, there) = (path.clone(), Arc::clone(&is_there));
    let mut writer = Writer::new(Box::new(move |now| match there.load(Ordering::Relaxed) {
        true => journal::open(&opened, now),
        false => Err(Trouble::NotNow("no medium".into())),
    }));
    let choice = |at_ms| {
        Entry::Choice(ChosenNotes {
            at_ms,
            ..ChosenNotes::default()
        })
    };
    // Two long takes without a medium: more than is held.
    for (number, count) in [150_000i64, 60_000].into_iter().enumerate() {
        let begins = number as i64 * 1_000_000;
        writer.add(Entry::Begin(TakeBegin {
            at_ms: begins,
            player: "me".into(),
            chart: format!("take {number}"),
            drill: String::new(),
        }));
        (0..count).for_each(|n| writer.add(choice(begins + n)));
        writer.add(Entry::End {
            at_ms: begins + count,
        });
    }
    let lost = writer.lost();
    assert!((10_004..=11_004).contains(&lost), "{lost}");
    is_there.store(true, Ordering::Relaxed);
    assert_eq!(kept(&writer.finish(&moment(3_000_000))), 2);
    let db = Connection::open(&path).expect("a journal");
    let mut rows = db
        .prepare("SELECT seconds, (SELECT count(*) FROM choices WHERE take = t.id) FROM takes t ORDER BY id")
        .expect("tables");
    let read = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?));
    let rows = rows.query_map([], read).expect("rows");
    let rows: Vec<(f64, i64)> = rows.collect::<Result<_, _>>().expect("rows");
    // The oldest notes went; both takes are as long as they were.
    assert_eq!(rows, [(150.0, 150_000 - lost as i64), (60.0, 60_000)]);
}
