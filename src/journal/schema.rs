//! The tables, and how a file of an older version becomes one of this.
//!
//! A take has a random id of 16 bytes; what belongs to it is numbered within it. So a row means the same in every file, and
//! to merge two files is to take the union of their rows. Words that come again and again are kept once (`skills`,
//! `circumstances`), which makes a verdict some 15 bytes.

use rusqlite::{Connection, Result, Transaction, TransactionBehavior};

/// What marks the file as ours (SQLite's `application_id`): "Ufoo".
pub const APPLICATION_ID: i32 = 0x5566_6f6f;

/// The version of the tables that this program writes (SQLite's `user_version`).
pub const VERSION: i32 = MIGRATIONS.len() as i32;

/// What makes a file of version n one of version n + 1.
const MIGRATIONS: [&str; 2] = ["
CREATE TABLE boots (
    id INTEGER PRIMARY KEY,
    boot TEXT NOT NULL UNIQUE,
    -- Milliseconds from the boot's zero to 1970's: when the wall clock is set this is mended.
    offset_ms INTEGER NOT NULL,
    synced INTEGER NOT NULL,
    seen_ms INTEGER NOT NULL
) STRICT;
CREATE TABLE players (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE takes (
    id INTEGER PRIMARY KEY,
    uid BLOB NOT NULL UNIQUE CHECK (length(uid) = 16),
    player INTEGER NOT NULL REFERENCES players,
    boot INTEGER NOT NULL REFERENCES boots,
    begun_ms INTEGER NOT NULL,
    seconds REAL NOT NULL CHECK (seconds BETWEEN 0 AND 86400),
    ended INTEGER NOT NULL,
    asked INTEGER NOT NULL,
    right INTEGER NOT NULL,
    chart TEXT NOT NULL,
    drill TEXT NOT NULL
) STRICT;
CREATE INDEX takes_of ON takes (player, boot);
CREATE TABLE stages (
    take INTEGER NOT NULL REFERENCES takes ON DELETE CASCADE, n INTEGER NOT NULL,
    at_ms INTEGER NOT NULL, name TEXT NOT NULL,
    PRIMARY KEY (take, n)
) STRICT, WITHOUT ROWID;
CREATE TABLE skills (
    id INTEGER PRIMARY KEY, quality TEXT NOT NULL, degree TEXT NOT NULL, UNIQUE (quality, degree)
) STRICT;
CREATE TABLE circumstances (
    id INTEGER PRIMARY KEY,
    key TEXT NOT NULL, root TEXT NOT NULL, place TEXT NOT NULL, region TEXT NOT NULL,
    UNIQUE (key, root, place, region)
) STRICT;
CREATE TABLE verdicts (
    take INTEGER NOT NULL REFERENCES takes ON DELETE CASCADE, n INTEGER NOT NULL,
    stage INTEGER NOT NULL, at_ms INTEGER NOT NULL,
    skill INTEGER NOT NULL REFERENCES skills, circumstance INTEGER NOT NULL REFERENCES circumstances,
    tempo_qpm REAL NOT NULL,
    -- 0 right, 1 octave, 2 wrong, 3 missed, 4 not judged
    result INTEGER NOT NULL,
    -- 0 none, 1 in time, 2 early, 3 late, 4 pushed
    timing INTEGER NOT NULL,
    late_ms REAL, found INTEGER NOT NULL,
    PRIMARY KEY (take, n)
) STRICT, WITHOUT ROWID;
CREATE TABLE acts (
    take INTEGER NOT NULL REFERENCES takes ON DELETE CASCADE, n INTEGER NOT NULL,
    at_ms INTEGER NOT NULL, switch INTEGER NOT NULL, gesture TEXT NOT NULL, action TEXT NOT NULL,
    PRIMARY KEY (take, n)
) STRICT, WITHOUT ROWID;
CREATE TABLE choices (
    take INTEGER NOT NULL REFERENCES takes ON DELETE CASCADE, n INTEGER NOT NULL,
    stage INTEGER NOT NULL, at_ms INTEGER NOT NULL, notes INTEGER NOT NULL, degrees TEXT NOT NULL,
    octaves INTEGER NOT NULL, positions INTEGER NOT NULL, beats INTEGER NOT NULL, off_beats INTEGER NOT NULL,
    orders INTEGER NOT NULL, repeated INTEGER NOT NULL,
    PRIMARY KEY (take, n)
) STRICT, WITHOUT ROWID;
-- How often each skill was asked for in a take, and how often it was right and in time: what reports read.
CREATE TABLE tallies (
    take INTEGER NOT NULL REFERENCES takes ON DELETE CASCADE, skill INTEGER NOT NULL REFERENCES skills,
    asked INTEGER NOT NULL, right INTEGER NOT NULL, in_time INTEGER NOT NULL,
    PRIMARY KEY (take, skill)
) STRICT, WITHOUT ROWID;
-- Proposals that a player skipped: not made again on the same day.
CREATE TABLE skipped (
    player TEXT NOT NULL, day TEXT NOT NULL, item TEXT NOT NULL, PRIMARY KEY (player, day, item)
) STRICT, WITHOUT ROWID;
", "
-- Whether it was a run of the machine that the file lies on; those of other boxes were merged in.
ALTER TABLE boots ADD COLUMN here INTEGER NOT NULL DEFAULT 0;
"];

/// The names of `result` and of `timing` in the tables, in the order of their numbers.
pub(super) const RESULTS: [&str; 5] = ["right", "octave", "wrong", "missed", "not judged"];
pub(super) const TIMINGS: [&str; 5] = ["", "in time", "early", "late", "pushed"];

/// The number of a word in one of these lists; the last for a word that is none of them.
pub(super) fn number_of(words: &[&str], word: &str) -> i64 {
    let found = words.iter().position(|known| *known == word);
    found.unwrap_or(words.len() - 1) as i64
}

/// Makes a file of an older version, or an empty one, one of this version, whole or not at all.
pub(super) fn migrate(db: &mut Connection) -> Result<()> {
    let missing = |db: &Connection| -> Result<&[&str]> {
        let is = version(db)?.max(0) as usize;
        Ok(MIGRATIONS.get(is..).unwrap_or(&[]))
    };
    if missing(db)?.is_empty() {
        return Ok(());
    }
    let change = begin_change(db)?;
    // Another program may have been first.
    let missing = missing(&change)?;
    missing
        .iter()
        .try_for_each(|step| change.execute_batch(step))?;
    change.pragma_update(None, "application_id", APPLICATION_ID)?;
    change.pragma_update(None, "user_version", VERSION)?;
    change.commit()
}

/// Begins a change with the right to write: that is what SQLite waits for while another program writes. Where a change begins by
/// reading it does not wait, it fails.
pub(super) fn begin_change(db: &mut Connection) -> Result<Transaction<'_>> {
    db.transaction_with_behavior(TransactionBehavior::Immediate)
}

pub(super) fn version(db: &Connection) -> Result<i32> {
    db.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// How each connection is: see the room for the reasons.
pub(super) fn set_up(db: &Connection) -> Result<()> {
    db.busy_timeout(std::time::Duration::from_secs(5))?;
    // Before the first table. A page is what is written at the least, and a transaction writes about ten.
    db.pragma_update(None, "page_size", 1024)?;
    db.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
    db.pragma_update(None, "synchronous", "FULL")?;
    db.pragma_update(None, "wal_autocheckpoint", 0)?;
    db.pragma_update(None, "foreign_keys", true)?;
    // A forgotten player leaves nothing between the rows.
    db.pragma_update(None, "secure_delete", true)?;
    // The file may be hostile: no view or trigger of it runs functions of ours.
    db.pragma_update(None, "trusted_schema", false)?;
    db.pragma_update(None, "cache_size", -4096)
}
