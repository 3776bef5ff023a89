//! What is read from a journal.

use super::schema::{RESULTS, TIMINGS, begin_change};
use rusqlite::{Connection, OptionalExtension, Result, Row, params};
use serde_json::{Value, json};

/// A player, and how much there is of their practice.
#[derive(Debug, Clone, PartialEq)]
pub struct PlayerSummary {
    pub name: String,
    pub takes: i64,
    pub seconds: f64,
    pub asked: i64,
    pub right: i64,
    /// When the last take began, in milliseconds since 1970.
    pub last_ms: i64,
}

/// All players, those who practised last first.
///
/// # Errors
/// When the file cannot be read.
pub fn players(db: &Connection) -> Result<Vec<PlayerSummary>> {
    let sql = "SELECT p.name, count(*), sum(seconds), sum(asked), sum(right), max(b.offset_ms + t.begun_ms)
        FROM takes t JOIN players p ON p.id = t.player JOIN boots b ON b.id = t.boot
        GROUP BY t.player ORDER BY 6 DESC, 1";
    let mut rows = db.prepare(sql)?;
    let read = |row: &Row<'_>| {
        Ok(PlayerSummary {
            name: row.get(0)?,
            takes: row.get(1)?,
            seconds: row.get(2)?,
            asked: row.get(3)?,
            right: row.get(4)?,
            last_ms: row.get(5)?,
        })
    };
    rows.query_map([], read)?.collect()
}

/// A player's number in this file, by name.
///
/// # Errors
/// When the file cannot be read.
pub fn player_id(db: &Connection, name: &str) -> Result<Option<i64>> {
    db.query_row("SELECT id FROM players WHERE name = ?1", [name], |row| {
        row.get(0)
    })
    .optional()
}

/// One verdict, as the estimator takes it in: what was asked for by numbers of this file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// Milliseconds since 1970.
    pub at_ms: i64,
    pub skill: i64,
    pub circumstance: i64,
    pub tempo_qpm: f64,
    pub right: bool,
    pub in_time: bool,
    pub late_ms: Option<f64>,
}

/// Hands on the verdicts on a player's notes that were clear, in the order of time, the newest `most` of them.
///
/// # Errors
/// When the file cannot be read.
pub fn each_asked(
    db: &Connection,
    player: i64,
    most: u32,
    mut take_in: impl FnMut(Asked),
) -> Result<()> {
    // Takes are read in the order of time, each with its verdicts, which lie together: nothing is sorted but takes.
    let mut takes = db.prepare_cached(
        "SELECT t.id, b.offset_ms + t.begun_ms AS at, t.asked FROM takes t JOIN boots b ON b.id = t.boot
         WHERE t.player = ?1 ORDER BY at DESC, t.uid",
    )?;
    let mut newest: Vec<(i64, i64)> = Vec::new();
    let mut count = 0;
    let mut rows = takes.query([player])?;
    while let Some(row) = rows.next()? {
        newest.push((row.get(0)?, row.get(1)?));
        count += row.get::<_, i64>(2)?;
        if count >= i64::from(most) {
            break;
        }
    }
    let mut verdicts = db.prepare_cached(
        "SELECT at_ms, skill, circumstance, tempo_qpm, result, timing, late_ms FROM verdicts
         WHERE take = ?1 AND result != 4 ORDER BY n",
    )?;
    for (take, begun_ms) in newest.into_iter().rev() {
        let mut rows = verdicts.query([take])?;
        while let Some(row) = rows.next()? {
            let (result, timing): (i64, i64) = (row.get(4)?, row.get(5)?);
            take_in(Asked {
                at_ms: begun_ms + row.get::<_, i64>(0)?,
                skill: row.get(1)?,
                circumstance: row.get(2)?,
                tempo_qpm: row.get(3)?,
                right: result == 0,
                in_time: result == 0 && matches!(timing, 1 | 4),
                late_ms: row.get(6)?,
            });
        }
    }
    Ok(())
}

/// The words of a table whose rows are words, by number: `skills` or `circumstances`.
///
/// # Errors
/// When the file cannot be read.
pub fn words<const N: usize>(
    db: &Connection,
    columns: [&str; N],
    table: &str,
) -> Result<Vec<(i64, [String; N])>> {
    let mut rows = db.prepare(&format!("SELECT id, {} FROM {table}", columns.join(", ")))?;
    let read = |row: &Row<'_>| {
        let mut words = [const { String::new() }; N];
        for (place, word) in words.iter_mut().enumerate() {
            *word = row.get(place + 1)?;
        }
        Ok((row.get(0)?, words))
    };
    rows.query_map([], read)?.collect()
}

/// Hands on everything in the journal, a JSON object each: takes, and what belongs to each after it.
///
/// # Errors
/// When the file cannot be read, or the taker fails.
pub fn each_row<E: From<rusqlite::Error>>(
    db: &Connection,
    mut take_in: impl FnMut(Value) -> std::result::Result<(), E>,
) -> std::result::Result<(), E> {
    let mut takes = db.prepare(
        "SELECT t.id, lower(hex(uid)), p.name, b.offset_ms + t.begun_ms AS at, seconds, ended, chart, drill
         FROM takes t JOIN players p ON p.id = t.player JOIN boots b ON b.id = t.boot ORDER BY at, uid",
    )?;
    let mut rows = takes.query([])?;
    while let Some(row) = rows.next()? {
        let (id, uid): (i64, String) = (row.get(0)?, row.get(1)?);
        take_in(json!({
            "kind": "take", "take": uid, "player": row.get::<_, String>(2)?, "at": iso(row.get(3)?),
            "seconds": row.get::<_, f64>(4)?, "ended": row.get::<_, bool>(5)?, "chart": row.get::<_, String>(6)?,
            "drill": row.get::<_, String>(7)?,
        }))?;
        rows_of(db, id, &uid, &mut take_in)?;
    }
    Ok(())
}

fn rows_of<E: From<rusqlite::Error>>(
    db: &Connection,
    take: i64,
    uid: &str,
    take_in: &mut impl FnMut(Value) -> std::result::Result<(), E>,
) -> std::result::Result<(), E> {
    let parts = [
        "SELECT json_object('kind', 'stage', 'at_ms', at_ms, 'stage', name) FROM stages WHERE take = ?1 ORDER BY n",
        "SELECT json_object('kind', 'foot', 'at_ms', at_ms, 'switch', switch, 'gesture', gesture, 'action', action)
         FROM acts WHERE take = ?1 ORDER BY n",
        "SELECT json_object('kind', 'choice', 'at_ms', at_ms, 'notes', notes, 'degrees', degrees, 'octaves', octaves,
         'positions', positions, 'beats', beats, 'off_beats', off_beats, 'orders', orders, 'repeated', repeated)
         FROM choices WHERE take = ?1 ORDER BY n",
    ];
    for sql in parts {
        let mut rows = db.prepare_cached(sql)?;
        let mut rows = rows.query([take])?;
        while let Some(row) = rows.next()? {
            let text: String = row.get(0)?;
            let mut value: Value = serde_json::from_str(&text).unwrap_or_default();
            value["take"] = json!(uid);
            take_in(value)?;
        }
    }
    let mut verdicts = db.prepare_cached(VERDICTS)?;
    let mut rows = verdicts.query([take])?;
    while let Some(row) = rows.next()? {
        let word = |list: &[&'static str], number: i64| {
            usize::try_from(number)
                .ok()
                .and_then(|n| list.get(n).copied())
        };
        take_in(json!({
            "kind": "verdict", "take": uid, "at_ms": row.get::<_, i64>(0)?, "stage": row.get::<_, Option<String>>(1)?,
            "degree": row.get::<_, String>(2)?, "quality": row.get::<_, String>(3)?, "key": row.get::<_, String>(4)?,
            "root": row.get::<_, String>(5)?, "place": row.get::<_, String>(6)?, "region": row.get::<_, String>(7)?,
            "tempo_qpm": row.get::<_, f64>(8)?, "result": word(&RESULTS, row.get(9)?),
            "time": word(&TIMINGS, row.get(10)?).filter(|word| !word.is_empty()),
            "late_ms": row.get::<_, Option<f64>>(11)?, "found": row.get::<_, bool>(12)?,
        }))?;
    }
    Ok(())
}

const VERDICTS: &str = "SELECT v.at_ms, s.name, k.degree, k.quality, c.key, c.root, c.place, c.region, v.tempo_qpm, v.result,
    v.timing, v.late_ms, v.found FROM verdicts v JOIN skills k ON k.id = v.skill
    JOIN circumstances c ON c.id = v.circumstance LEFT JOIN stages s ON s.take = v.take AND s.n = v.stage
    WHERE v.take = ?1 ORDER BY v.n";

/// A moment as ISO 8601 in UTC.
pub fn iso(at_ms: i64) -> String {
    jiff::Timestamp::from_millisecond(at_ms)
        .map_or_else(|_| String::new(), |at| at.strftime("%FT%TZ").to_string())
}

/// Deletes a player, or everything before a moment, and leaves nothing of it between the rows. Gives how many takes went.
///
/// # Errors
/// When the file cannot be written.
pub fn forget(db: &mut Connection, player: Option<&str>, before_ms: Option<i64>) -> Result<u64> {
    let change = begin_change(db)?;
    let gone = change.execute(
        "DELETE FROM takes WHERE (?1 IS NULL OR player = (SELECT id FROM players WHERE name = ?1))
         AND (?2 IS NULL OR begun_ms + (SELECT offset_ms FROM boots WHERE boots.id = takes.boot) < ?2)",
        params![player, before_ms],
    )?;
    change.execute(
        "DELETE FROM players WHERE id NOT IN (SELECT player FROM takes)",
        [],
    )?;
    change.execute(
        "DELETE FROM skipped WHERE player NOT IN (SELECT name FROM players)",
        [],
    )?;
    change.execute(
        "DELETE FROM boots WHERE id NOT IN (SELECT boot FROM takes)",
        [],
    )?;
    change.commit()?;
    db.execute_batch("VACUUM")?;
    db.pragma_update_and_check(None, "wal_checkpoint", "TRUNCATE", |_| Ok(()))?;
    Ok(gone as u64)
}

/// What a player skipped on a day.
///
/// # Errors
/// When the file cannot be read.
pub fn skipped(
    db: &Connection,
    player: &str,
    day: &str,
) -> Result<std::collections::BTreeSet<String>> {
    let mut rows = db.prepare("SELECT item FROM skipped WHERE player = ?1 AND day = ?2")?;
    rows.query_map([player, day], |row| row.get(0))?.collect()
}

/// Notes that a player skipped something on a day; what was skipped on other days is no more of interest.
///
/// # Errors
/// When the file cannot be written.
pub fn skip(db: &mut Connection, player: &str, day: &str, item: &str) -> Result<()> {
    let change = begin_change(db)?;
    change.execute(
        "DELETE FROM skipped WHERE player = ?1 AND day != ?2",
        [player, day],
    )?;
    change.execute(
        "INSERT INTO skipped (player, day, item) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
        [player, day, item],
    )?;
    change.commit()
}
