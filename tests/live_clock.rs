//! With the band's clock, live: an independent master (`jack_midi_clock`, Debian package jack-midi-clock) drives the
//! daemon, and an independent receiver (`jack_mclk_dump`, the same package) follows ours.
//!
//! The server's transport has a master of its own (`jack_transport` of Debian's jackd2).
//!
//! `UNDERFOOT_CLOCK_SECONDS` makes the leading part longer (600 in the longer tier).
#![cfg(all(feature = "jack", feature = "serial"))]
// Runs programs against a real server.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

mod support;

use serde_json::Value;
use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use support::daemon::{Daemon, events};
use support::jackd::{Server, isolated, within};
use support::tape::{Noted, Tape};

/// Runs in which the server lost cycles say nothing: they are repeated.
const ATTEMPTS: usize = 4;
/// A tick at 120 quarters a minute and 48,000 frames a second.
const TICK: u64 = 1_000;
const CHART: &str = "title = \"Clockwork Lane\"\ntempo = 120\nfeel = \"straight\"\nform = [\"A\", \"B\"]\n\
    [[section]]\nname = \"A\"\nbars = [\"C6\"]\n[[section]]\nname = \"B\"\nbars = [\"F6\"]\n";

/// Beat and key of each note.
type Notes = Vec<(f64, u64)>;

/// A program that is ended with its owner.
struct Program(Child);

impl Program {
    fn start(name: &str, args: &[&str], out: Stdio) -> Program {
        let child = Command::new(name)
            .args(args)
            .stdin(Stdio::null())
            .stdout(out)
            .stderr(Stdio::null())
            .spawn();
        Program(
            child
                .unwrap_or_else(|error| panic!("{name}: {error} (Debian package jack-midi-clock)")),
        )
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn start(dir: &Path, config: &str, more: &[&str]) -> Daemon {
    let file = |name: &str| dir.join(name).display().to_string();
    let config = format!("[speech]\nengine = \"none\"\n{config}");
    std::fs::write(dir.join("underfoot.toml"), config).expect("a file");
    std::fs::write(dir.join("chart.toml"), CHART).expect("a file");
    let (config, chart, log) = (
        file("underfoot.toml"),
        file("chart.toml"),
        file("events.jsonl"),
    );
    let mut args = vec![
        "--config", &config, "--chart", &chart, "--events", &log, "--fresh",
    ];
    args.extend(more);
    let daemon = Daemon::start(&dir.join("home"), &args);
    daemon.wait_for_port("underfoot:midi_out");
    daemon
}

/// The frames of the master's ticks from the first Start on.
fn ticks(noted: &[Noted], port: usize) -> Vec<u64> {
    let of_port = noted.iter().filter(|(from, ..)| *from == port);
    let from_start = of_port.skip_while(|(_, _, bytes, _)| bytes[0] != 0xfa);
    from_start
        .filter(|(_, _, bytes, _)| bytes[0] == 0xf8)
        .map(|(_, at, ..)| *at)
        .collect()
}

fn numbers(lines: &[Value], kind: &str, key: &str) -> Vec<u64> {
    lines
        .iter()
        .filter(|line| line["kind"] == kind)
        .filter_map(|line| line[key].as_u64())
        .collect()
}

/// Plays to the master; a foot moves on to the next section now and then, the cable may be pulled. Gives how far (in
/// frames) each section lay from the master's bar, and the notes; nothing if the server lost cycles and something is
/// amiss.
fn rehearse(seconds: u64, advances: usize, pull: bool) -> Option<(Vec<i64>, Notes)> {
    let dir = tempfile::tempdir().expect("a directory");
    let _server = Server::start(48_000, 1_024);
    let (mut foot, line) = TTYPort::pair().expect("a pseudo terminal");
    let port = line.name().expect("its name");
    let config = format!(
        "[clock]\nfollow = [\"jack\"]\nmute_band = false\n[foot.serial]\nport = \"{port}\"\n\
         [foot.map.playing]\n\"1 press\" = \"next section\"\n\"1 tap\" = \"nothing\"\n\"1 double\" = \"nothing\"\n"
    );
    let daemon = start(dir.path(), &config, &[]);
    let tape = Tape::start(1);
    let master = Program::start(
        "jack_midi_clock",
        &["-B", "-b", "120", "underfoot:midi_in"],
        Stdio::null(),
    );
    daemon.wait_for_port("jack_midi_clock:mclk_out");
    let cable = ("jack_midi_clock:mclk_out", "underfoot:midi_in");
    tape.listen(cable.0, 1);
    std::thread::sleep(Duration::from_millis(300));
    tape.roll(true);
    daemon.wait_for_status(10, |status| status["state"] == "playing");
    let bar = Duration::from_secs(2);
    for _ in 0..advances {
        foot.write_all(b"down 1\n").expect("a line");
        std::thread::sleep(Duration::from_millis(60));
        foot.write_all(b"up 1\n").expect("a line");
        std::thread::sleep(bar - Duration::from_millis(60));
    }
    if pull {
        tape.patch(cable.0, cable.1, false);
        daemon.wait_for_status(2, |status| status["clock"]["state"] == "holding");
        std::thread::sleep(Duration::from_secs(3));
        tape.patch(cable.0, cable.1, true);
    }
    let log = dir.path().join("events.jsonl");
    let enough = within(Duration::from_secs(seconds + 30), || {
        let last = events(&log)
            .iter()
            .rev()
            .find_map(|line| line["beat"].as_f64());
        last.is_some_and(|beat| beat >= 2.0 * seconds as f64)
    });
    assert!(enough, "{}", daemon.errors());
    drop(master);
    drop(daemon);
    let (noted, gaps) = tape.finish();
    let lines = events(&log);
    let ticks = ticks(&noted, 1);
    let first = ticks[0];
    // The log counts from the take's first frame, which is the master's first tick. Its bars are 96 ticks long.
    let off = |frame: u64| {
        let bar = (frame + 48 * TICK) / (96 * TICK);
        let nearest = ticks.iter().min_by_key(|tick| tick.abs_diff(first + frame));
        let tick = nearest.map_or(first, |tick| *tick);
        let of_tick = frame as i64 - (tick - first) as i64;
        let of_bar = frame as i64 - (bar * 96 * TICK) as i64;
        if of_tick.abs() > of_bar.abs() {
            of_tick
        } else {
            of_bar
        }
    };
    let sections: Vec<i64> = numbers(&lines, "section", "frame")
        .into_iter()
        .map(off)
        .collect();
    let notes = lines.iter().filter(|line| line["kind"] == "note");
    let notes = notes.filter_map(|line| Some((line["beat"].as_f64()?, line["midi"].as_u64()?)));
    let notes: Notes = notes.collect();
    let far = sections.iter().filter(|off| off.abs() > 48).count();
    println!(
        "{} sections, {far} off by more than 1 ms {sections:?}, {} notes, {gaps} gaps",
        sections.len(),
        notes.len()
    );
    (gaps == 0 || far == 0).then_some((sections, notes))
}

fn undisturbed<T>(mut run: impl FnMut() -> Option<T>) -> Option<T> {
    let found = (1..=ATTEMPTS).find_map(|attempt| {
        let found = run();
        if found.is_none() {
            println!("attempt {attempt}: the server lost cycles");
        }
        found
    });
    if found.is_none() {
        // The longer tier wants figures; before every change a busy machine is no fault of the change.
        let wanted = std::env::var("UNDERFOOT_CLOCK_SECONDS").is_ok();
        assert!(!wanted, "the server lost cycles in every attempt");
        println!("this machine is too busy: nothing was measured");
    }
    found
}

#[test]
fn the_master_s_bars_are_ours_and_a_pulled_cable_changes_no_note() {
    isolated(
        "the_master_s_bars_are_ours_and_a_pulled_cable_changes_no_note",
        || {
            let long = std::env::var("UNDERFOOT_CLOCK_SECONDS").is_ok();
            // Presses drift against the bars, and two in one bar are one advance less: some more than fifty.
            let advances = if long { 60 } else { 5 };
            let seconds = 2 * advances as u64 + 8;
            let Some((sections, notes)) = undisturbed(|| rehearse(seconds, advances, false)) else {
                return;
            };
            let near = sections.iter().filter(|off| off.abs() <= 48).count();
            println!(
                "{near} of {} sections within 1 ms of the master's bar: {sections:?} frames",
                sections.len()
            );
            assert!(sections.len() * 6 >= advances * 5, "{sections:?}");
            assert_eq!(near, sections.len(), "{sections:?}");
            let Some((_, held)) = undisturbed(|| rehearse(seconds, advances, true)) else {
                return;
            };
            let until = 2.0 * seconds as f64 - 4.0;
            let upto = |notes: Notes| -> Notes {
                notes
                    .into_iter()
                    .filter(|(beat, _)| *beat < until)
                    .collect()
            };
            assert_eq!(upto(notes), upto(held));
        },
    );
}

/// The transport rolls at 100 quarters a minute, kept by another program: the frames of our own clock's ticks.
fn follow_transport() -> Option<Vec<u64>> {
    let dir = tempfile::tempdir().expect("a directory");
    let _server = Server::start(44_100, 512);
    let config = "[clock]\nfollow = [\"transport\"]\nsend = true\n";
    let daemon = start(dir.path(), config, &[]);
    let tape = Tape::start(1);
    tape.listen("underfoot:midi_out", 1);
    let mut master = Command::new("jack_transport")
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("jack_transport (Debian package jackd2)");
    let mut says = master.stdin.take().expect("its input");
    let mut say = |words: &str| {
        says.write_all(words.as_bytes())
            .expect("a program that reads")
    };
    let _master = Program(master);
    say("tempo 100\nmaster\n");
    // A master without a tempo of its own counts from its first roll.
    std::thread::sleep(Duration::from_millis(300));
    say("play\n");
    daemon.wait_for_status(10, |status| status["state"] == "playing");
    let told = daemon.wait_for_status(10, |status| status["clock"]["state"] == "locked");
    assert_eq!(told["clock"]["source"], "transport");
    let near = |status: &Value| {
        status["bpm"]
            .as_f64()
            .is_some_and(|bpm| (bpm - 100.0).abs() < 0.5)
    };
    daemon.wait_for_status(5, near);
    std::thread::sleep(Duration::from_secs(3));
    say("stop\n");
    daemon.wait_for_status(5, |status| status["state"] != "playing");
    drop(daemon);
    let (noted, gaps) = tape.finish();
    let ticks = ticks(&noted, 1);
    println!(
        "{} ticks of the transport's tempo, {gaps} gaps",
        ticks.len()
    );
    // A client that comes may cost a cycle; then it still may be that all is well.
    let even = ticks
        .windows(2)
        .all(|pair| (pair[1] - pair[0]).abs_diff(1_102) <= 20);
    (gaps == 0 || even).then_some(ticks)
}

#[test]
fn the_transport_is_followed() {
    isolated("the_transport_is_followed", || {
        let Some(ticks) = undisturbed(follow_transport) else {
            return;
        };
        // 44,100 frames a second, 40 ticks a second.
        let tick = 1_102.5;
        assert!(ticks.len() > 100, "{}", ticks.len());
        let mean = (ticks[ticks.len() - 1] - ticks[0]) as f64 / (ticks.len() - 1) as f64;
        assert!((mean / tick - 1.0).abs() < 0.001, "{mean}");
        // That master rounds its place to 1,920ths of a beat: 14 frames.
        for pair in ticks.windows(2) {
            let off = (pair[1] - pair[0]) as f64 - tick;
            assert!(off.abs() < 20.0, "{off}: {ticks:?}");
        }
    });
}

/// Leads for so many seconds: the frames of our ticks, and what the receiver made of them.
fn lead(period: u32, seconds: u64) -> Option<(Vec<u64>, String)> {
    let dir = tempfile::tempdir().expect("a directory");
    let _server = Server::start(48_000, period);
    std::fs::write(dir.path().join("foot.txt"), "").expect("a file");
    let foot = dir.path().join("foot.txt").display().to_string();
    let tape = Tape::start(1);
    let dump = std::fs::File::create(dir.path().join("dump")).expect("a file");
    let daemon = start(dir.path(), "[clock]\nsend = true\n", &["--foot", &foot]);
    tape.listen("underfoot:midi_out", 1);
    let receiver = Program::start("jack_mclk_dump", &["-n", "underfoot:midi_out"], dump.into());
    daemon.wait_for_status(20, |status| status["state"] == "playing");
    std::thread::sleep(Duration::from_secs(seconds));
    drop(receiver);
    drop(daemon);
    let (noted, gaps) = tape.finish();
    let dump = std::fs::read_to_string(dir.path().join("dump")).unwrap_or_default();
    let ticks = ticks(&noted, 1);
    let even = ticks
        .windows(2)
        .all(|pair| (pair[1] - pair[0]).abs_diff(TICK) <= 1);
    (gaps == 0 || even).then_some((ticks, dump))
}

#[test]
fn our_ticks_are_on_their_frames() {
    isolated("our_ticks_are_on_their_frames", || {
        let asked = std::env::var("UNDERFOOT_CLOCK_SECONDS")
            .ok()
            .and_then(|text| text.parse().ok());
        for period in [64, 1_024] {
            let Some((ticks, dump)) = undisturbed(|| lead(period, asked.unwrap_or(5))) else {
                continue;
            };
            let steps: Vec<u64> = ticks.windows(2).map(|pair| pair[1] - pair[0]).collect();
            let mean = (ticks[ticks.len() - 1] - ticks[0]) as f64 / steps.len() as f64;
            println!(
                "{period} frames: {} ticks, mean {mean:.4} frames a tick; receiver: {:?}",
                ticks.len(),
                dump.lines().last()
            );
            assert!((mean / TICK as f64 - 1.0).abs() < 0.000_1, "{mean}");
            assert!(
                steps.iter().all(|step| step.abs_diff(TICK) <= 1),
                "a tick is missing or off its frame"
            );
            // The receiver counts what it saw: "... 120.00 BPM" a tick.
            assert!(
                dump.lines().count() > 24,
                "the receiver saw nothing: {dump}"
            );
        }
    });
}
