//! Charts that come while the band plays: put into a folder, edited in place, half written, taken away with their stick.
// Runs the program against a real server.

use crate::support::daemon::Daemon;
use crate::support::jackd::{Server, isolated};
use crate::support::program::events;
use rustix::process::Signal;
use serde_json::Value;
use std::fs::{self, File};
use std::io::Write;
use std::path::Path;

/// Two bars of four quarters at 240: a section of two seconds.
const SECTION_QUARTERS: f64 = 8.0;

fn chart(title: &str, chord: &str) -> String {
    format!(
        "title = '{title}'\nkey = 'C major'\ntempo = 240\n[[section]]\nname = 'A'\nbars = ['{chord}', '{chord}']\n"
    )
}

fn start(home: &Path) -> Daemon {
    let file = |name: &str| home.join(name).display().to_string();
    fs::create_dir(home.join("charts")).expect("a folder");
    fs::write(home.join("charts/a.toml"), chart("Tune", "Cmaj7")).expect("a file");
    fs::write(file("foot.txt"), "").expect("a file");
    let screen = "[speech]\nengine = \"none\"\n[[display.screen]]\nkind = \"terminal\"\n";
    let config = format!("chart_folders = [\"charts\"]\n{screen}");
    fs::write(file("underfoot.toml"), config).expect("a file");
    let (config, foot, log) = (file("underfoot.toml"), file("foot.txt"), file("live.jsonl"));
    Daemon::start(
        home,
        &[
            "--config", &config, "--foot", &foot, "--events", &log, "--fresh",
        ],
    )
}

/// Where the chords of an event log turn to another root: beat and symbol's first letters.
fn turns(lines: &[Value]) -> Vec<(f64, i64)> {
    let of_bass = lines
        .iter()
        .filter(|line| line["kind"] == "note" && line["part"] == "bass");
    of_bass
        .filter_map(|line| Some((line["beat"].as_f64()?, line["midi"].as_i64()? % 12)))
        .collect()
}

#[test]
fn a_chart_that_is_edited_in_place_comes_at_the_section_s_end() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let _server = Server::start(48_000, 256);
        let daemon = start(home);
        let at = |name: &str| home.join("charts").join(name);
        let status = daemon.wait_for_status(15, |status| status["state"] == "playing");
        assert_eq!(status["chart"], "Tune");
        // One is half written, another is whole: that one is taken, and nothing is wrong.
        let mut half = File::create(at("half.toml")).expect("a file");
        half.write_all(b"title = 'Half'\n[[secti").expect("a disk");
        half.flush().expect("a disk");
        fs::write(at("b.toml"), chart("Second", "C6")).expect("a file");
        let is_taken = |status: &Value| status["reload"]["taken"] == serde_json::json!(["charts"]);
        daemon.wait_for_status(15, is_taken);
        assert!(
            !daemon.errors().contains("not loaded"),
            "{}",
            daemon.errors()
        );
        half.write_all(b"on]]\nname = 'A'\nbars = ['H7']\n")
            .expect("a disk");
        drop(half);
        // Now that it is whole its fault is told by file and line, and the others play on.
        let has_fault = |status: &Value| status["reload"]["fault"].is_string();
        let status = daemon.wait_for_status(15, has_fault);
        let fault = status["reload"]["fault"].as_str().unwrap_or_default();
        assert!(fault.contains("charts/half.toml:4:10: "), "{fault}");
        daemon.wait_for_log("half.toml:4:10: ", 5);
        fs::remove_file(at("half.toml")).expect("a file");
        daemon.wait_for_status(15, |status| !has_fault(status));
        // The chart that plays, renamed over, in another key: at the end of the section.
        fs::write(at("a.toml~"), chart("Tune", "F#maj7")).expect("a file");
        fs::rename(at("a.toml~"), at("a.toml")).expect("a name");
        let has_turned = || {
            let is_it = |turn: &(f64, i64)| turn.1 == 6;
            turns(&events(&home.join("live.jsonl"))).iter().any(is_it)
        };
        daemon.wait_for_status(20, |_| has_turned());
        // Its file goes with its stick: it stays on.
        fs::remove_file(at("a.toml")).expect("a file");
        daemon.wait_for_log("taken over: charts", 5);
        let status = daemon.wait_for_status(15, |status| status["state"] == "playing");
        assert_eq!(status["chart"], "Tune");
        daemon.signal(Signal::TERM);
        let ended = daemon.wait(20);
        assert_eq!(ended.code, Some(0), "{}", ended.errors);
        let turns = turns(&events(&home.join("live.jsonl")));
        let first_new = turns
            .iter()
            .position(|turn| turn.1 == 6)
            .expect("the new chart");
        let beat = turns[first_new].0;
        assert!((beat / SECTION_QUARTERS).fract().abs() < 1e-9, "at {beat}");
        let of_new = |turn: &(f64, i64)| turn.1 == 6 || turn.1 == 1 || turn.1 == 10;
        assert!(
            turns[..first_new].iter().all(|turn| !of_new(turn)),
            "{turns:?}"
        );
    });
}

#[test]
fn a_chart_that_a_set_list_names_comes_at_the_section_s_end_too() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let _server = Server::start(48_000, 256);
        let file = |name: &str| home.join(name).display().to_string();
        for dir in ["sets", "tunes"] {
            fs::create_dir(home.join(dir)).expect("a folder");
        }
        let (chart_file, set) = (home.join("tunes/a.toml"), home.join("sets/evening.toml"));
        fs::write(&chart_file, chart("Tune", "Cmaj7")).expect("a file");
        let listed = "title = 'Evening'\n[[tune]]\nchart = '../tunes/a.toml'\n";
        fs::write(&set, listed).expect("a file");
        fs::write(file("foot.txt"), "").expect("a file");
        let text = "set = \"sets/evening.toml\"\n[speech]\nengine = \"none\"\n[[display.screen]]\nkind = \"terminal\"\n";
        fs::write(file("underfoot.toml"), text).expect("a file");
        let (config, foot, log) = (file("underfoot.toml"), file("foot.txt"), file("live.jsonl"));
        let args = [
            "--config", &config, "--foot", &foot, "--events", &log, "--fresh",
        ];
        let daemon = Daemon::start(home, &args);
        let status = daemon.wait_for_status(15, |status| status["state"] == "playing");
        assert_eq!(status["chart"], "Tune");
        // A fault in it is told by file and line, and what plays plays on.
        fs::write(&chart_file, chart("Tune", "H7")).expect("a file");
        daemon.wait_for_log("a.toml:6:10: ", 15);
        // Mended in place, in another key.
        fs::write(&chart_file, chart("Tune", "F#maj7")).expect("a file");
        let has_turned = || {
            let is_it = |turn: &(f64, i64)| turn.1 == 6;
            turns(&events(&home.join("live.jsonl"))).iter().any(is_it)
        };
        let status = daemon.wait_for_status(20, |_| has_turned());
        assert_eq!(status["state"], "playing");
        // A tune that comes to the list is looked after from then on.
        fs::write(home.join("tunes/b.toml"), chart("Second", "C6")).expect("a file");
        let two = format!("{listed}[[tune]]\nchart = '../tunes/b.toml'\n");
        fs::write(&set, two).expect("a file");
        daemon.wait_for_log("taken over: charts", 15);
        fs::write(home.join("tunes/b.toml"), chart("Second", "H7")).expect("a file");
        daemon.wait_for_log("b.toml:6:10: ", 15);
        daemon.signal(Signal::TERM);
        let ended = daemon.wait(20);
        assert_eq!(ended.code, Some(0), "{}", ended.errors);
        let turns = turns(&events(&home.join("live.jsonl")));
        let new = turns
            .iter()
            .find(|turn| turn.1 == 6)
            .expect("the new chart");
        let beat = new.0;
        assert!((beat / SECTION_QUARTERS).fract().abs() < 1e-9, "at {beat}");
    });
}

#[test]
fn without_a_chart_it_begins_when_one_is_put_into_the_folder() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let _server = Server::start(48_000, 256);
        fs::create_dir(home.join("charts")).expect("a folder");
        fs::write(home.join("charts/broken.toml"), chart("Broken", "H7")).expect("a file");
        let config = home.join("underfoot.toml");
        let screen = "[speech]\nengine = \"none\"\n[[display.screen]]\nkind = \"terminal\"\n";
        fs::write(&config, format!("chart_folders = [\"charts\"]\n{screen}")).expect("a file");
        let daemon = Daemon::start(home, &["--config", &config.display().to_string()]);
        let status = daemon.wait_for_status(15, |status| status["jack"]["state"] == "present");
        assert!(status["chart"].is_null(), "{status}");
        // A fault in a folder is no reason to end: it stands on the page, by file and line.
        let has_told = |text: &str| daemon.pages().contains(text);
        daemon.wait_for_status(5, |_| {
            has_told("not loaded") && has_told("broken.toml:6:10")
        });
        fs::write(home.join("charts/good.toml"), chart("Good", "C6")).expect("a file");
        daemon.wait_for_status(15, |status| status["chart"] == "Good");
    });
}
