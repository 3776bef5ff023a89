//! The daemon, recorded from its ports by another client, against `render` of the same foot script: the same MIDI
//! on the same frames, the same samples.
// Runs the program against a real server.

use crate::support::calm::{Disturbed, Probe, undisturbed};
use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::root;
use crate::support::recorder::{Recorder, Recording};
use std::path::{Path, PathBuf};
use std::time::Duration;

const RATE: u32 = 48_000;
/// The largest difference of two samples.
const EPSILON: f32 = 1e-4;

/// The foot (two switches): next stage, next section, stop, start, and louder by the standard map's other keys
/// is left to the configuration below. Beats at 132: a beat is 455 ms.
const FOOT: &str = "
    9.3   2 down
    9.6   2 up      # next stage, in the middle of bar 3
    30.1  2 down
    32.2  2 up      # held: next section
    41.77 1 down
    42.0  1 up      # louder
    58.4  1 down
    60.4  1 up      # held: stop
    66.0  1 down
    66.3  1 up      # start again
    72.5  2 down
    72.7  2 up      # next stage once more
";
const SECONDS: f64 = 42.0;
// A rendering is as loud from its first take on.
const CONFIG: &str = "
[practice]
quiet_start = false
[foot]
switches = 2
[foot.map.playing]
\"1 tap\" = \"louder\"
";

struct Files {
    dir: tempfile::TempDir,
}

impl Files {
    fn new(config: &str, foot: &str) -> Files {
        let dir = tempfile::tempdir().expect("a directory");
        std::fs::write(dir.path().join("underfoot.toml"), config).expect("a file");
        std::fs::write(dir.path().join("foot.txt"), foot).expect("a file");
        Files { dir }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }
}

/// What `render` makes of it: left, right, cue, and the notes of its event log as MIDI on frames.
struct Offline {
    audio: [Vec<f32>; 3],
    midi: Vec<(u64, [u8; 3])>,
    words: Vec<Word>,
}

/// What was said: on which frame, in which words.
type Word = (u64, String);

/// The words of an event log that were said before a frame.
fn words(log: &Path, until: u64) -> Vec<Word> {
    let said = crate::support::program::events(log)
        .into_iter()
        .filter_map(|line| {
            let is_said = line["kind"] == "say" && !line["end_frame"].is_null();
            let word = (line["frame"].as_u64()?, line["text"].as_str()?.to_string());
            (is_said && word.0 < until).then_some(word)
        });
    let mut said: Vec<Word> = said.collect();
    said.sort();
    said
}

fn samples(path: &Path) -> Vec<f32> {
    let mut reader = hound::WavReader::open(path).expect("a WAV file");
    reader
        .samples::<f32>()
        .map(|sample| sample.expect("a sample"))
        .collect()
}

fn offline(files: &Files) -> Offline {
    let (band, cue) = (files.path("band.wav"), files.path("cue.wav"));
    let log = files.path("offline.jsonl");
    let seconds = (SECONDS + 2.0).to_string();
    let done = crate::support::program::in_background(files.dir.path())
        .arg("render")
        .arg(root("configs/charts/ferry-at-six.toml"))
        .arg("--drill")
        .arg(root("configs/drills/first-evening.toml"))
        .args(["--bits", "32", "--seconds", &seconds, "--config"])
        .arg(files.path("underfoot.toml"))
        .arg("--foot")
        .arg(files.path("foot.txt"))
        .arg("--wav")
        .arg(&band)
        .arg("--wav-cue")
        .arg(&cue)
        .arg("--events")
        .arg(&log)
        .status()
        .expect("underfoot");
    assert!(done.success());
    let band = samples(&band);
    let side = |first: usize| band.iter().skip(first).step_by(2).copied().collect();
    let mut midi = Vec::new();
    for line in crate::support::program::events(&log) {
        if line["kind"] == "note" {
            let channel = match line["part"].as_str() {
                Some("comping") => 0,
                Some("bass") => 1,
                Some("model") => 2,
                _ => 9,
            };
            let number = |key: &str| line[key].as_u64().expect("a number");
            let (key, velocity) = (number("midi") as u8, number("velocity") as u8);
            midi.push((number("frame"), [0x90 | channel, key, velocity]));
            midi.push((number("end_frame"), [0x80 | channel, key, 0]));
        }
    }
    midi.sort_unstable();
    Offline {
        audio: [side(0), side(1), samples(&cue)],
        midi,
        words: words(&log, compared()),
    }
}

/// What the daemon played, and how many commands and edges of switches came later than they were meant: its loop woke late.
fn live(files: &Files, run: usize) -> (Recording, u64) {
    let log = files.path(&format!("live-{run}.jsonl"));
    let daemon = Daemon::start(
        &files.path(&format!("home-{run}")),
        &[
            "--config",
            files.path("underfoot.toml").to_str().expect("a name"),
            "--chart",
            root("configs/charts/ferry-at-six.toml")
                .to_str()
                .expect("a name"),
            "--drill",
            root("configs/drills/first-evening.toml")
                .to_str()
                .expect("a name"),
            "--foot",
            files.path("foot.txt").to_str().expect("a name"),
            "--events",
            log.to_str().expect("a name"),
            "--seconds",
            &SECONDS.to_string(),
            "--fresh",
        ],
    );
    daemon.wait_for_port("underfoot:midi_out");
    let recorder = Recorder::start("underfoot", 75);
    // The take begins when it can; from then on nothing is to be late.
    let (mut late, mut before) = (0, None);
    let is_over = || {
        std::thread::sleep(Duration::from_secs(2));
        let Some(status) = daemon.status() else {
            return true;
        };
        let counted = |name: &str| status["counters"][name].as_u64().unwrap_or(0);
        let now = counted("late_commands") + counted("late_edges");
        late = now - *before.get_or_insert(now);
        false
    };
    within(Duration::from_secs(70), is_over);
    let output = daemon.wait(75);
    assert_eq!(output.code, Some(0), "{}", output.errors);
    (recorder.finish(), late)
}

/// How many frames are compared: the daemon's end (a fade and a panic) is not the music's.
fn compared() -> u64 {
    ((SECONDS - 0.5) * f64::from(RATE)) as u64
}

/// Compares what both have in common; gives the largest difference of samples and the seconds compared.
fn compare(live: &Recording, offline: &Offline) -> (f32, f64) {
    assert!(!live.full);
    let first = live.midi.first().expect("MIDI").0;
    let until = first + compared();
    let base = offline.midi.first().expect("notes").0;
    assert_eq!(base, 0, "the first count is frame 0");
    let mut heard: Vec<_> = live
        .midi
        .iter()
        .filter(|(at, _)| *at < until)
        .map(|(at, bytes)| (at - first, *bytes))
        .collect();
    heard.sort_unstable();
    let wanted = offline.midi.iter().filter(|(at, _)| *at < until - first);
    let wanted: Vec<_> = wanted.copied().collect();
    let differ = heard.iter().zip(&wanted).position(|(one, two)| one != two);
    if let Some(at) = differ {
        panic!(
            "MIDI differs at {at}: live {:?} offline {:?}",
            &heard[at..(at + 3).min(heard.len())],
            &wanted[at..(at + 3).min(wanted.len())]
        );
    }
    assert_eq!(heard.len(), wanted.len());
    assert!(heard.len() > 500, "{} messages", heard.len());
    let mut largest = 0.0f32;
    let length = (until - first) as usize;
    for (name, (live, offline)) in ["out_l", "out_r", "cue"]
        .iter()
        .zip(live.audio.iter().zip(&offline.audio))
    {
        let live = &live[first as usize..][..length];
        assert!(
            live.iter().any(|sample| sample.abs() > 0.01),
            "{name} is silent"
        );
        for (frame, (one, two)) in live.iter().zip(offline).enumerate() {
            let apart = (one - two).abs();
            assert!(
                apart <= EPSILON,
                "{name} differs at frame {frame} ({:.3} s): live {one}, offline {two}",
                frame as f64 / f64::from(RATE)
            );
            largest = largest.max(apart);
        }
    }
    (largest, length as f64 / f64::from(RATE))
}

/// Commands are sent long before their time; a machine that lets a thread of the daemon's priority sleep longer than
/// this says nothing about the daemon.
const CALM: Duration = Duration::from_millis(10);

fn parity(period: u32) {
    let files = Files::new(CONFIG, FOOT);
    let offline = offline(&files);
    let mut run = 0;
    undisturbed(&format!("parity at {period} frames"), || {
        run += 1;
        let _server = Server::start(RATE, period);
        let probe = Probe::start();
        let (recording, late) = live(&files, run);
        let wakes = probe.finish();
        if recording.gaps > 0 {
            return Err(Disturbed::by(
                recording.gaps,
                "a gap in the recording".into(),
            ));
        }
        if late > 0 {
            let why = format!(
                "{late} commands came late, the probe by {:?}",
                wakes.worst()
            );
            assert!(wakes.worst() > CALM, "{why}");
            return Err(Disturbed::Busy(why));
        }
        // A word whose sound is not ready in its time is left out, or comes in a later window: on a busy machine that
        // is no fault, and no reason to compare samples.
        let said = words(&files.path(&format!("live-{run}.jsonl")), compared());
        if said != offline.words {
            let differs = said
                .iter()
                .zip(&offline.words)
                .find(|(one, two)| one != two);
            let lens = (said.len(), offline.words.len());
            return Err(Disturbed::Amiss(format!("words: {lens:?}, {differs:?}")));
        }
        let (largest, seconds) = compare(&recording, &offline);
        println!(
            "period {period}: {seconds:.1} s the same, {} MIDI messages, largest difference {largest:e}, xruns 0",
            recording.midi.len()
        );
        Ok(())
    });
}

#[test]
fn the_daemon_plays_what_render_writes_at_256_frames() {
    // Small blocks want a machine that does nothing else: the longer tier asks for them.
    if std::env::var("UNDERFOOT_SMALL_BLOCKS").is_err() {
        println!("not asked for: UNDERFOOT_SMALL_BLOCKS=1 runs it");
        return;
    }
    isolated(|| {
        parity(256);
    });
}

#[test]
fn the_daemon_plays_what_render_writes_at_1024_frames() {
    isolated(|| {
        parity(1024);
    });
}
