//! A reload while the band plays: each setting is in force, or it is told that it needs a restart.
// Runs the program against a real server.

use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::{command, root};
use rustix::process::Signal;
use std::path::Path;
use std::time::Duration;

const BEFORE: &str = "[speech]\nengine = \"none\"\n";

/// Levels, switches, speech, display, a line that is not there; and what needs a restart.
const AFTER: &str = "[levels]\nmaster = -30\nbass = -20\n\
    [speech]\nengine = \"espeak-ng\"\nrate_wpm = 200\n\
    [foot]\nswitches = 2\n[foot.serial]\nport = \"/dev/no-such-line\"\n\
    [display]\nnames = \"German\"\n[[display.screen]]\nkind = \"png\"\ndir = \"screens\"\n\
    [audio]\nclient = \"other\"\na4_hz = 442\n";

fn start(home: &Path) -> Daemon {
    let file = |name: &str| home.join(name).display().to_string();
    std::fs::write(file("foot.txt"), "").expect("a file");
    std::fs::write(file("underfoot.toml"), BEFORE).expect("a file");
    let chart = root("configs/charts/ferry-at-six.toml")
        .display()
        .to_string();
    let (config, foot) = (file("underfoot.toml"), file("foot.txt"));
    let args = [
        "--config", &config, "--chart", &chart, "--foot", &foot, "--fresh",
    ];
    Daemon::start(home, &args)
}

fn reload(daemon: &Daemon, home: &Path, config: &str) {
    std::fs::write(home.join("underfoot.toml"), config).expect("a file");
    daemon.signal(Signal::HUP);
}

#[test]
fn a_reload_takes_what_it_can_and_tells_the_rest() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let _server = Server::start(48_000, 256);
        let daemon = start(home);
        let status = daemon.wait_for_status(15, |status| status["state"] == "playing");
        assert!(status["reload"].is_null(), "{status}");
        reload(&daemon, home, AFTER);
        let status = daemon.wait_for_status(10, |status| !status["reload"].is_null());
        let told = &status["reload"];
        let taken = ["[levels]", "[foot]", "[display]", "[speech]"];
        assert_eq!(told["taken"], serde_json::json!(taken), "{status}");
        let held = ["[audio] client", "[audio] a4_hz"];
        assert_eq!(told["needs_restart"], serde_json::json!(held), "{status}");
        let line = "taken over: [levels], [foot], [display], [speech]; \
            needs a restart: [audio] client, [audio] a4_hz";
        daemon.wait_for_log(line, 5);
        // The new line is looked for, the new screen shows pages, the new voice speaks.
        let has = |status: &serde_json::Value, name: &str| {
            let devices = status["devices"].as_array().into_iter().flatten();
            devices.clone().any(|device| device["name"] == name)
        };
        daemon.wait_for_status(10, |status| has(status, "/dev/no-such-line"));
        let is_page = || std::fs::read_dir(home.join("screens")).is_ok_and(|dir| dir.count() > 1);
        assert!(within(Duration::from_secs(10), is_page), "no pages");
        let is_said = || home.join(".cache/underfoot").exists();
        assert!(within(Duration::from_secs(10), is_said), "no phrases");
        assert_eq!(daemon.status().expect("a status")["state"], "playing");
        // And back: what is not wanted any more is not missed.
        reload(&daemon, home, BEFORE);
        let status = daemon.wait_for_status(10, |status| !has(status, "/dev/no-such-line"));
        assert!(!has(&status, "pages 1"), "{status}");
        assert_eq!(status["reload"]["needs_restart"], serde_json::json!([]));
        // With a fault nothing is taken.
        reload(&daemon, home, "[levels]\nmaster = 7\nbass = -20\n");
        let has_fault = |status: &serde_json::Value| status["reload"]["fault"].is_string();
        let status = daemon.wait_for_status(10, has_fault);
        assert_eq!(status["reload"]["taken"], serde_json::json!([]));
        assert_eq!(status["counters"]["starved"], 0, "{status}");
    });
}

#[test]
fn without_a_chart_it_waits_and_begins_when_one_is_named() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let config = home.join("underfoot.toml");
        let screen = "[speech]\nengine = \"none\"\n[[display.screen]]\nkind = \"terminal\"\n";
        std::fs::write(&config, screen).expect("a file");
        let _server = Server::start(48_000, 256);
        let daemon = Daemon::start(home, &["--config", &config.display().to_string()]);
        let status = daemon.wait_for_status(15, |status| status["jack"]["state"] == "present");
        assert!(status["chart"].is_null(), "{status}");
        assert_eq!(status["state"], "stopped");
        let is_told = || daemon.pages().contains("no chart yet");
        assert!(
            within(Duration::from_secs(5), is_told),
            "{}",
            daemon.pages()
        );
        assert!(
            daemon.pages().contains("underfoot.toml"),
            "{}",
            daemon.pages()
        );
        let chart = root("configs/charts/ferry-at-six.toml")
            .display()
            .to_string();
        reload(&daemon, home, &format!("charts = [\"{chart}\"]\n{screen}"));
        let status = daemon.wait_for_status(10, |status| !status["chart"].is_null());
        assert_eq!(status["reload"]["taken"], serde_json::json!(["charts"]));
        // Without any chart again it keeps what it has, and says so.
        reload(&daemon, home, screen);
        daemon.wait_for_log("not loaded: no chart is named", 5);
        assert!(!daemon.status().expect("a status")["chart"].is_null());
    });
}

/// A chart whose reading takes its time.
fn long_chart(home: &Path) -> String {
    let bars = vec!["\"Dm7 G7\", \"Cmaj7\""; 4_995].join(", ");
    let text = format!("title = \"Long\"\n[[section]]\nname = \"A\"\nbars = [{bars}]\n");
    let path = home.join("long.toml");
    std::fs::write(&path, text).expect("a file");
    path.display().to_string()
}

#[test]
fn while_it_starts_it_can_be_asked_and_a_reload_is_no_end() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let chart = long_chart(home);
        let daemon = Daemon::start(home, &["--chart", &chart, "--fresh"]);
        let has_begun = || home.join("state/lock").exists();
        assert!(
            within(Duration::from_secs(10), has_begun),
            "{}",
            daemon.errors()
        );
        daemon.signal(Signal::HUP);
        let mut first = None;
        let is_told = || {
            first = first.take().or(daemon.status());
            first.is_some()
        };
        assert!(
            within(Duration::from_secs(10), is_told),
            "{}",
            daemon.errors()
        );
        let first = first.expect("a status");
        let later = daemon.wait_for_status(30, |status| status["state"] == "stopped");
        let keys = |status: &serde_json::Value| {
            let tables = ["", "clock", "jack"].map(|table| match table {
                "" => status.clone(),
                table => status[table].clone(),
            });
            let keys = tables.iter().filter_map(|table| table.as_object());
            let keys = keys.flat_map(|table| table.keys().cloned());
            keys.collect::<Vec<String>>()
        };
        assert_eq!(keys(&first), keys(&later));
        daemon.wait_for_status(30, |status| !status["reload"].is_null());
    });
}

#[test]
fn a_second_daemon_is_told_which_process_is_the_first() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let first = start(home);
        first.wait_for_status(15, |_| true);
        let pid = format!("(process {})", first.pid());
        let own = |name: &str| home.join(name).display().to_string();
        // The same socket, the same state, both.
        for (socket, state) in [("socket", "other"), ("other", "state"), ("socket", "state")] {
            let (socket, state) = (own(socket), own(state));
            let second = command(home)
                .args(["run", "--socket", &socket, "--state-dir", &state])
                .output()
                .expect("underfoot");
            let told = String::from_utf8_lossy(&second.stderr);
            assert_eq!(second.status.code(), Some(69), "{told}");
            assert!(told.contains(&pid), "{told}");
        }
        let asked = command(home)
            .args(["status", "--socket", &own("socket")])
            .output();
        assert!(asked.expect("underfoot").status.success());
        drop(first);
        // What a killed one leaves is in nobody's way.
        start(home).wait_for_status(15, |_| true);
    });
}
