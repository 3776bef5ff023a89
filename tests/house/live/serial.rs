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
             \"1 tap\" = \"nothing\"\n\"1 double\" = \"nothing\"\n{foot}"
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

/// Checks each press: `written` are the server's frames of the presses. An error says what disturbed the run.
///
/// # Panics
/// If more than one in twenty came late though the machine was calm.
fn check(
    name: &str,
    (began, wakes): (&Moment, &Wakes),
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
    let notes: Vec<u64> = recording
        .midi
        .iter()
        .filter(|(_, bytes)| bytes[0] & 0xf0 == 0x90)
        .map(|(at, _)| *at)
        .collect();
    // The log counts from the first count, which is the first note.
    let first = notes[0];
    let sounded = |applied: u64| notes.binary_search(&(first + applied)).is_ok();
    let heard = applied.iter().filter(|applied| sounded(**applied)).count();
    // Until a note sounds: on the frame that was decided, or late.
    let late_ms: Vec<f64> = applied
        .iter()
        .zip(written)
        .map(|(applied, written)| {
            let pressed = written.wrapping_sub(recording.start) as i32;
            let next = notes.partition_point(|note| *note < first + applied);
            let note = notes.get(next).map_or(f64::INFINITY, |note| *note as f64);
            (note - f64::from(pressed)) * 1000.0 / RATE
        })
        .collect();
    let in_time = late_ms.iter().filter(|late| **late <= LIMIT_MS).count();
    // Where a cycle was lost meanwhile, or the machine let the probe wait as long, it is the machine's doing.
    let is_ours = |(late_ms, written): &(&f64, &u32)| {
        let pressed_at = u64::from(written.wrapping_sub(recording.start));
        let until = pressed_at + (late_ms.min(1_000.0) * RATE / 1000.0) as u64;
        let lost = |gap: &u64| (pressed_at..=until).contains(gap);
        let pressed = began.instant(**written);
        let heard = pressed + Duration::from_secs_f64(late_ms.min(1_000.0) / 1000.0);
        let probe_ms = wakes.worst_between(pressed, heard).as_secs_f64() * 1000.0;
        let is_late = **late_ms > LIMIT_MS && !recording.gap_frames.iter().any(lost);
        is_late && WAKE_UPS * probe_ms < **late_ms - LIMIT_MS
    };
    let ours = late_ms.iter().zip(written).filter(is_ours).count();
    let mut sorted = late_ms.clone();
    sorted.sort_by(f64::total_cmp);
    let at = |part: f64| sorted[((sorted.len() - 1) as f64 * part) as usize];
    println!(
        "{name}: {} presses, median {:.2} ms, 95 % {:.2} ms, worst {:.2} ms, {in_time} within {LIMIT_MS} ms, \
         {ours} late on a calm machine, {heard} with a note on the very frame, {gaps} xruns, probe late by {:.2} ms at worst",
        late_ms.len(),
        at(0.5),
        at(0.95),
        at(1.0),
        wakes.worst().as_secs_f64() * 1000.0
    );
    assert!(at(0.0) > 0.0, "{name}: before the press");
    let enough = written.len() * 95 / 100;
    if in_time < enough {
        let why = format!("only {in_time} in time");
        assert!(
            written.len() - ours >= enough,
            "{name}: {why}, {ours} late on a calm machine"
        );
        return Err(Disturbed::Busy(why));
    }
    if gaps == 0 && heard < enough {
        return Err(Disturbed::Amiss(format!("only {heard} on their frame")));
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
        board.write_all(b"down 1\n").expect("a line");
        // A foot's pace, never in step with the server's cycles.
        std::thread::sleep(Duration::from_micros(60_000 + press * 137 % 5_000));
        board.write_all(b"up 1\n").expect("a line");
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
