//! Whatever lies in the journal's place, it is said once, set aside, and playing is kept.

use crate::support::dice::Dice;
use crate::support::practised::{at_ms, moment, take};
use rusqlite::Connection;
use std::path::{Path, PathBuf};
use underfoot::journal::{self, APPLICATION_ID, Entry, Outcome, VERSION, Writer};

fn journal_at(path: &Path) -> Writer {
    let path = path.to_path_buf();
    Writer::new(Box::new(move |now| journal::open(&path, now)))
}

/// Plays a take and has it written; gives what was told, and how many takes were kept.
fn play(writer: &mut Writer, name: &str, begins_ms: i64) -> (Vec<String>, u32) {
    let entries = take(name, begins_ms, 20, 2_000, &mut Dice(3));
    let ended = at_ms(entries.last().expect("entries"));
    entries.into_iter().for_each(|entry| writer.add(entry));
    told(writer.turn(&moment(ended + 1_000)))
}

fn told(outcomes: Vec<Outcome>) -> (Vec<String>, u32) {
    let (mut lines, mut kept) = (Vec::new(), 0);
    for outcome in outcomes {
        match outcome {
            Outcome::Kept(takes) => kept += takes,
            Outcome::Told(line) => lines.push(line),
        }
    }
    (lines, kept)
}

fn count(path: &Path, what: &str) -> i64 {
    let db = Connection::open(path).expect("a journal");
    db.query_row(&format!("SELECT count(*) FROM {what}"), [], |row| {
        row.get(0)
    })
    .expect("a count")
}

/// A journal with three takes.
fn make(path: &Path) {
    let mut writer = journal_at(path);
    for number in 0..3 {
        assert_eq!(
            play(&mut writer, &format!("take {number}"), number * 100_000).1,
            1
        );
    }
    writer.finish(&moment(400_000));
}

/// What lies there, what is said of it, and how many of its three takes are taken over.
type Case = (&'static str, fn(&Path), &'static str, i64);

const CASES: [Case; 11] = [
    ("nothing", |_| {}, "", 0),
    (
        "an empty file",
        |path| std::fs::write(path, "").expect("a file"),
        "",
        0,
    ),
    (
        "another program's text",
        |path| std::fs::write(path, "title = 1\n").expect("a file"),
        "it is no journal",
        0,
    ),
    (
        "another program's database",
        |path| {
            let db = Connection::open(path).expect("a file");
            db.execute_batch("CREATE TABLE songs (name TEXT)")
                .expect("a table");
        },
        "it is another program's database",
        0,
    ),
    (
        "a newer version",
        |path| {
            make(path);
            let db = Connection::open(path).expect("a journal");
            db.pragma_update(None, "user_version", VERSION + 1)
                .expect("a pragma");
        },
        "a newer underfoot wrote it",
        0,
    ),
    (
        "half a file",
        |path| {
            make(path);
            let bytes = std::fs::read(path).expect("a journal");
            std::fs::write(path, &bytes[..bytes.len() / 2]).expect("a file");
        },
        "the journal is damaged",
        0,
    ),
    (
        "only its head",
        |path| {
            make(path);
            let bytes = std::fs::read(path).expect("a journal");
            std::fs::write(path, &bytes[..50]).expect("a file");
        },
        "the journal is damaged",
        0,
    ),
    (
        "a page of noise among the verdicts",
        |path| {
            make(path);
            let page: u32 = {
                let db = Connection::open(path).expect("a journal");
                db.query_row(
                    "SELECT rootpage FROM sqlite_schema WHERE name = 'acts'",
                    [],
                    |row| row.get(0),
                )
                .expect("a table")
            };
            let mut bytes = std::fs::read(path).expect("a journal");
            let ends = page as usize * 1_024;
            bytes[ends - 1_024..ends].fill(0xa5);
            std::fs::write(path, bytes).expect("a file");
        },
        "the journal is damaged",
        3,
    ),
    (
        "a link",
        |path| {
            let other = path.with_extension("other");
            make(&other);
            std::os::unix::fs::symlink(other, path).expect("a link");
        },
        "it is a link, and the journal is to be a file",
        0,
    ),
    (
        "a directory",
        |path| std::fs::create_dir(path).expect("a directory"),
        "it is no file",
        0,
    ),
    (
        "a pipe",
        |path| {
            let mode = rustix::fs::Mode::from_raw_mode(0o600);
            rustix::fs::mkfifoat(rustix::fs::CWD, path, mode).expect("a pipe");
        },
        "it is no file",
        0,
    ),
];

#[test]
fn what_cannot_be_used_is_set_aside_and_said_once() {
    for (name, lay, expected, saved) in CASES {
        let dir = tempfile::tempdir().expect("a directory");
        let path = dir.path().join("state/journal.db");
        std::fs::create_dir(dir.path().join("state")).expect("a directory");
        lay(&path);
        let aside = PathBuf::from(format!("{}.2026-09-21", path.display()));
        let mut writer = journal_at(&path);
        let (lines, kept) = play(&mut writer, "today", 1_000_000);
        assert_eq!(kept, 1, "{name}: {lines:?}");
        match expected {
            "" => assert_eq!(lines, Vec::<String>::new(), "{name}"),
            why => {
                assert_eq!(lines.len(), 1, "{name}: {lines:?}");
                assert!(lines[0].contains(why), "{name}: {lines:?}");
                assert!(
                    lines[0].contains(&aside.display().to_string()),
                    "{name}: {lines:?}"
                );
                assert!(std::fs::symlink_metadata(&aside).is_ok(), "{name}");
            }
        }
        // The next take is kept without a word.
        assert_eq!(
            play(&mut writer, "more", 2_000_000),
            (Vec::new(), 1),
            "{name}"
        );
        drop(writer);
        assert_eq!(count(&path, "takes"), 2 + saved, "{name}");
        // A reader of the file that is no journal is told why, and nothing is moved.
        if expected == "it is no journal" {
            let told = journal::open_to_read(&aside).expect_err(name).to_string();
            assert!(told.contains(expected), "{told}");
        }
    }
}

#[test]
fn what_cannot_be_written_is_held_until_it_can() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let mut full = true;
    // A file that may not grow: as on a full disk.
    let mut writer = Writer::new(Box::new(move |now| {
        let opened = journal::open(&path, now)?;
        let most = if std::mem::take(&mut full) {
            1
        } else {
            1_000_000
        };
        opened
            .store
            .connection()
            .pragma_update_and_check(None, "max_page_count", most, |_| Ok(()))
            .expect("a pragma");
        Ok(opened)
    }));
    let entries = take("today", 0, 400, 100, &mut Dice(3));
    entries.into_iter().for_each(|entry| writer.add(entry));
    let (lines, kept) = told(writer.turn(&moment(42_000)));
    assert_eq!(kept, 0);
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert!(
        lines[0].contains("no space is left; what you play is held"),
        "{lines:?}"
    );
    // It is tried again half a minute later, not at once, and said no more.
    assert_eq!(told(writer.turn(&moment(50_000))), (Vec::new(), 0));
    let (lines, kept) = told(writer.turn(&moment(90_000)));
    assert_eq!((lines, kept, writer.waiting()), (Vec::new(), 1, 0));
}

#[test]
fn a_take_goes_on_in_a_new_file_where_the_old_one_is_gone() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let mut writer = journal_at(&path);
    let entries = take("today", 0, 90, 2_000, &mut Dice(3));
    let (before, after) = entries.split_at(50);
    before.iter().cloned().for_each(|entry| writer.add(entry));
    assert_eq!(told(writer.turn(&moment(100_000))), (Vec::new(), 0));
    assert_eq!(count(&path, "verdicts"), 47);
    // Whoever deletes a player in the middle of a take deletes the take.
    let mut store = journal::open_as_it_is(&path).expect("a journal");
    assert_eq!(
        journal::forget(store.connection_mut(), Some("me"), None).expect("written"),
        1
    );
    after.iter().cloned().for_each(|entry| writer.add(entry));
    assert_eq!(told(writer.turn(&moment(200_000))).1, 1);
    assert_eq!(
        (count(&path, "takes"), count(&path, "verdicts WHERE n > 0")),
        (1, 43)
    );
}

#[test]
fn what_is_read_from_a_wrong_clock_is_mended_when_it_is_set() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("journal.db");
    let mut writer = journal_at(&path);
    let at = |boot_ms, wall_ms, synced| journal::Now {
        boot: "one".into(),
        boot_ms,
        wall_ms,
        synced,
    };
    let begun = || {
        let db = journal::open_to_read(&path).expect("a journal");
        let players = journal::players(&db).expect("read");
        (players[0].last_ms, players[0].seconds)
    };
    for entry in take("today", 5_000, 10, 2_000, &mut Dice(3)) {
        writer.add(entry);
    }
    // A board without a battery clock begins in 1970.
    writer.turn(&at(30_000, 30_000, false));
    assert_eq!(begun(), (5_000, 20.5));
    // The network tells the time; the next take is written.
    let offset = 1_790_000_000_000;
    let mut play = |name: &str, begins: i64, wall_ms: i64, synced: bool| {
        for entry in take(name, begins, 10, 2_000, &mut Dice(3)) {
            writer.add(entry);
        }
        writer.turn(&at(begins + 40_000, wall_ms + begins + 40_000, synced));
    };
    play("second", 100_000, offset, true);
    assert_eq!(begun().0, offset + 100_000);
    let db = journal::open_to_read(&path).expect("a journal");
    let first: i64 = db
        .query_row(
            "SELECT min(offset_ms + begun_ms) FROM takes t JOIN boots b ON b.id = t.boot",
            [],
            |row| row.get(0),
        )
        .expect("a time");
    assert_eq!(first, offset + 5_000);
    // A clock that is not known to be right does not move what is.
    play("third", 200_000, 77, false);
    assert_eq!(begun().0, offset + 200_000);
    // A take is never negative nor longer than a day, whatever came in.
    for (begins, ends, seconds) in [
        (300_000, 299_000, 0.0),
        (400_000, 400_000 + 90_000_000, 86_400.0),
    ] {
        let mut strange = take("strange", begins, 0, 1, &mut Dice(3));
        strange.retain(|entry| !matches!(entry, Entry::End { .. }));
        strange.push(Entry::End { at_ms: ends });
        strange.into_iter().for_each(|entry| writer.add(entry));
        writer.turn(&at(ends.max(begins) + 2_000, 0, false));
        let last: f64 = db
            .query_row(
                "SELECT seconds FROM takes ORDER BY id DESC LIMIT 1",
                [],
                |row| row.get(0),
            )
            .expect("a length");
        assert_eq!(last, seconds);
    }
    assert_eq!(APPLICATION_ID.to_be_bytes(), *b"Ufoo");
}
