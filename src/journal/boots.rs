//! The machine's runs, and when they were.
//!
//! A board without a battery clock may be switched off before its clock was ever set. Then nobody knows when that run was; but
//! it was after the run before it and before the one after. What the clock said is kept where that can be so. Where it cannot
//! (a clock that begins in 1970 each time), the runs between two whose time is known are laid between them, in their order and
//! evenly: so none is off by more than a part of that gap. Runs that another box brought along (`merge`) stay as they are.

use super::clock::{Now, WallOffset};
use rusqlite::{Connection, OptionalExtension, Result, params};

/// The row of the machine's run; its offset mended where the wall clock was set, and with it those before it.
pub(super) fn boot(db: &Connection, now: &Now) -> Result<i64> {
    let offset = now.offset();
    let Some((id, known)) = known(db, now)? else {
        db.execute(
            "INSERT INTO boots (boot, offset_ms, synced, seen_ms, here) VALUES (?1, ?2, ?3, ?4, 1)",
            params![now.boot, offset.ms, now.synced, now.boot_ms],
        )?;
        let id = db.last_insert_rowid();
        set_right(db)?;
        return Ok(id);
    };
    if offset.mends(known) {
        db.execute(
            "UPDATE boots SET offset_ms = ?2, synced = ?3, seen_ms = ?4, here = 1 WHERE id = ?1",
            params![id, offset.ms, now.synced, now.boot_ms],
        )?;
        set_right(db)?;
    }
    Ok(id)
}

/// What is written of the machine's run; none where nothing is.
pub(super) fn known_offset(db: &Connection, now: &Now) -> Result<Option<WallOffset>> {
    Ok(known(db, now)?.map(|(_, offset)| offset))
}

fn known(db: &Connection, now: &Now) -> Result<Option<(i64, WallOffset)>> {
    db.prepare_cached("SELECT id, offset_ms, synced FROM boots WHERE boot = ?1")?
        .query_row([&now.boot], |row| {
            let (ms, synced) = (row.get(1)?, row.get(2)?);
            Ok((row.get(0)?, WallOffset { ms, synced }))
        })
        .optional()
}

/// A run of the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Run {
    id: i64,
    /// When it began, in milliseconds since 1970, as far as is known.
    begins_ms: i64,
    /// How long it lasted at the least.
    lasts_ms: i64,
    is_known: bool,
}

impl Run {
    fn ends_ms(&self) -> i64 {
        self.begins_ms + self.lasts_ms
    }
}

/// Sets right when the runs of this machine were whose clock was never set.
fn set_right(db: &Connection) -> Result<()> {
    let sql = "SELECT b.id, b.offset_ms, max(b.seen_ms, coalesce(max(t.begun_ms + CAST(1000 * t.seconds AS INTEGER)), 0)), b.synced
        FROM boots b LEFT JOIN takes t ON t.boot = b.id WHERE b.here = 1 GROUP BY b.id ORDER BY b.id";
    let mut rows = db.prepare_cached(sql)?;
    let read = |row: &rusqlite::Row<'_>| {
        Ok(Run {
            id: row.get(0)?,
            begins_ms: row.get(1)?,
            lasts_ms: row.get(2)?,
            is_known: row.get(3)?,
        })
    };
    let runs = rows.query_map([], read)?.collect::<Result<Vec<Run>>>()?;
    for (id, begins_ms) in laid(&runs) {
        db.execute(
            "UPDATE boots SET offset_ms = ?2 WHERE id = ?1",
            params![id, begins_ms],
        )?;
    }
    Ok(())
}

/// The runs that cannot have been when their clocks say, and when they were instead.
fn laid(runs: &[Run]) -> Vec<(i64, i64)> {
    let (mut moved, mut before, mut open) = (Vec::new(), None, Vec::new());
    for run in runs {
        if run.is_known {
            moved.extend(between(&open, before, run.begins_ms));
            (before, open) = (Some(run.ends_ms()), Vec::new());
        } else {
            open.push(*run);
        }
    }
    moved
}

/// Runs whose clocks were never set, after the end of a known one and before the beginning of another.
fn between(open: &[Run], after: Option<i64>, until: i64) -> Vec<(i64, i64)> {
    let mut end = after.unwrap_or(i64::MIN);
    let mut can_be = true;
    for run in open {
        can_be &= run.begins_ms >= end;
        end = run.ends_ms();
    }
    if open.is_empty() || can_be && end <= until {
        return Vec::new();
    }
    let lasted: i64 = open.iter().map(|run| run.lasts_ms).sum();
    // With nothing known before, they were at the latest one right after the other.
    let free = after.map_or(0, |after| (until - after - lasted).max(0));
    let gap = free / (open.len() as i64 + 1);
    let mut at = until - gap;
    let mut moved = Vec::new();
    for run in open.iter().rev() {
        at -= run.lasts_ms;
        moved.push((run.id, at));
        at -= gap;
    }
    moved
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Runs as "begins+lasts", `?` before those whose clock was never set; what becomes of them, those that moved in brackets.
    fn told(runs: &str) -> String {
        let read = |(id, word): (usize, &str)| {
            let (begins, lasts) = word
                .trim_start_matches('?')
                .split_once('+')
                .expect("two numbers");
            Run {
                id: id as i64,
                begins_ms: begins.parse().expect("a number"),
                lasts_ms: lasts.parse().expect("a number"),
                is_known: !word.starts_with('?'),
            }
        };
        let runs: Vec<Run> = runs.split_whitespace().enumerate().map(read).collect();
        let moved = laid(&runs);
        let told = |run: &Run| match moved.iter().find(|(id, _)| *id == run.id) {
            Some((_, at)) => format!("[{at}]"),
            None => run.begins_ms.to_string(),
        };
        runs.iter().map(told).collect::<Vec<_>>().join(" ")
    }

    #[test]
    #[rustfmt::skip]
    fn a_run_lies_where_it_can_have_been() {
        for (runs, expected) in [
            // Nothing is known yet.
            ("?0+10",                              "0"),
            ("100+10 ?0+10",                       "100 0"),
            // After the one before, and before the one after: what the clock says is kept.
            ("100+10 ?110+10 ?130+10 200+10",      "100 110 130 200"),
            // It cannot have been then: evenly.
            ("100+10 ?0+10 200+10",                "100 [150] 200"),
            ("100+10 ?0+20 ?0+10 200+10",          "100 [130] [170] 200"),
            // A clock that ran ahead; one that fell back.
            ("100+10 ?900+10 200+10",              "100 [150] 200"),
            ("100+10 ?150+10 ?140+10 200+10",      "100 [134] [167] 200"),
            // Nothing before: one after the other.
            ("?0+10 ?300+10 200+10",               "[180] [190] 200"),
            ("?0+10 ?10+10 200+10",                "0 10 200"),
            // More than there is room for.
            ("100+90 ?0+20 200+10",                "100 [180] 200"),
            ("100+10 ?0+10 200+10 ?0+10 300+1",    "100 [150] 200 [250] 300"),
        ] {
            assert_eq!(told(runs), expected, "{runs}");
        }
    }
}
