//! With the band's clock, live: an independent master (`jack_midi_clock`, Debian package jack-midi-clock) drives the
//! daemon, and an independent receiver (`jack_mclk_dump`, the same package) follows ours.
//!
//! The server's transport has a master of its own (`jack_transport` of Debian's jackd2).
//!
//! `UNDERFOOT_CLOCK_SECONDS` makes the leading part longer (600 in the longer tier), and the others long;
//! `UNDERFOOT_CLOCK_PERIOD` lets it lead with one size of block only.
#![cfg(feature = "serial")]
// Runs programs against a real server.

use crate::support::calm::{Disturbed, strict, undisturbed};
use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::events;
use crate::support::tape::{Noted, Tape};
use serde_json::Value;
use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A tick at 120 quarters a minute and 48,000 frames a second.
const TICK: u64 = 1_000;
/// A bar of four quarters.
const BAR: u64 = 96 * TICK;
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
/// frames) each section lay from the master's bar, and the notes.
fn rehearse(seconds: u64, advances: usize, pull: bool) -> Result<(Vec<i64>, Notes), Disturbed> {
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
    // In the middle of each bar, by the server's time: where it loses cycles the bars come later, too.
    let first = u64::from(tape.transport_frame()) / BAR + 1;
    // The cable is out for two bars in the middle, and the foot goes on.
    let out = first + advances as u64 / 2;
    for bar in first..first + advances as u64 {
        let middle = bar * BAR + BAR * 2 / 5;
        let there = || u64::from(tape.transport_frame()) >= middle;
        assert!(
            within(Duration::from_secs(20), there),
            "the transport stands"
        );
        foot.write_all(b"1 down\n").expect("a line");
        std::thread::sleep(Duration::from_millis(60));
        foot.write_all(b"1 up\n").expect("a line");
        if pull && bar == out {
            tape.patch(cable.0, cable.1, false);
            daemon.wait_for_status(2, |status| status["clock"]["state"] == "holding");
        }
        if pull && bar == out + 2 {
            tape.patch(cable.0, cable.1, true);
        }
    }
    let log = dir.path().join("events.jsonl");
    let enough = within(Duration::from_secs(seconds + 30), || {
        // To read it all takes a while, which others want.
        std::thread::sleep(Duration::from_millis(300));
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
    match (far, sections.len() == advances + 1) {
        (0, true) => Ok((sections, notes)),
        _ => Err(Disturbed::by(
            gaps,
            format!("{far} sections off their bar, {} of them", sections.len()),
        )),
    }
}

#[test]
fn the_master_s_bars_are_ours_and_a_pulled_cable_changes_no_note() {
    isolated(|| {
        let long = std::env::var("UNDERFOOT_CLOCK_SECONDS").is_ok();
        let advances = if long { 50 } else { 5 };
        let seconds = 2 * advances as u64 + 10;
        let Some((sections, notes)) =
            undisturbed("rehearsal", || rehearse(seconds, advances, false))
        else {
            return;
        };
        let near = sections.iter().filter(|off| off.abs() <= 48).count();
        println!(
            "{near} of {} sections within 1 ms of the master's bar: {sections:?} frames",
            sections.len()
        );
        // The first begins with the song.
        assert_eq!(sections.len(), advances + 1, "{sections:?}");
        assert_eq!(near, sections.len(), "{sections:?}");
        let Some((_, held)) = undisturbed("a pulled cable", || rehearse(seconds, advances, true))
        else {
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
    });
}

/// The transport rolls at 93.75 quarters a minute, kept by another program: the frames of our own clock's ticks. That
/// program counts whole 1,920ths of a beat each cycle; at this tempo they are 64, at others it is slower than it says.
fn follow_transport() -> Result<Vec<u64>, Disturbed> {
    let dir = tempfile::tempdir().expect("a directory");
    let _server = Server::start(48_000, 1_024);
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
    say("tempo 93.75\nmaster\n");
    // A master without a tempo of its own counts from its first roll.
    std::thread::sleep(Duration::from_millis(300));
    say("play\n");
    daemon.wait_for_status(10, |status| status["state"] == "playing");
    let told = daemon.wait_for_status(10, |status| status["clock"]["state"] == "locked");
    assert_eq!(told["clock"]["source"], "transport");
    let near = |status: &Value| {
        status["bpm"]
            .as_f64()
            .is_some_and(|bpm| (bpm - 93.75).abs() < 0.1)
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
        .all(|pair| pair[1].saturating_sub(pair[0]).abs_diff(1_280) <= 5);
    match even {
        true => Ok(ticks),
        false => Err(Disturbed::by(gaps, "ticks off the transport's".into())),
    }
}

#[test]
fn the_transport_is_followed() {
    isolated(|| {
        let Some(ticks) = undisturbed("the transport", follow_transport) else {
            return;
        };
        // 48,000 frames a second, 37.5 ticks.
        let tick = 1_280.0;
        assert!(ticks.len() > 100, "{}", ticks.len());
        let mean = (ticks[ticks.len() - 1] - ticks[0]) as f64 / (ticks.len() - 1) as f64;
        assert!((mean / tick - 1.0).abs() < 0.000_1, "{mean}");
        for pair in ticks.windows(2) {
            let off = (pair[1] - pair[0]) as f64 - tick;
            assert!(off.abs() <= 5.0, "{off}: {ticks:?}");
        }
    });
}

/// Without what a lost cycle did to the first or the last tick.
fn between_even_steps(ticks: &[u64]) -> &[u64] {
    let even = |pair: &[u64]| pair[1].saturating_sub(pair[0]).abs_diff(TICK) <= 1;
    let first = ticks.windows(2).position(even).unwrap_or(0);
    let last = ticks.windows(2).rposition(even).unwrap_or(0);
    &ticks[first..=last + 1]
}

/// Leads for so many seconds: the frames of our ticks, and what the receiver made of them.
fn lead(period: u32, seconds: u64) -> Result<(Vec<u64>, String), Disturbed> {
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
    // A server that lost cycles may count back.
    let steps = ticks.windows(2).map(|pair| pair[1].saturating_sub(pair[0]));
    let off = steps.filter(|step| step.abs_diff(TICK) > 1).count();
    println!(
        "{period} frames: {} ticks, {off} steps off by more than a frame, {gaps} gaps",
        ticks.len()
    );
    // What falls into a lost cycle comes when that is over: a tick or two, and as many steps and one more.
    match off <= 4 * gaps as usize {
        true => Ok((between_even_steps(&ticks).to_vec(), dump)),
        false => Err(Disturbed::by(gaps, "ticks off their frames".into())),
    }
}

#[test]
fn our_ticks_are_on_their_frames() {
    isolated(|| {
        let asked = std::env::var("UNDERFOOT_CLOCK_SECONDS")
            .ok()
            .and_then(|text| text.parse().ok());
        let only: Option<u32> = std::env::var("UNDERFOOT_CLOCK_PERIOD")
            .ok()
            .and_then(|text| text.parse().ok());
        // Small blocks want a machine that does nothing else.
        let periods: &[u32] = if strict() { &[64, 1_024] } else { &[1_024] };
        for &period in periods {
            if only.is_some_and(|only| only != period) {
                continue;
            }
            let Some((ticks, dump)) = undisturbed("leading", || lead(period, asked.unwrap_or(5)))
            else {
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
            // None is missing or came twice, and none is early: the last has the number that it should have.
            let place = |number: usize| ticks[0] + number as u64 * TICK;
            let last = ticks.len() - 1;
            assert!(
                ticks[last].abs_diff(place(last)) <= TICK / 2,
                "a tick is missing, or came twice"
            );
            let on_time = |(number, at): (usize, &u64)| at + 2 >= place(number);
            assert!(ticks.iter().enumerate().all(on_time), "a tick is early");
            // The receiver counts what it saw: "... 120.00 BPM" a tick.
            assert!(
                dump.lines().count() > 24,
                "the receiver saw nothing: {dump}"
            );
        }
    });
}

/// The longest stretch of ticks that are even to a frame.
fn longest_even(ticks: &[u64]) -> &[u64] {
    let is_even = |a: &u64, b: &u64| b.saturating_sub(*a).abs_diff(TICK) <= 1;
    let stretches = ticks.chunk_by(is_even);
    stretches.max_by_key(|stretch| stretch.len()).unwrap_or(&[])
}

/// Leads where the server waits for nobody: the frames of our ticks, and those that the receiver saw.
fn lead_unhurried(period: u32, seconds: u64) -> (Vec<u64>, Vec<u64>) {
    let dir = tempfile::tempdir().expect("a directory");
    let server = Server::start(48_000, period);
    std::fs::write(dir.path().join("foot.txt"), "").expect("a file");
    let foot = dir.path().join("foot.txt").display().to_string();
    let tape = Tape::start(1);
    let file = dir.path().join("dump");
    let dump = std::fs::File::create(&file).expect("a file");
    let daemon = start(dir.path(), "[clock]\nsend = true\n", &["--foot", &foot]);
    tape.listen("underfoot:midi_out", 1);
    let receiver = Program::start("jack_mclk_dump", &["-n", "underfoot:midi_out"], dump.into());
    daemon.wait_for_status(20, |status| status["state"] == "playing");
    let before = tape.tick_count() as u64;
    server.unhurried(true);
    let begun = std::time::Instant::now();
    // A second more at either end, for the change itself.
    let enough = || tape.tick_count() as u64 >= before + 48 * (seconds + 2);
    assert!(
        within(Duration::from_secs(60 + seconds), enough),
        "{}",
        daemon.errors()
    );
    server.unhurried(false);
    println!(
        "{seconds} s at {period} frames took {:.1} s",
        begun.elapsed().as_secs_f64()
    );
    drop(receiver);
    drop(daemon);
    let (noted, _) = tape.finish();
    let dump = std::fs::read_to_string(&file).unwrap_or_default();
    let lines = dump.lines().filter(|line| line.starts_with("CLK"));
    let seen = lines.filter_map(|line| line.rsplit('@').next()?.trim().parse().ok());
    (ticks(&noted, 1), seen.collect())
}

#[test]
fn our_ticks_are_on_their_frames_without_hurry() {
    isolated(|| {
        let asked = std::env::var("UNDERFOOT_CLOCK_SECONDS").ok();
        let seconds = asked.and_then(|text| text.parse().ok()).unwrap_or(20);
        for period in [64, 1_024] {
            let (ours, seen) = lead_unhurried(period, seconds);
            for (who, ticks) in [("we", &ours), ("the receiver", &seen)] {
                let even = longest_even(ticks);
                let steps = even.len().saturating_sub(1).max(1) as f64;
                let mean = even
                    .last()
                    .zip(even.first())
                    .map_or(0.0, |(b, a)| (b - a) as f64 / steps);
                println!(
                    "{period} frames, {who}: {} of {} ticks even, mean {mean:.4}",
                    even.len(),
                    ticks.len()
                );
                assert!(
                    even.len() as u64 >= 48 * seconds,
                    "{who}: a tick is off or missing"
                );
                assert!((mean / TICK as f64 - 1.0).abs() < 0.000_1, "{who}: {mean}");
            }
        }
    });
}

/// Seconds from the first tick, and the tempo that is believed then.
type Tempo = (f64, f64);

/// From when on a tempo is held within half a percent of 120, and the worst that it is off after `later` seconds, in per
/// cent.
fn held(tempos: &[Tempo], later: f64) -> (f64, f64) {
    let off = |qpm: f64| (qpm / 120.0 - 1.0).abs() * 100.0;
    let outside = tempos.iter().rposition(|(_, qpm)| off(*qpm) > 0.5);
    let from = outside.map_or(0, |last| last + 1).min(tempos.len() - 1);
    let late = tempos.iter().filter(|(at, _)| *at >= later);
    (
        tempos[from].0,
        late.map(|(_, qpm)| off(*qpm)).fold(0.0, f64::max),
    )
}

/// Follows the master, whose steps scatter by so many per cent, for so many seconds: what we believed and what the
/// receiver did, tick by tick.
fn follow_scattered(level: &str, seconds: u64) -> Result<(Vec<Tempo>, Vec<Tempo>), Disturbed> {
    let dir = tempfile::tempdir().expect("a directory");
    let _server = Server::start(48_000, 1_024);
    let daemon = start(dir.path(), "[clock]\nfollow = [\"jack\"]\n", &[]);
    let tape = Tape::start(1);
    let args = ["-B", "-b", "120", "-J", level, "underfoot:midi_in"];
    let _master = Program::start("jack_midi_clock", &args, Stdio::null());
    daemon.wait_for_port("jack_midi_clock:mclk_out");
    let file = dir.path().join("dump");
    let out = std::fs::File::create(&file).expect("a file");
    let receiver = Program::start(
        "jack_mclk_dump",
        &["-n", "jack_midi_clock:mclk_out"],
        out.into(),
    );
    std::thread::sleep(Duration::from_millis(500));
    tape.roll(true);
    daemon.wait_for_status(10, |status| status["state"] == "playing");
    std::thread::sleep(Duration::from_secs(seconds));
    let told = daemon.status().unwrap_or_default();
    assert_eq!(told["clock"]["source"], "jack", "{told}");
    drop(receiver);
    let (_, gaps) = tape.finish();
    // "CLK cur: 119.17[BPM] flt: 119.94[BPM] dt: 1007[sm] 1|1|1 @ 56169": the tick's frame, and what is believed then.
    let dump = std::fs::read_to_string(&file).unwrap_or_default();
    let ticks = dump.lines().filter(|line| line.starts_with("CLK"));
    let ticks: Vec<(u64, Option<f64>)> = ticks
        .filter_map(|line| {
            let believed = line.split("flt:").nth(1)?.split('[').next()?.trim().parse();
            Some((line.rsplit('@').next()?.trim().parse().ok()?, believed.ok()))
        })
        .collect();
    // The last line may be cut off.
    let ticks = &ticks[..ticks.len().saturating_sub(1)];
    let first = ticks.first().map_or(0, |(frame, _)| *frame);
    let seconds_of = |frame: u64| (frame - first) as f64 / 48_000.0;
    let theirs = ticks
        .iter()
        .filter_map(|(frame, believed)| Some((seconds_of(*frame), (*believed)?)));
    // The same ticks through the follower of the daemon, which tells every one.
    let micros = |frame: u64| frame as f64 / 48_000.0 * 1e6;
    let mut trace = format!("{:.0} fa\n", micros(first) - 1.0);
    ticks
        .iter()
        .for_each(|(frame, _)| trace += &format!("{:.0} f8\n", micros(*frame)));
    let place = dir.path().join("trace");
    std::fs::write(&place, trace).expect("a file");
    let mut replay = crate::support::program::command(&dir.path().join("home"));
    let replayed = replay
        .args(["clock", "replay", "--ticks", "--json"])
        .arg(&place)
        .output()
        .expect("underfoot");
    let lines = String::from_utf8_lossy(&replayed.stdout).into_owned();
    let last = ticks.last().map_or(0.0, |(frame, _)| micros(*frame));
    let ours = lines.lines().filter_map(|line| {
        let line: Value = serde_json::from_str(line).ok()?;
        let known = line["known_us"].as_f64()?;
        (known <= last).then_some(((known - micros(first)) / 1e6, line["bpm"].as_f64()?))
    });
    let ours: Vec<Tempo> = ours.collect();
    let daemon_off = told["bpm"].as_f64().unwrap_or(0.0) - ours.last().map_or(0.0, |(_, qpm)| *qpm);
    println!(
        "-J {level}: {} ticks, {gaps} gaps, the daemon is off its replay by {daemon_off:.3}",
        ticks.len()
    );
    // What lost cycles did to the master is none of its scatter.
    let most = TICK * (100 + level.parse::<u64>().unwrap_or(0)) / 100 + 2;
    let whole = ticks.windows(2).all(|pair| {
        let step = pair[1].0.saturating_sub(pair[0].0);
        (2 * TICK - most..=most).contains(&step)
    });
    match whole && ticks.len() as u64 > 40 * seconds {
        true => Ok((ours, theirs.collect())),
        false => Err(Disturbed::by(gaps, "the master lost ticks".into())),
    }
}

#[test]
fn a_scattered_master_is_known_better_than_by_the_receiver() {
    isolated(|| {
        let long = std::env::var("UNDERFOOT_CLOCK_SECONDS").is_ok();
        // Its scatter, from when on the tempo is to be held, in seconds.
        let all = [("0", 0.1), ("5", 0.8), ("10", 2.5), ("20", 5.0)];
        let levels = if long { &all[..] } else { &all[2..3] };
        let (seconds, later) = if long { (60, 20.0) } else { (9, 6.0) };
        for (level, asked) in levels {
            let Some((ours, theirs)) =
                undisturbed("a scattered master", || follow_scattered(level, seconds))
            else {
                continue;
            };
            let (from, worst) = held(&ours, later);
            let (their_from, their_worst) = held(&theirs, later);
            println!(
                "-J {level}: held from {from:.2} s (asked {asked}), worst later {worst:.3} %; \
                 the receiver {their_from:.2} s, {their_worst:.3} %"
            );
            // A run is one throw of many dice: what is asked is met by most, three times as much by all but one in a
            // hundred (see clock_traces.rs).
            assert!(from <= 3.0 * asked, "-J {level}: held from {from} s");
            let most = if long { their_worst / 2.0 } else { 0.6 };
            assert!(worst <= most + 0.005, "-J {level}: {worst} %");
        }
    });
}
