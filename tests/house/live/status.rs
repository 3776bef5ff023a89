//! What the running daemon tells, and how it ends and begins again.
// Runs the program against a real server.

use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::root;
use rustix::process::Signal;
use std::path::Path;
use std::time::{Duration, Instant};

/// The private memory of the daemon may be this much, in MiB.
const PRIVATE_LIMIT_MIB: u64 = 25;

fn start(home: &Path, chart: &Path, more: &[&str]) -> Daemon {
    let (config, foot) = (home.join("underfoot.toml"), home.join("foot.txt"));
    std::fs::create_dir_all(home).expect("a directory");
    std::fs::write(&config, "[speech]\nengine = \"none\"\n").expect("a file");
    std::fs::write(&foot, "").expect("a file");
    let name = |path: &Path| path.display().to_string();
    let (config, foot, chart) = (name(&config), name(&foot), name(chart));
    let mut args = vec!["--config", &config, "--chart", &chart, "--foot", &foot];
    args.extend(more);
    Daemon::start(home, &args)
}

#[test]
fn the_status_has_every_key_and_the_memory_is_small() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let _server = Server::start(48_000, 256);
        let chart = root("configs/charts/ferry-at-six.toml");
        let daemon = start(home.path(), &chart, &["--fresh"]);
        let status = daemon.wait_for_status(15, |status| status["state"] == "playing");
        for key in [
            "state", "chart", "stage", "section", "bar", "bpm", "clock", "jack", "devices",
            "counters",
        ] {
            assert!(status.get(key).is_some(), "no {key}: {status}");
        }
        for (table, key) in [
            ("clock", "source"),
            ("clock", "state"),
            ("jack", "state"),
            ("jack", "rate"),
            ("jack", "period_frames"),
            ("jack", "xruns"),
        ] {
            assert!(
                status[table].get(key).is_some(),
                "no {table}.{key}: {status}"
            );
        }
        assert_eq!(status["chart"], "Ferry at Six");
        assert_eq!(status["jack"]["rate"], 48_000);
        assert!(status["devices"].is_array());
        for counter in [
            "lost_midi",
            "lost_midi_out",
            "lost_clock_out",
            "lost_played",
            "lost_lines",
            "slow_turns",
            "starved",
            "refused_commands",
        ] {
            let count = &status["counters"][counter];
            assert!(count.is_u64(), "no counter {counter}: {status}");
        }
        let proc = std::fs::read_to_string(format!("/proc/{}/status", daemon.pid())).expect("proc");
        let line = proc.lines().find(|line| line.starts_with("RssAnon"));
        let kib = line
            .and_then(|line| line.split_whitespace().nth(1))
            .and_then(|kib| kib.parse::<u64>().ok())
            .expect("a number");
        println!("RssAnon {:.1} MiB", kib as f64 / 1024.0);
        assert!(kib <= PRIVATE_LIMIT_MIB * 1024, "{kib} KiB");
    });
}

#[test]
fn a_signal_ends_it_within_a_second_and_the_place_comes_back() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let _server = Server::start(48_000, 256);
        let chart = root("configs/charts/ferry-at-six.toml");
        let daemon = start(home.path(), &chart, &[]);
        daemon.wait_for_status(15, |status| status["state"] == "playing");
        let asked = Instant::now();
        daemon.signal(Signal::TERM);
        let ended = daemon.wait(5);
        assert_eq!(ended.code, Some(0), "{}", ended.errors);
        let took = asked.elapsed();
        println!("ended {took:?} after SIGTERM");
        assert!(took < Duration::from_secs(1), "{took:?}");
        let place = home.path().join("state/place.json");
        let text = std::fs::read_to_string(&place).expect("a place");
        // As if the tempo had been changed by foot.
        let mut kept: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        kept["tempo_qpm"] = serde_json::json!(97.5);
        std::fs::write(&place, kept.to_string()).expect("a file");
        let daemon = start(home.path(), &chart, &[]);
        let status = daemon.wait_for_status(15, |status| status["jack"]["state"] == "present");
        let bpm = status["bpm"].as_f64().expect("a tempo");
        assert!((bpm - 97.5).abs() < 0.01, "{status}");
    });
}

#[test]
fn a_broken_chart_is_told_and_a_valid_one_taken_over() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let _server = Server::start(48_000, 256);
        let chart = home.path().join("chart.toml");
        let tune = |title: &str, bar: &str| {
            format!(
                "title = \"{title}\"\nkey = \"C major\"\ntime = \"4/4\"\ntempo = 240\nfeel = \"swing\"\n\
                 form = [\"A\"]\n[[section]]\nname = \"A\"\nbars = [\"Cmaj7\", \"{bar}\"]\n"
            )
        };
        std::fs::write(&chart, tune("One", "G7")).expect("a file");
        let daemon = start(home.path(), &chart, &["--fresh"]);
        daemon.wait_for_status(15, |status| status["state"] == "playing");
        std::fs::write(&chart, tune("Broken", "Gq7")).expect("a file");
        daemon.signal(Signal::HUP);
        daemon.wait_for_log("not loaded", 5);
        let status = daemon.wait_for_status(5, |status| status["state"] == "playing");
        assert_eq!(status["chart"], "One");
        std::fs::write(&chart, tune("Two", "F6")).expect("a file");
        daemon.signal(Signal::HUP);
        // The section lasts two seconds.
        assert!(within(Duration::from_secs(6), || {
            daemon
                .status()
                .is_some_and(|status| status["chart"] == "Two" && status["state"] == "playing")
        }));
    });
}

#[test]
fn whoever_waited_until_it_is_ready_is_told_how_it_is() {
    isolated(|| {
        let dir = tempfile::tempdir().expect("a directory");
        let home = dir.path().join("home");
        let _server = Server::start(48_000, 256);
        // sd_notify(3): a datagram with "READY=1" on the socket of this name.
        let place = dir.path().join("notify");
        let systemd = std::os::unix::net::UnixDatagram::bind(&place).expect("a socket");
        let patience = Some(Duration::from_secs(15));
        systemd.set_read_timeout(patience).expect("a socket");
        let config = dir.path().join("underfoot.toml");
        std::fs::write(&config, "[speech]\nengine = \"none\"\n").expect("a file");
        let (config, chart) = (config.display(), root("configs/charts/ferry-at-six.toml"));
        let (config, chart) = (config.to_string(), chart.display().to_string());
        let args = ["--config", &config, "--chart", &chart, "--fresh"];
        let daemon = Daemon::start_with(&home, &args, &[("NOTIFY_SOCKET", &place)]);
        let mut told = [0; 256];
        loop {
            let length = systemd.recv(&mut told).expect("READY=1");
            if String::from_utf8_lossy(&told[..length]).contains("READY=1") {
                break;
            }
        }
        let status = daemon.status().expect("a status");
        assert_eq!(status["state"], "stopped", "{status}");
        assert_eq!(status["chart"], "Ferry at Six", "{status}");
    });
}
