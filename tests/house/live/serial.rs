//! From the foot to the sound, through the running daemon: a serial line (a pseudo terminal) and JACK MIDI.
//!
//! The action is "top of section now", so that each press is heard: a note must sound on the very frame that the
//! event log names (where the server lost no cycle). Time is the server's own: the frame at which the bytes are
//! written, against the frame of the note at the outputs.
#![cfg(feature = "serial")]
// Runs the program against a real server.

use crate::support::calm::{Disturbed, Probe, Wakes, strict, undisturbed};
use crate::support::daemon::Daemon;
use crate::support::jackd::{Server, isolated};
use crate::support::program::{events, root};
use crate::support::recorder::{Recorder, Recording};
use jack::{Client, ClientOptions, Control, MidiOut, Port, ProcessHandler, ProcessScope, RawMidi};
use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

const RATE: f64 = 48_000.0;
const LIMIT_MS: f64 = 15.0;
/// A note that is later than this is not played at all.
const DROPPED_MS: f64 = 40.0;
/// From the foot to the sound three threads wake one after the other: source, loop, callback.
const WAKE_UPS: f64 = 3.0;

/// How many presses: a figure wants many.
fn presses() -> u64 {
    if strict() { 200 } else { 60 }
}

struct Run {
    dir: tempfile::TempDir,
    daemon: Daemon,
}

impl Run {
    fn start(foot: &str) -> Run {
        let dir = tempfile::tempdir().expect("a directory");
        let file = |name: &str| dir.path().join(name).display().to_string();
        let config = format!(
            "[speech]\nengine = \"none\"\n[foot]\n[foot.map.playing]\n\"1 press\" = \"top of section now\"\n\
             \"1 tap\" = \"nothing\"\n\"1 double\" = \"nothing\"\n\"1 triple\" = \"nothing\"\n{foot}"
        );
        std::fs::write(dir.path().join("underfoot.toml"), config).expect("a file");
        std::fs::write(dir.path().join("foot.txt"), "").expect("a file");
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
                "--fresh",
            ],
        );
        daemon.wait_for_port("underfoot:midi_out");
        Run { dir, daemon }
    }

    /// Waits until the count-in is over.
    fn wait_until_it_plays(&self) {
        self.daemon
            .wait_for_status(15, |status| status["state"] == "playing");
    }

    /// The frames on which the presses took effect, from the first count on.
    fn applied(&self, count: usize) -> Vec<u64> {
        let read = || -> Vec<u64> {
            let lines = events(&self.dir.path().join("events.jsonl"));
            let presses = lines
                .iter()
                .filter(|line| line["kind"] == "foot" && line["gesture"] == "press");
            presses
                .filter_map(|line| line["applied_frame"].as_u64())
                .collect()
        };
        crate::support::daemon::within(Duration::from_secs(5), || read().len() >= count);
        read()
    }
}

/// A moment, by the server's frames and by the clock of the probe.
struct Moment(u32, Instant);

impl Moment {
    fn now(recorder: &Recorder) -> Moment {
        Moment(recorder.frame_time(), Instant::now())
    }

    /// The instant of a frame that is not before this moment.
    fn instant(&self, frame: u32) -> Instant {
        let frames = frame.wrapping_sub(self.0);
        self.1 + Duration::from_secs_f64(f64::from(frames) / RATE)
    }
}

/// How long after its press each note sounded, in ms: on the frame that was decided, or late.
fn delays_ms(written: &[u32], decided: &[u64], notes: &[u64], start: u32) -> Vec<f64> {
    let delay_ms = |(decided, written): (&u64, &u32)| {
        let next = notes.partition_point(|note| note < decided);
        let note = notes.get(next).map_or(f64::INFINITY, |note| *note as f64);
        (note - f64::from(written.wrapping_sub(start) as i32)) * 1000.0 / RATE
    };
    decided.iter().zip(written).map(delay_ms).collect()
}

/// Whether a note is late by our own doing: neither were cycles lost meanwhile, nor did the machine let the probe wait,
/// that would make up for it.
fn is_our_doing(
    delay_ms: f64,
    written: u32,
    (began, wakes): (&Moment, &Wakes),
    recording: &Recording,
) -> bool {
    let until_ms = delay_ms.min(DROPPED_MS);
    let from = u64::from(written.wrapping_sub(recording.start));
    let until = from + (until_ms * RATE / 1000.0) as u64;
    let gaps = recording.lost.iter();
    let gaps = gaps.filter(|(at, _)| (from..=until).contains(at));
    let lost_ms = gaps.map(|(_, frames)| f64::from(*frames)).sum::<f64>() * 1000.0 / RATE;
    let pressed = began.instant(written);
    let heard = pressed + Duration::from_secs_f64(until_ms / 1000.0);
    let probe_ms = wakes.worst_between(pressed, heard).as_secs_f64() * 1000.0;
    until_ms - LIMIT_MS > lost_ms + WAKE_UPS * probe_ms
}

/// Checks each press: `written` are the server's frames of the presses. An error says what disturbed the run.
///
/// # Panics
/// If more than one in twenty came late though the machine was calm.
fn check(
    name: &str,
    machine: (&Moment, &Wakes),
    written: &[u32],
    applied: &[u64],
    recording: &Recording,
) -> Result<(), Disturbed> {
    let gaps = recording.gaps;
    if applied.len() < written.len() {
        // With a cycle the server loses the MIDI that was in it.
        let lost = written.len() - applied.len();
        return Err(Disturbed::by(gaps, format!("{lost} presses lost")));
    }
    assert_eq!(applied.len(), written.len(), "{name}: presses invented");
    let is_note = |(_, bytes): &&(u64, [u8; 3])| bytes[0] & 0xf0 == 0x90;
    let notes = recording.midi.iter().filter(is_note);
    let notes: Vec<u64> = notes.map(|(at, _)| *at).collect();
    // The log counts from the first count, which is the first note.
    let decided: Vec<u64> = applied.iter().map(|at| notes[0] + at).collect();
    let on_frame = decided.iter().filter(|at| notes.binary_search(at).is_ok());
    let on_frame = on_frame.count();
    let mut delays = delays_ms(written, &decided, &notes, recording.start);
    let is_ours =
        |(delay, written): &(&f64, &u32)| is_our_doing(**delay, **written, machine, recording);
    let ours = delays.iter().zip(written).filter(is_ours).count();
    let in_time = delays.iter().filter(|delay| **delay <= LIMIT_MS).count();
    delays.sort_by(f64::total_cmp);
    let at = |part: f64| delays[((delays.len() - 1) as f64 * part) as usize];
    println!(
        "{name}: {} presses, median {:.2} ms, 95 % {:.2} ms, worst {:.2} ms, {in_time} within {LIMIT_MS} ms, \
         {ours} late on a calm machine, {on_frame} with a note on the very frame, {gaps} xruns, probe late by \
         {:.2} ms at worst",
        delays.len(),
        at(0.5),
        at(0.95),
        at(1.0),
        machine.1.worst().as_secs_f64() * 1000.0
    );
    assert!(at(0.0) > 0.0, "{name}: before the press");
    let enough = written.len() * 95 / 100;
    if in_time < enough {
        let why = format!("only {in_time} in time");
        let excused = written.len() - ours >= enough;
        assert!(excused, "{name}: {why}, {ours} late on a calm machine");
        return Err(Disturbed::Busy(why));
    }
    if gaps == 0 && on_frame < enough {
        return Err(Disturbed::Amiss(format!("only {on_frame} on their frame")));
    }
    Ok(())
}

#[test]
fn presses_over_a_serial_line_are_heard_within_15_ms() {
    isolated(|| {
        undisturbed("presses over a serial line", presses_over_a_serial_line);
    });
}

fn presses_over_a_serial_line() -> Result<(), Disturbed> {
    let _server = Server::start(48_000, 256);
    let (mut board, ours) = TTYPort::pair().expect("a pseudo terminal");
    let name = ours.name().expect("its name");
    drop(ours);
    let run = Run::start(&format!("[foot.serial]\nport = \"{name}\"\n"));
    let recorder = Recorder::start("underfoot", 55);
    run.wait_until_it_plays();
    let (began, probe) = (Moment::now(&recorder), Probe::start());
    let mut written = Vec::new();
    for press in 0..presses() {
        written.push(recorder.frame_time());
        board.write_all(b"1 down\n").expect("a line");
        // A foot's pace, never in step with the server's cycles.
        std::thread::sleep(Duration::from_micros(60_000 + press * 137 % 5_000));
        board.write_all(b"1 up\n").expect("a line");
        std::thread::sleep(Duration::from_micros(60_000 + press * 331 % 7_000));
    }
    let applied = run.applied(written.len());
    let machine = (&began, &probe.finish());
    check(
        "serial line",
        machine,
        &written,
        &applied,
        &recorder.finish(),
    )
}

/// Sends a note when asked, and keeps the frame.
struct Sender {
    port: Port<MidiOut>,
    /// 0 nothing, 1 down, 2 up.
    asked: Arc<AtomicU32>,
    sent: rtrb::Producer<u32>,
}

impl ProcessHandler for Sender {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut writer = self.port.writer(scope);
        let asked = self.asked.swap(0, Ordering::Relaxed);
        if asked > 0 {
            let bytes = [0x90, 60, if asked == 1 { 100 } else { 0 }];
            let time = 17;
            let _ = writer.write(&RawMidi {
                time,
                bytes: &bytes,
            });
            if asked == 1 {
                let _ = self.sent.push(scope.last_frame_time().wrapping_add(time));
            }
        }
        Control::Continue
    }
}

#[test]
fn presses_over_jack_midi_are_heard_within_15_ms() {
    isolated(|| {
        undisturbed("presses over JACK MIDI", presses_over_jack_midi);
    });
}

fn presses_over_jack_midi() -> Result<(), Disturbed> {
    let _server = Server::start(48_000, 256);
    let run = Run::start("[[foot.midi]]\nswitch = 1\ncontrol = \"note 60\"\n");
    let recorder = Recorder::start("underfoot", 55);
    let (client, _) =
        Client::new("board", ClientOptions::NO_START_SERVER).expect("a running server");
    let port = client
        .register_port("out", MidiOut::default())
        .expect("a port");
    let asked = Arc::new(AtomicU32::new(0));
    let (sent, mut frames) = rtrb::RingBuffer::new(512);
    let sender = Sender {
        port,
        asked: Arc::clone(&asked),
        sent,
    };
    let client = client.activate_async((), sender).expect("an active client");
    client
        .as_client()
        .connect_ports_by_name("board:out", "underfoot:midi_in")
        .expect("a connection");
    run.wait_until_it_plays();
    let (began, probe) = (Moment::now(&recorder), Probe::start());
    for _ in 0..presses() {
        for edge in [1, 2] {
            asked.store(edge, Ordering::Relaxed);
            std::thread::sleep(Duration::from_millis(61));
        }
    }
    let written: Vec<u32> = std::iter::from_fn(|| frames.pop().ok()).collect();
    let applied = run.applied(written.len());
    let machine = (&began, &probe.finish());
    check("JACK MIDI", machine, &written, &applied, &recorder.finish())
}

#[test]
fn a_wrong_baud_rate_is_told_once_in_log_page_and_status() {
    isolated(|| {
        // No server: the box waits, and so does its page.
        let (mut board, ours) = TTYPort::pair().expect("a pseudo terminal");
        let name = ours.name().expect("its name");
        drop(ours);
        let dir = tempfile::tempdir().expect("a directory");
        let config = dir.path().join("underfoot.toml");
        let text = format!(
            "[speech]\nengine = \"none\"\n[foot.serial]\nport = \"{name}\"\n\
             [[display.screen]]\nkind = \"terminal\"\n"
        );
        std::fs::write(&config, text).expect("a file");
        let path = |path: &std::path::Path| path.display().to_string();
        let chart = path(&root("configs/charts/ferry-at-six.toml"));
        let args = ["--config", &path(&config), "--chart", &chart, "--fresh"];
        let home = dir.path().join("home");
        let daemon = Daemon::start(&home, &args);
        let device = |status: &serde_json::Value| {
            let devices = status["devices"].as_array().cloned().unwrap_or_default();
            let ours = devices
                .into_iter()
                .find(|device| device["name"] == name.as_str());
            ours.unwrap_or_default()
        };
        daemon.wait_for_status(15, |status| device(status)["state"] == "present");
        // A press at 9600 as a receiver at 115200 sees it, and again: never the end of a line.
        board
            .write_all(&[0x00, 0x80, 0xff, 0x00, 0x80, 0xff, 0x00])
            .expect("a line");
        let doubt = "what comes is not \"1 down\" or \"1 up\": is it 115200 baud?";
        daemon.wait_for_status(5, |status| {
            device(status)["last_error"] == doubt && status["counters"]["unread_serial"] == 7
        });
        let shown = || daemon.pages().contains("is it 115200 baud?");
        assert!(
            crate::support::daemon::within(Duration::from_secs(5), shown),
            "{}",
            daemon.pages()
        );
        board.write_all(b"\n1 up\n").expect("a line");
        daemon.wait_for_status(5, |status| device(status)["last_error"].is_null());
        board.write_all(&[0xff; 9]).expect("a line");
        daemon.wait_for_status(5, |status| device(status)["last_error"] == doubt);
        assert_eq!(
            daemon.errors().matches(doubt).count(),
            1,
            "{}",
            daemon.errors()
        );
    });
}
