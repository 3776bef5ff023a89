//! What the lines that programs read promise of their order and their ends: over charts, drills and feet.

use crate::support::program::{command, events, root};
use crate::support::sound_file::write_wav;
use crate::support::strings::lively;
use serde_json::Value;
use std::path::Path;

/// What one foot does in a take (two switches): stages, sections, a stop, a start, and a switch that is held to the end.
const FOOT: &str = "6.0 2 down\n6.2 2 up\n14.0 2 down\n16.0 2 up\n30.0 1 down\n32.0 1 up\n40.0 1 down\n40.2 1 up\n60.0 2 down\n";
/// Two switches, and the tempo of the chart.
const TWO: &str = "[foot]\nswitches = 2\n";

fn rendered(home: &Path, chart: &str, arguments: &[&str]) -> Vec<Value> {
    let log = home.join("events.jsonl");
    let output = command(home)
        .arg("render")
        .arg(root("configs/charts").join(chart))
        .args(["--silent-voice", "--events"])
        .arg(&log)
        .args(arguments)
        .current_dir(home)
        .output()
        .expect("underfoot");
    assert!(output.status.success(), "{output:?}");
    events(&log)
}

/// Frames never go back; what a line says of later is not earlier than the line.
#[track_caller]
fn assert_in_order(lines: &[Value], what: &str) {
    assert_eq!(lines[0]["kind"], "head", "{what}");
    let mut last = i64::MIN;
    for line in &lines[1..] {
        let frame = line["frame"].as_i64().expect("a frame");
        assert!(frame >= last, "{what}: back to {frame} from {last}: {line}");
        last = frame;
        for key in [
            "end_frame",
            "next_change_frame",
            "applied_frame",
            "deadline_frame",
        ] {
            if let Some(later) = line[key].as_i64() {
                assert!(later >= frame, "{what}: {key} before the line: {line}");
            }
        }
    }
}

fn takes(lines: &[Value]) -> Vec<(&str, i64)> {
    let takes = lines.iter().filter(|line| line["kind"] == "take");
    takes
        .map(|line| {
            let frame = line["frame"].as_i64().expect("a frame");
            (line["take"].as_str().expect("a word"), frame)
        })
        .collect()
}

#[test]
fn a_rendering_of_seconds_ends_its_take() {
    let home = tempfile::tempdir().expect("a directory");
    std::fs::write(home.path().join("foot.txt"), FOOT).expect("a file");
    std::fs::write(home.path().join("two.toml"), TWO).expect("a file");
    let drills = ["first-evening", "guide-tones", "ladder", "three-notes"];
    for chart in [
        "ferry-at-six.toml",
        "nine-lanterns.toml",
        "tram-to-the-salt-pans.toml",
    ] {
        for drill in drills {
            let path = root("configs/drills").join(format!("{drill}.toml"));
            let drill = path.to_str().expect("a path");
            // 5.003 s is no whole number of blocks.
            for (seconds, frames) in [("30", 30 * 48_000), ("5.003", 240_144)] {
                let what = format!("{chart} {drill} {seconds}");
                let lines = rendered(
                    home.path(),
                    chart,
                    &["--drill", drill, "--seconds", seconds],
                );
                assert_in_order(&lines, &what);
                // As by foot, the end is told by its tick, of which there are 960 a quarter: less than 3 ms each.
                let [("start", 0), ("stop", end)] = takes(&lines)[..] else {
                    panic!("{what}: {:?}", takes(&lines));
                };
                assert!((frames - 144..=frames).contains(&end), "{what}: {end}");
                let notes = lines.iter().filter(|line| line["kind"] == "note");
                for note in notes {
                    assert!(note["end_frame"].as_i64() <= Some(frames), "{what}: {note}");
                }
            }
            let foot = ["--config", "two.toml", "--foot", "foot.txt"];
            let arguments = ["--drill", drill, "--seconds", "45"];
            let lines = rendered(home.path(), chart, &[&arguments[..], &foot[..]].concat());
            assert_in_order(&lines, chart);
            let words: Vec<&str> = takes(&lines).into_iter().map(|(word, _)| word).collect();
            let alternate = words.iter().enumerate();
            for (place, word) in alternate {
                assert_eq!(
                    *word,
                    if place % 2 == 0 { "start" } else { "stop" },
                    "{words:?}"
                );
            }
            assert_eq!(words.last(), Some(&"stop"), "{chart} {drill}");
            let passes = rendered(home.path(), chart, &["--drill", drill, "--passes", "1"]);
            assert_in_order(&passes, chart);
        }
    }
}

/// The notes of a recording in the program's words.
fn notes(home: &Path, sound: &[f32]) -> Vec<Value> {
    let wav = home.join("take.wav");
    write_wav(&wav, sound, 48_000);
    let output = command(home)
        .args(["listen", "--json"])
        .arg(&wav)
        .output()
        .expect("underfoot");
    let text = String::from_utf8(output.stdout).expect("text");
    text.lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect()
}

#[test]
fn a_note_s_end_is_all_that_a_cut_takes_from_its_line() {
    let home = tempfile::tempdir().expect("a directory");
    let sound = lively();
    let whole = notes(home.path(), &sound);
    assert!(whole.len() > 8, "{} notes", whole.len());
    let number = |note: &Value, key: &str| note[key].as_f64();
    for pair in whole.windows(2) {
        assert!(number(&pair[0], "onset_s") < number(&pair[1], "onset_s"));
        assert!(pair[0]["off_s"].is_number(), "only the last may sound on");
    }
    for note in &whole {
        assert!(number(note, "onset_s") <= number(note, "onset_known_s"));
        assert!(number(note, "onset_known_s") <= number(note, "known_s"));
        let off = number(note, "off_s");
        assert!(off.is_none() || off > number(note, "onset_s"), "{note}");
    }
    let mut open = 0;
    for part in 1..=20 {
        let cut = part * sound.len() / 21 + part * 7;
        let short = notes(home.path(), &sound[..cut]);
        let known = |note: &&Value| number(note, "known_s") <= Some(cut as f64 / 48_000.0);
        assert_eq!(
            short.len(),
            whole.iter().filter(known).count(),
            "cut at {cut}"
        );
        for (place, (short, whole)) in short.iter().zip(&whole).enumerate() {
            let mut expected = whole.clone();
            if short["off_s"].is_null() {
                expected["off_s"] = Value::Null;
                open += usize::from(!whole["off_s"].is_null());
            }
            assert_eq!(*short, expected, "cut at {cut}, note {place}");
        }
    }
    assert!(open > 0, "no cut fell into a note");
}

/// The passes that are asked for are played, no more and no fewer: the section of 8 bars lasts 32 quarters.
#[test]
fn as_many_passes_are_played_as_are_asked_for() {
    for passes in 1..=4 {
        let home = tempfile::tempdir().expect("a directory");
        let lines = rendered(
            home.path(),
            "ferry-at-six.toml",
            &["--passes", &passes.to_string()],
        );
        let is_take = |line: &&Value| line["kind"] == "take" && line["beat"].as_f64() > Some(0.0);
        let end = lines.iter().find(is_take).expect("an end");
        assert_eq!(
            end["beat"].as_f64(),
            Some(f64::from(passes) * 32.0),
            "{passes}"
        );
    }
}
