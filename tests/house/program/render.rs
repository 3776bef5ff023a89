//! The offline renderer through the program: blocks change nothing, the seed decides.
// Runs the program.

use crate::support::program::{command, root};
use std::path::{Path, PathBuf};

/// A stage change in a bar, louder, stop and start: whatever acts on a frame of its own.
const FOOT: &str = "
    5.3   2 down
    5.6   2 up
    9.77  1 down
    9.9   1 up
    14.1  1 down
    16.2  1 up
    20.13 1 down
    20.3  1 up
";
const CONFIG: &str = "
[foot]
switches = 2
[foot.map.playing]
\"1 tap\" = \"louder\"
";

struct Rendering {
    midi: Vec<u8>,
    samples: Vec<f32>,
    cue: Vec<f32>,
    events: String,
}

fn samples(path: &Path) -> Vec<f32> {
    let mut reader = hound::WavReader::open(path).expect("a WAV file");
    reader
        .samples::<f32>()
        .map(|sample| sample.expect("a sample"))
        .collect()
}

fn render(home: &Path, block: &str, seed: u32) -> Rendering {
    let file = |name: &str| -> PathBuf { home.join(name) };
    std::fs::write(file("foot.txt"), FOOT).expect("a file");
    std::fs::write(file("underfoot.toml"), CONFIG).expect("a file");
    let status = command(home)
        .arg("render")
        .arg(root("configs/charts/ferry-at-six.toml"))
        .arg("--drill")
        .arg(root("configs/drills/first-evening.toml"))
        .arg("--config")
        .arg(file("underfoot.toml"))
        .arg("--foot")
        .arg(file("foot.txt"))
        .args(["--seconds", "16", "--bits", "32", "--block", block])
        .args(["--seed", &seed.to_string()])
        .arg("--wav")
        .arg(file("band.wav"))
        .arg("--wav-cue")
        .arg(file("cue.wav"))
        .arg("--midi")
        .arg(file("band.mid"))
        .arg("--events")
        .arg(file("events.jsonl"))
        .status()
        .expect("underfoot");
    assert!(status.success());
    Rendering {
        midi: std::fs::read(file("band.mid")).expect("a file"),
        samples: samples(&file("band.wav")),
        cue: samples(&file("cue.wav")),
        events: std::fs::read_to_string(file("events.jsonl")).expect("a file"),
    }
}

/// The largest difference over what both have (the last block may be longer).
fn apart(one: &[f32], other: &[f32]) -> f32 {
    one.iter()
        .zip(other)
        .map(|(one, other)| (one - other).abs())
        .fold(0.0, f32::max)
}

#[test]
fn the_size_of_the_blocks_changes_nothing() {
    let home = tempfile::tempdir().expect("a directory");
    let usual = render(home.path(), "64", 1);
    assert!(usual.samples.iter().any(|sample| sample.abs() > 0.05));
    assert!(usual.cue.iter().any(|sample| sample.abs() > 0.05));
    for block in ["256", "1024", "37", "1024,1,64,37,999,256"] {
        let other = render(home.path(), block, 1);
        assert!(
            other.midi == usual.midi,
            "MIDI differs at blocks of {block}"
        );
        let band = apart(&usual.samples, &other.samples);
        let cue = apart(&usual.cue, &other.cue);
        println!("blocks of {block}: MIDI the same, band within {band:e}, cue within {cue:e}");
        assert!(band <= 1e-4 && cue <= 1e-4, "{block}: {band} {cue}");
        assert!(other.samples.len().abs_diff(usual.samples.len()) <= 2 * 1024);
    }
}

#[test]
fn the_same_seed_is_the_same_bytes_and_another_is_another() {
    let home = tempfile::tempdir().expect("a directory");
    let one = render(home.path(), "64", 1);
    let same = render(home.path(), "64", 1);
    assert!(one.midi == same.midi && one.samples == same.samples && one.cue == same.cue);
    assert_eq!(one.events, same.events);
    let other = render(home.path(), "64", 2);
    assert!(one.midi != other.midi);
}

/// The frames of the log count from the first count-in frame; every line has every key of its kind.
#[test]
fn the_event_log_has_the_keys_that_programs_read() {
    let home = tempfile::tempdir().expect("a directory");
    let rendering = render(home.path(), "64", 1);
    let mut lines = rendering
        .events
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).expect("JSON"));
    let head = lines.next().expect("a head");
    for (key, value) in [
        ("kind", serde_json::json!("head")),
        ("rate", serde_json::json!(48_000)),
        ("ppq", serde_json::json!(960)),
        ("seed", serde_json::json!(1)),
    ] {
        assert_eq!(head[key], value, "{key}");
    }
    let mut kinds = std::collections::BTreeSet::new();
    let mut first = None;
    for line in lines {
        let kind = line["kind"].as_str().expect("a kind").to_string();
        let own: &[&str] = match kind.as_str() {
            "note" => &["part", "midi", "velocity", "end_frame"],
            "page" => &["page", "now", "next", "large", "next_change_frame"],
            "say" => &["text", "form", "end_frame", "deadline_frame"],
            "foot" => &["switch", "gesture", "action", "moment", "applied_frame"],
            "change" => &["what", "index"],
            "take" => &["take"],
            _ => &[],
        };
        let common = ["frame", "beat", "bar", "section", "stage", "pass"];
        for key in common.iter().chain(own) {
            assert!(line.get(key).is_some(), "{kind} without {key}: {line}");
        }
        if kind == "note" {
            first = first.or(line["frame"].as_i64());
        }
        kinds.insert(kind);
    }
    assert_eq!(first, Some(0), "the first count");
    for kind in [
        "note", "page", "say", "foot", "change", "stage", "section", "take",
    ] {
        assert!(kinds.contains(kind), "no {kind} line in {kinds:?}");
    }
}
