//! What the daemon does when the audio server dies, hangs, or comes back another one.
// Runs the program against a real server.

use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::{events, root};
use crate::support::sender::Sender;
use serde_json::Value;
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// The chart's tempo is 132: a bar of 4/4 lasts 1.82 s.
const BAR: Duration = Duration::from_millis(1818);

/// How often the server is killed; `UNDERFOOT_RESTARTS` asks for more.
fn rounds() -> usize {
    let asked = std::env::var("UNDERFOOT_RESTARTS").ok();
    asked.and_then(|asked| asked.parse().ok()).unwrap_or(3)
}

struct Run {
    dir: tempfile::TempDir,
    daemon: Daemon,
}

impl Run {
    /// A daemon that begins by itself as soon as there is a server.
    fn start() -> Run {
        let dir = tempfile::tempdir().expect("a directory");
        let file = |name: &str| dir.path().join(name).display().to_string();
        std::fs::write(dir.path().join("foot.txt"), "").expect("a file");
        // Speech has its own tests; without it nothing is waited for.
        std::fs::write(
            dir.path().join("underfoot.toml"),
            "[speech]\nengine = \"none\"\n[practice]\nfeel_amount = 0\n[[display.screen]]\nkind = \"terminal\"\n",
        )
        .expect("a file");
        let chart = root("configs/charts/ferry-at-six.toml");
        let daemon = Daemon::start(
            &dir.path().join("home"),
            &[
                "--config",
                &file("underfoot.toml"),
                "--chart",
                chart.to_str().expect("a name"),
                "--foot",
                &file("foot.txt"),
                "--events",
                &file("events.jsonl"),
                "--pages",
                &file("pages"),
                "--fresh",
            ],
        );
        Run { dir, daemon }
    }

    fn log(&self) -> PathBuf {
        self.dir.path().join("events.jsonl")
    }

    fn notes(&self) -> Vec<Value> {
        let mut notes = events(&self.log());
        notes.retain(|line| line["kind"] == "note");
        notes
    }

    fn wait_until(&self, what: &str, is_there: impl FnMut() -> bool) {
        let there = within(Duration::from_secs(15), is_there);
        assert!(there, "no {what}:\n{}", self.daemon.errors());
    }

    fn wait_for_notes(&self, count: usize) {
        self.wait_until("music", || self.notes().len() >= count);
    }
}

fn beat(note: &Value) -> f64 {
    note["beat"].as_f64().expect("a beat")
}

#[test]
fn a_killed_server_costs_no_more_than_the_bar_that_was_lost() {
    isolated(|| {
        let run = Run::start();
        let mut server = Server::start(44_100, 256);
        run.wait_for_notes(30);
        let mut slowest = Duration::ZERO;
        for round in 0..rounds() {
            let before = run.notes().len();
            run.wait_for_notes(before + 12);
            server.kill();
            run.daemon
                .wait_for_status(5, |status| status["jack"]["state"] == "retrying");
            let heard = run.notes();
            let last = heard.iter().map(beat).fold(f64::MIN, f64::max);
            let rate = if round % 2 == 0 { 48_000 } else { 44_100 };
            server = Server::start(rate, 256);
            let back = Instant::now();
            run.wait_for_notes(heard.len() + 1);
            slowest = slowest.max(back.elapsed());
            assert!(
                back.elapsed() < BAR,
                "round {round}: silent for {:?}",
                back.elapsed()
            );
            let resumed = run.notes()[heard.len()..]
                .iter()
                .map(beat)
                .fold(f64::MAX, f64::min);
            let bar = |beat: f64| (beat / 4.0).floor();
            // From the first beat of the bar in which the last note began, or of the next one when the
            // server died on the bar line.
            assert_eq!(
                resumed % 4.0,
                0.0,
                "round {round}: resumed on beat {resumed}"
            );
            assert!(
                (0.0..=1.0).contains(&(bar(resumed) - bar(last))),
                "round {round}: last {last}, resumed {resumed}"
            );
            let status = run.daemon.wait_for_status(5, |status| {
                status["jack"]["rate"] == rate && status["state"] == "playing"
            });
            assert_eq!(status["jack"]["state"], "present");
        }
        println!("{} restarts, slowest return {slowest:?}", rounds());
    });
}

#[test]
fn without_a_server_the_daemon_waits_for_one() {
    isolated(|| {
        let run = Run::start();
        let status = run
            .daemon
            .wait_for_status(10, |status| status["jack"]["state"] == "retrying");
        assert_eq!(status["jack"]["rate"], Value::Null);
        run.daemon.wait_for_log("no JACK server", 5);
        let _server = Server::start(48_000, 256);
        run.daemon
            .wait_for_status(10, |status| status["jack"]["state"] == "present");
        run.wait_for_notes(4);
        // Told once, not at every attempt.
        assert_eq!(run.daemon.errors().matches("no JACK server").count(), 1);
    });
}

#[test]
fn a_stopped_server_is_told_and_ends_the_daemon_for_its_supervisor() {
    isolated(|| {
        let run = Run::start();
        let server = Server::start(48_000, 256);
        run.wait_for_notes(8);
        let pages = run.dir.path().join("pages");
        server.freeze();
        let frozen = Instant::now();
        run.daemon.wait_for_log("stands still", 4);
        // The page that tells it is drawn after a stall of 2 s, so a page younger than that is it.
        let newest = || {
            let pages = std::fs::read_dir(&pages).expect("pages").flatten();
            let written = pages.filter_map(|page| page.metadata().ok()?.modified().ok());
            let ages = written.filter_map(|at| at.elapsed().ok());
            ages.min().unwrap_or(Duration::MAX)
        };
        assert!(
            within(Duration::from_secs(2), || newest()
                + Duration::from_millis(1500)
                < frozen.elapsed()),
            "no page after the server stood still"
        );
        let ended = run.daemon.wait(6);
        let took = frozen.elapsed();
        server.thaw();
        assert_eq!(ended.code, Some(69), "{}", ended.errors);
        assert!(ended.errors.contains("hangs"), "{}", ended.errors);
        assert!(took < Duration::from_secs(6), "{took:?}");
        println!("ended {took:?} after the server was stopped");
    });
}

#[test]
fn another_block_size_changes_nothing_in_the_music() {
    isolated(|| {
        let run = Run::start();
        let _server = Server::start(48_000, 1024);
        run.wait_for_notes(8);
        let (client, _) = jack::Client::new("test", jack::ClientOptions::NO_START_SERVER)
            .expect("a running server");
        for frames in [128, 512] {
            client.set_buffer_size(frames).expect("another block size");
            let status = run
                .daemon
                .wait_for_status(5, |status| status["jack"]["period_frames"] == frames);
            assert_eq!(status["state"], "playing");
            let before = run.notes().len();
            run.wait_for_notes(before + 12);
        }
        // The line of beats goes on: no bar came twice, none was left out.
        let mut bars: Vec<i64> = run
            .notes()
            .iter()
            .map(|note| (beat(note) / 4.0).floor() as i64)
            .collect();
        bars.dedup();
        bars.sort_unstable();
        bars.dedup();
        assert!(
            bars.windows(2).all(|pair| pair[1] == pair[0] + 1),
            "{bars:?}"
        );
    });
}

/// How often the callback panics.
const PANICS: usize = 10;
/// A build with debug assertions panics in the callback at this message.
const PANIC_ON_DEMAND: &[u8] = &[0xf0, 0x7d, 0x70, 0xf7];

#[test]
fn a_panic_in_the_callback_costs_no_more_than_the_bar_that_was_lost() {
    isolated(|| {
        let run = Run::start();
        let _server = Server::start(48_000, 256);
        let saboteur = Sender::start("saboteur", PANIC_ON_DEMAND);
        let mut slowest = Duration::ZERO;
        for round in 1..=PANICS {
            run.wait_for_notes(run.notes().len() + 12);
            let before = run.notes();
            let last = before.iter().map(beat).fold(f64::MIN, f64::max);
            assert!(saboteur.connect("underfoot:midi_in"), "round {round}");
            let asked = Instant::now();
            let is_told = |text: &str| text.matches("the sound failed").count() >= round;
            run.wait_until("a line of the log", || {
                // Again where the connection came too late for it; a player that panicked hears nothing more.
                saboteur.send();
                is_told(&run.daemon.errors())
            });
            run.wait_until("a page that tells it", || is_told(&run.daemon.pages()));
            run.wait_for_notes(before.len() + 1);
            slowest = slowest.max(asked.elapsed());
            assert!(
                asked.elapsed() < BAR,
                "round {round}: {:?}",
                asked.elapsed()
            );
            let after = run.notes();
            let resumed = after[before.len()..]
                .iter()
                .map(beat)
                .fold(f64::MAX, f64::min);
            let bars_on = (resumed / 4.0).floor() - (last / 4.0).floor();
            assert_eq!(
                resumed % 4.0,
                0.0,
                "round {round}: resumed on beat {resumed}"
            );
            assert!(
                (0.0..=1.0).contains(&bars_on),
                "round {round}: {last}, {resumed}"
            );
        }
        println!("{PANICS} panics, slowest return {slowest:?}");
    });
}
