//! A disk whose sync takes two seconds changes nothing in what is heard, said and seen.
#![cfg(feature = "jack")]
// Runs the program against a real server, and builds a library for it.

use crate::support::calm::{Disturbed, Probe, undisturbed};
use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::{events, root};
use rustix::process::Signal;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

const RATE: f64 = 48_000.0;
/// How long the loop may take for all that came in: what an event may wait.
const TURN_LIMIT_US: u64 = 5_000;
/// From a page's line to the page on the screen: as in the test of the pages.
const PAGE_LIMIT_MS: f64 = 150.0;
/// A probe that wakes later than this was kept from it, and so may the program have been.
const BUSY: Duration = Duration::from_millis(2);

/// The C library's ways to have something written for good, two seconds late, and counted.
const SLOW: &str = r#"
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

static int slow(const char *name, int file) {
    struct timespec pause = {2, 0};
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, name);
    int count = open(getenv("SLOW_SYNCS"), O_WRONLY | O_CREAT | O_APPEND, 0600);
    if (count >= 0 && write(count, "s", 1) == 1)
        close(count);
    nanosleep(&pause, 0);
    return real(file);
}

int fsync(int file) { return slow("fsync", file); }
int fdatasync(int file) { return slow("fdatasync", file); }
int syncfs(int file) { return slow("syncfs", file); }
"#;

/// Whatever is kept changes in the middle of a take, and takes begin again. Beats at 132.
const FOOT: &str = "
    2.3   1 down
    2.5   1 up      # louder
    5.3   2 down
    5.6   2 up      # next stage
    8.3   3 down
    8.5   3 up      # tempo up
    11.3  4 down
    11.5  4 up      # next section
    15.3  1 down
    17.6  1 up      # held: stop
    20.3  1 down
    20.5  1 up      # start
    25.3  1 down
    27.6  1 up      # held: stop
    29.3  1 down
    29.5  1 up      # start
";
const CONFIG: &str = "
[foot]
switches = 4
[foot.map.playing]
\"1 tap\" = \"louder\"
\"2 tap\" = \"next stage\"
\"3 tap\" = \"tempo up\"
\"4 tap\" = \"next section\"
[[display.screen]]
kind = \"terminal\"
";
const SECONDS: &str = "18";

/// What a run came to.
#[derive(Debug)]
#[allow(dead_code)] // Printed.
struct Figures {
    syncs: usize,
    /// Cues that were said, and by how much the one that was said last ended before it had to have.
    said: usize,
    spare_ms: f64,
    pages: usize,
    page_worst_ms: f64,
    slow_turns: u64,
    worst_turn_us: u64,
    late_commands: u64,
    starved: u64,
    lost_lines: u64,
    /// How late the probe woke at the worst.
    probe: Duration,
}

/// Builds the library into `dir`.
fn slow_library(dir: &Path) -> PathBuf {
    let (source, library) = (dir.join("slow.c"), dir.join("slow.so"));
    std::fs::write(&source, SLOW).expect("a file");
    let mut compiler = Command::new("cc");
    compiler
        .args(["-shared", "-fPIC", "-o"])
        .arg(&library)
        .arg(&source)
        .arg("-ldl");
    let done = compiler.status().expect("cc (Debian package gcc)");
    assert!(done.success());
    library
}

/// Plays the script; also reads the charts anew in the middle of it.
fn run(slow: Option<&Path>) -> Figures {
    let dir = tempfile::tempdir().expect("a directory");
    let file = |name: &str| dir.path().join(name);
    std::fs::write(file("underfoot.toml"), CONFIG).expect("a file");
    std::fs::write(file("foot.txt"), FOOT).expect("a file");
    let names = [
        file("underfoot.toml"),
        root("configs/charts/ferry-at-six.toml"),
        root("configs/drills/first-evening.toml"),
        file("foot.txt"),
        file("events.jsonl"),
    ];
    let names = names.map(|name| name.display().to_string());
    let [config, chart, drill, foot, log] = &names;
    let args = [
        "--config",
        config,
        "--chart",
        chart,
        "--drill",
        drill,
        "--foot",
        foot,
        "--events",
        log,
        "--seconds",
        SECONDS,
    ];
    let syncs = file("syncs");
    let variables: Vec<(&str, &Path)> = slow
        .into_iter()
        .flat_map(|library| [("LD_PRELOAD", library), ("SLOW_SYNCS", syncs.as_path())])
        .collect();
    let _server = Server::start(RATE as u32, 512);
    let daemon = Daemon::start_with(&file("home"), &args, &variables);
    daemon.wait_for_status(60, |status| status["state"] == "playing");
    let (probe, mut last) = (Probe::start(), Value::Null);
    std::thread::sleep(Duration::from_secs(4));
    daemon.signal(Signal::HUP);
    // The last status before it ends by itself; it is asked for seldom, because that takes a processor.
    within(Duration::from_secs(60), || {
        std::thread::sleep(Duration::from_secs(1));
        let status = daemon.status();
        let is_over = status.is_none();
        last = status.unwrap_or(std::mem::take(&mut last));
        is_over
    });
    let probe = probe.finish().worst();
    let ended = daemon.wait(20);
    assert_eq!(ended.code, Some(0), "{}", ended.errors);
    assert!(file("home/state/place.json").exists(), "{}", ended.errors);
    let counted = |name: &str| last["counters"][name].as_u64().expect("a counter");
    let lines = events(&file("events.jsonl"));
    let number = |line: &Value, key: &str| line[key].as_f64();
    let ms = |frames: f64| frames * 1000.0 / RATE;
    let spare = lines
        .iter()
        .filter(|line| line["kind"] == "say")
        .filter_map(|line| {
            Some(ms(
                number(line, "deadline_frame")? - number(line, "end_frame")?
            ))
        });
    let spare: Vec<f64> = spare.collect();
    let shown = lines
        .iter()
        .filter(|line| line["kind"] == "shown")
        .filter_map(|line| Some(ms(number(line, "frame")? - number(line, "page_frame")?)));
    let shown: Vec<f64> = shown.collect();
    Figures {
        syncs: std::fs::read(&syncs).map_or(0, |all| all.len()),
        said: spare.len(),
        spare_ms: spare.iter().copied().fold(f64::MAX, f64::min),
        pages: shown.len(),
        page_worst_ms: shown.iter().copied().fold(0.0, f64::max),
        slow_turns: counted("slow_turns"),
        worst_turn_us: counted("worst_turn_us"),
        late_commands: counted("late_commands"),
        starved: counted("starved"),
        lost_lines: counted("lost_lines"),
        probe,
    }
}

#[test]
fn a_slow_disk_is_neither_heard_nor_seen() {
    isolated(|| {
        let dir = tempfile::tempdir().expect("a directory");
        let library = slow_library(dir.path());
        undisturbed("slow disk", || {
            let (quick, slow) = (run(None), run(Some(&library)));
            println!("a usual disk:        {quick:?}\na sync takes two s:  {slow:?}");
            // Place and event log, a second after each change and at the end.
            assert!(slow.syncs >= 5, "{} syncs were delayed", slow.syncs);
            assert_eq!(quick.syncs, 0);
            let is_well = |run: &Figures| {
                run.spare_ms >= 0.0
                    && run.page_worst_ms <= PAGE_LIMIT_MS
                    && run.worst_turn_us <= TURN_LIMIT_US
                    && (run.late_commands, run.starved, run.lost_lines) == (0, 0, 0)
            };
            let same = (quick.said, quick.pages) == (slow.said, slow.pages);
            match (
                same && is_well(&quick) && is_well(&slow),
                quick.probe.max(slow.probe),
            ) {
                (true, _) => Ok(()),
                (false, probe) if probe > BUSY => Err(Disturbed::Busy(format!("{probe:?}"))),
                (false, _) => Err(Disturbed::Amiss("see the figures".into())),
            }
        });
    });
}
