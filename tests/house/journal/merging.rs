//! Journals of several boxes made one.

use crate::support::dice::Dice;
use crate::support::practised::{at_ms, take};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use underfoot::journal::{self, Entry, Merged, Now, Writer};

/// A box with some takes of a student.
fn student(dir: &Path, number: u64, takes: u32) -> PathBuf {
    let path = dir.join(format!("student-{number}.db"));
    let opened = path.clone();
    let mut writer = Writer::new(Box::new(move |now| journal::open(&opened, now)));
    let mut dice = Dice(number);
    for day in 0..takes {
        let mut entries = take(
            &format!("tune {day}"),
            i64::from(day) * 86_400_000,
            12,
            2_000,
            &mut dice,
        );
        for entry in &mut entries {
            if let Entry::Begin(begin) = entry {
                begin.player = format!("student {number}");
            }
        }
        let ended = at_ms(entries.last().expect("entries"));
        entries.into_iter().for_each(|entry| writer.add(entry));
        writer.turn(&Now {
            boot: format!("box {number}"),
            boot_ms: ended + 1_000,
            wall_ms: 1_790_000_000_000 + ended,
            synced: true,
        });
    }
    path
}

/// Every row, without the numbers that belong to a file alone.
fn rows(path: &Path) -> BTreeSet<String> {
    let db = journal::open_to_read(path).expect("a journal");
    let mut rows = BTreeSet::new();
    journal::each_row::<rusqlite::Error>(&db, |row| {
        rows.insert(row.to_string());
        Ok(())
    })
    .expect("read");
    rows
}

fn merge(into: &Path, from: &[PathBuf]) -> Merged {
    let mut store = journal::open_as_it_is(into).expect("a journal");
    let mut all = Merged::default();
    for path in from {
        let merged = journal::merge(store.connection_mut(), path, None).expect("merged");
        all.takes += merged.takes;
        all.verdicts += merged.verdicts;
    }
    all
}

#[test]
fn thirty_journals_are_merged_without_loss_and_twice_is_once() {
    let dir = tempfile::tempdir().expect("a directory");
    let boxes: Vec<PathBuf> = (0..30)
        .map(|number| student(dir.path(), number, 4))
        .collect();
    let one = dir.path().join("teacher.db");
    assert_eq!(
        merge(&one, &boxes),
        Merged {
            takes: 120,
            verdicts: 1_440
        }
    );
    let all = rows(&one);
    let expected: BTreeSet<String> = boxes.iter().flat_map(|path| rows(path)).collect();
    assert_eq!(all.len(), expected.len());
    assert_eq!(all, expected);
    assert_eq!(merge(&one, &boxes), Merged::default());
    assert_eq!(rows(&one), all);
    // In another order, by way of another file, and itself.
    let (half, other) = (dir.path().join("half.db"), dir.path().join("other.db"));
    merge(&half, &boxes[10..]);
    merge(&other, &[boxes[3].clone(), half]);
    merge(&other, &boxes[..20]);
    merge(&other, std::slice::from_ref(&one));
    assert_eq!(rows(&other), all);
    assert_eq!(merge(&one, &[other]), Merged::default());
    // What is counted for reports is what is there.
    let db = journal::open_to_read(&one).expect("a journal");
    let counted: (i64, i64) = db
        .query_row(
            "SELECT (SELECT sum(asked) FROM takes), (SELECT sum(asked) FROM tallies)",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .expect("counts");
    assert_eq!(counted, (1_440, 1_440));
    assert_eq!(journal::players(&db).expect("read").len(), 30);
}

#[test]
fn a_backup_of_half_a_take_gives_way_to_the_whole() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("box.db");
    let opened = path.clone();
    let mut writer = Writer::new(Box::new(move |now| journal::open(&opened, now)));
    let now = |boot_ms| Now {
        boot: "box".into(),
        boot_ms,
        wall_ms: boot_ms,
        synced: false,
    };
    let entries = take("today", 0, 100, 2_000, &mut Dice(1));
    let (first, rest) = entries.split_at(60);
    first.iter().cloned().for_each(|entry| writer.add(entry));
    writer.turn(&now(130_000));
    let backup = dir.path().join("backup.db");
    let db = journal::open_to_read(&path).expect("a journal");
    db.backup("main", &backup, None::<fn(_)>).expect("a copy");
    rest.iter().cloned().for_each(|entry| writer.add(entry));
    writer.turn(&now(230_000));
    let whole = rows(&path);
    assert!(rows(&backup).len() < whole.len());
    assert_eq!(
        merge(&path, std::slice::from_ref(&backup)),
        Merged::default()
    );
    assert_eq!(rows(&path), whole);
    merge(&backup, std::slice::from_ref(&path));
    assert_eq!(rows(&backup), whole);
}
