//! After a start the daemon proposes what to practise, out of its journal: a foot takes it or plays without it for the day.
// Runs the program against a real server.

use crate::support::daemon::{Daemon, within};
use crate::support::dice::Dice;
use crate::support::jackd::{Server, isolated};
use crate::support::practised::take;
use crate::support::program::command;
use serde_json::Value;
use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::path::Path;
use std::time::{Duration, SystemTime};
use underfoot::journal::{self, Now, Outcome, Writer};

const CHART: &str = "title = \"One Chord\"\nkey = \"C major\"\ntempo = 200\nfeel = \"swing\"\nform = [\"A\"]\n\
    [[section]]\nname = \"A\"\nbars = [\"Gm7\", \"Gm7\", \"Gm7\", \"Gm7\"]\n";

/// A journal with an evening two days ago.
fn two_days_ago(home: &Path) {
    let path = home.join("state/journal.db");
    let mut writer = Writer::new(Box::new(move |now| journal::open(&path, now)));
    let played = take("One Chord", 60_000, 40, 2_000, &mut Dice(4));
    played.into_iter().for_each(|entry| writer.add(entry));
    let since_1970 = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    let wall_ms = since_1970.expect("after 1970").as_millis() as i64 - 48 * 3_600_000;
    let now = Now {
        boot: "earlier".into(),
        boot_ms: 3_600_000,
        wall_ms,
        synced: true,
    };
    assert_eq!(writer.finish(&now), [Outcome::Kept(1)]);
}

/// `underfoot next` for the chart.
fn next(home: &Path, chart: &str) -> String {
    let mut command = command(home);
    command.args(["next", chart, "--journal"]);
    let done = command.arg(home.join("state/journal.db")).output();
    String::from_utf8_lossy(&done.expect("underfoot").stdout).into_owned()
}

/// The first switch goes down for so long.
fn press(board: &mut TTYPort, ms: u64) {
    board.write_all(b"1 down\n").expect("a line");
    std::thread::sleep(Duration::from_millis(ms));
    board.write_all(b"1 up\n").expect("a line");
}

/// A daemon, and the serial line of its switch: a line of its own each time, for one that was
/// held by another program stays locked.
fn started(home: &Path, chart: &str) -> (Daemon, TTYPort) {
    let (board, ours) = TTYPort::pair().expect("a pseudo terminal");
    let name = SerialPort::name(&ours).expect("its name");
    drop(ours);
    let config = home.join("underfoot.toml");
    let text = format!(
        "[audio]\nautoconnect = \"none\"\n[speech]\nengine = \"none\"\n[foot.serial]\nport = \"{name}\"\n\
         [[display.screen]]\nkind = \"terminal\"\n"
    );
    std::fs::write(&config, text).expect("a file");
    let config = config.display().to_string();
    let daemon = Daemon::start(home, &["--config", &config, "--chart", chart, "--fresh"]);
    daemon.wait_for_log(&format!("{name}: present"), 20);
    (daemon, board)
}

#[test]
fn a_foot_takes_the_proposal_of_the_day_or_plays_without_it() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let chart = home.join("chart.toml");
        std::fs::write(&chart, CHART).expect("a file");
        let chart = chart.display().to_string();
        two_days_ago(home);
        let _server = Server::start(48_000, 256);
        let proposed = || {
            let (daemon, board) = started(home, &chart);
            daemon.wait_for_status(20, |status| status["state"] == "menu");
            (daemon, board)
        };
        // Held: its drill is there, and nothing plays yet.
        let (daemon, mut board) = proposed();
        press(&mut board, 2_500);
        let is_taken = |status: &Value| {
            let stage = status["stage"].as_str().unwrap_or_default();
            status["state"] == "stopped" && stage.ends_with(" over minor 7")
        };
        daemon.wait_for_status(10, is_taken);
        let pages = daemon.pages();
        let is_told = pages.contains("10 minutes?") && pages.contains("third over minor 7");
        assert!(is_told, "{pages}");
        drop(daemon);
        // Not played yet: it is proposed again, and a tap plays without it and skips it for today, here and for `next`.
        let of_today = next(home, &chart);
        assert!(of_today.starts_with("1. "), "{of_today}");
        let (daemon, mut board) = proposed();
        press(&mut board, 100);
        let plays =
            |status: &Value| status["state"] == "counting in" || status["state"] == "playing";
        daemon.wait_for_status(10, plays);
        let is_skipped = || next(home, &chart) != of_today;
        assert!(within(Duration::from_secs(10), is_skipped), "{of_today}");
        drop(daemon);
        // Nothing is proposed any more, though there was time for it.
        let (daemon, _board) = started(home, &chart);
        std::thread::sleep(Duration::from_secs(2));
        let status = daemon.status().expect("a status");
        assert_eq!(status["state"], "stopped", "{status}");
    });
}
