//! The rows that others refer to: a take, a stage, words that are kept once.

use super::entry::TakeBegin;
use rusqlite::{Connection, Result, params};

/// No take is longer: a clock that jumped would say so.
const LONGEST_S: f64 = 86_400.0;

/// A new take, nothing of it played yet.
pub(super) fn insert_take(
    db: &Connection,
    boot: i64,
    begin: &TakeBegin,
    uid: &[u8],
) -> Result<i64> {
    db.execute(
        "INSERT INTO players (name) VALUES (?1) ON CONFLICT DO NOTHING",
        [&begin.player],
    )?;
    db
            .prepare_cached(
                "INSERT INTO takes (uid, player, boot, begun_ms, seconds, ended, asked, right, chart, drill)
                 VALUES (?1, (SELECT id FROM players WHERE name = ?2), ?3, ?4, 0, 0, 0, 0, ?5, ?6)",
            )?
            .execute(params![uid, begin.player, boot, begin.at_ms, begin.chart, begin.drill])?;
    Ok(db.last_insert_rowid())
}

pub(super) fn insert_stage(
    db: &Connection,
    (take, n): (i64, i64),
    at_ms: i64,
    name: &str,
) -> Result<()> {
    db.prepare_cached(
        "INSERT INTO stages (take, n, at_ms, name) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
    )?
    .execute(params![take, n, at_ms, name])?;
    Ok(())
}

/// The number of a skill; a new one where there is none.
pub(super) fn skill_id(db: &Connection, quality: &str, degree: &str) -> Result<i64> {
    db.prepare_cached(
        "INSERT INTO skills (quality, degree) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
    )?
    .execute([quality, degree])?;
    db.prepare_cached("SELECT id FROM skills WHERE quality = ?1 AND degree = ?2")?
        .query_row([quality, degree], |row| row.get(0))
}

/// The number of what stood around a note: key, root, place, region.
pub(super) fn circumstance_id(db: &Connection, words: [&str; 4]) -> Result<i64> {
    db.prepare_cached(
        "INSERT INTO circumstances (key, root, place, region) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
    )?
    .execute(words)?;
    db.prepare_cached(
        "SELECT id FROM circumstances WHERE key = ?1 AND root = ?2 AND place = ?3 AND region = ?4",
    )?
    .query_row(words, |row| row.get(0))
}

/// How long something lasted: never less than nothing, never more than a day.
pub(super) fn seconds(from_ms: i64, to_ms: i64) -> f64 {
    (to_ms.saturating_sub(from_ms) as f64 / 1_000.0).clamp(0.0, LONGEST_S)
}
