//! A journal of ten years and thirty players: a report needs no more than 100 MB; what it takes of the processor's time is told.

use crate::support::program::command;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Stdio};
use underfoot::journal;

/// A tenth of it in every run; `tests/long` has all.
fn takes() -> i64 {
    let whole = std::env::var_os("UNDERFOOT_WHOLE_JOURNAL").is_some();
    if whole { 110_000 } else { 11_000 }
}

/// Written straight into the tables: 60 verdicts a take over 20 skills, as an hour of practice has in two minutes.
fn make(path: &Path) {
    let store = journal::open_as_it_is(path).expect("a journal");
    let db = store.connection();
    db.pragma_update(None, "synchronous", "OFF")
        .expect("a pragma");
    let days = 3_650.0;
    let sql = format!(
        "BEGIN;
         INSERT INTO boots (boot, offset_ms, synced, seen_ms) SELECT 'boot', unixepoch('now') * 1000 - {days} * 86400000, 1, 0;
         WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 29)
         INSERT INTO players (name) SELECT 'player ' || i FROM n;
         WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 19)
         INSERT INTO skills (quality, degree) SELECT
            CASE i % 5 WHEN 0 THEN 'minor 7' WHEN 1 THEN 'dominant' WHEN 2 THEN 'major 7' WHEN 3 THEN 'minor 6'
            ELSE 'half-diminished' END, CASE i / 5 WHEN 0 THEN '1' WHEN 1 THEN '3' WHEN 2 THEN '5' ELSE '7' END FROM n;
         WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 83)
         INSERT INTO circumstances (key, root, place, region) SELECT 'key ' || (i % 7), '', 1 + i % 4, 'position ' || (i % 3)
            FROM n;
         WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {takes} - 1)
         INSERT INTO takes (uid, player, boot, begun_ms, seconds, ended, asked, right, chart, drill)
            SELECT randomblob(16), 1 + i % 30, 1, CAST(i * {days} / {takes} * 86400000 AS INTEGER), 120, 1, 60, 48, 'Ferry at Six', 'roots'
            FROM n;
         WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 59)
         INSERT INTO verdicts (take, n, stage, at_ms, skill, circumstance, tempo_qpm, result, timing, late_ms, found)
            SELECT t.id, n.i, 1, n.i * 2000, 1 + (t.id % 4) * 5 + n.i % 5, 1 + (t.id + n.i) % 84, 80 + t.id % 60,
            (t.id * 7919 + n.i * 104729) % 10 / 8 * 3, 1, 12, 0 FROM takes t, n ORDER BY t.id, n.i;
         INSERT INTO tallies (take, skill, asked, right, in_time)
            SELECT take, skill, count(*), sum(result = 0), sum(result = 0) FROM verdicts GROUP BY take, skill;
         COMMIT;",
        takes = takes()
    );
    db.execute_batch(&sql).expect("written");
    store.checkpoint().expect("written");
}

/// All the memory that a report may have, what is only set aside and the program itself included.
const BYTES: u64 = 100_000_000;

/// Runs it with no more memory than that; gives the seconds of the processor.
#[allow(clippy::zombie_processes)] // `wait4` waits.
fn seconds(mut command: Command) -> f64 {
    let limit = || {
        let limit = rustix::process::Rlimit {
            current: Some(BYTES),
            maximum: Some(BYTES),
        };
        Ok(rustix::process::setrlimit(
            rustix::process::Resource::As,
            limit,
        )?)
    };
    // SAFETY: between fork and exec it makes one system call.
    unsafe { command.pre_exec(limit) };
    let child = command.stdout(Stdio::null()).spawn().expect("the program");
    let (mut status, mut used) = (0, unsafe { std::mem::zeroed::<libc::rusage>() });
    // SAFETY: it writes to the two that it is given, and the child is waited for once.
    unsafe { libc::wait4(child.id() as i32, &raw mut status, 0, &raw mut used) };
    assert_eq!(status, 0);
    let seconds = |time: libc::timeval| time.tv_sec as f64 + time.tv_usec as f64 / 1e6;
    seconds(used.ru_utime) + seconds(used.ru_stime)
}

#[test]
fn ten_years_of_thirty_players_are_reported_in_little_memory() {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join("ten-years.db");
    make(&path);
    let bytes = std::fs::metadata(&path).expect("a file").len();
    for arguments in [
        &["--text"][..],
        &["--player", "player 7", "--html", "a.html"],
    ] {
        let mut command = command(dir.path());
        command
            .args(["journal", "report", "--journal", "ten-years.db"])
            .args(arguments)
            .current_dir(dir.path());
        let seconds = seconds(command);
        println!(
            "{} takes, {bytes} bytes, report {arguments:?} within {BYTES} bytes of memory: {seconds:.2} s of the processor",
            takes()
        );
    }
}
