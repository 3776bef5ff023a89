//! `underfoot clock replay` as a program reads it: its lines, its faults, and that what is known never depends on what
//! comes.
// Runs the program.

use serde_json::Value;
use std::io::Write;
use std::process::{Command, Output, Stdio};

fn replay(trace: &str, more: &[&str]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .args(["clock", "replay", "-", "--json"])
        .args(more)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("underfoot");
    // A program that has seen a fault may have closed its end.
    let _ = child
        .stdin
        .take()
        .expect("its input")
        .write_all(trace.as_bytes());
    child.wait_with_output().expect("its output")
}

fn lines(output: &Output) -> Vec<Value> {
    let text = String::from_utf8_lossy(&output.stdout);
    text.lines()
        .map(|line| serde_json::from_str(line).expect("an object"))
        .collect()
}

/// Start, then ticks at 120 quarters a minute.
fn trace(ticks: u32) -> String {
    let tick = |tick: u32| format!("{} f8\n", 10_000 + u64::from(tick) * 62_500 / 3);
    std::iter::once("0 fa\n".to_string())
        .chain((0..ticks).map(tick))
        .collect()
}

#[test]
fn beats_and_ticks_are_lines_with_every_key() {
    let output = replay(&trace(96), &["--hold-beats", "2"]);
    let beats = lines(&output);
    assert!(output.status.success());
    // Beats 0 to 3 and two held ones (the last tick is 95, 48 more are held).
    assert_eq!(beats.len(), 6);
    for (number, line) in beats.iter().enumerate() {
        let mut keys: Vec<&String> = line.as_object().expect("an object").keys().collect();
        keys.sort();
        assert_eq!(keys, ["beat", "bpm", "known_us", "state", "time_us"]);
        assert_eq!(line["beat"], number as f64);
        let off =
            line["time_us"].as_f64().expect("a number") - (10_000.0 + number as f64 * 500_000.0);
        assert!(off.abs() < 100.0, "{line}");
    }
    assert_eq!(
        (&beats[3]["state"], &beats[5]["state"]),
        (&"locked".into(), &"holding".into())
    );
    assert!((beats[3]["bpm"].as_f64().expect("a tempo") - 120.0).abs() < 0.01);
    assert_eq!(
        lines(&replay(&trace(96), &["--ticks", "--hold-beats", "2"])).len(),
        96 + 48
    );
}

#[test]
fn a_recording_cut_short_gives_the_lines_known_by_then() {
    let whole = trace(200);
    let all = lines(&replay(&whole, &["--ticks"]));
    for kept in [1, 2, 3, 5, 14, 60, 133] {
        let cut: String = whole
            .lines()
            .take(kept)
            .map(|line| format!("{line}\n"))
            .collect();
        let last: f64 = cut
            .lines()
            .last()
            .and_then(|line| line.split(' ').next())
            .expect("a time")
            .parse()
            .expect("a number");
        let known = |lines: &[Value]| -> Vec<Value> {
            lines
                .iter()
                .filter(|line| line["known_us"].as_f64() <= Some(last))
                .cloned()
                .collect()
        };
        assert_eq!(
            known(&lines(&replay(&cut, &["--ticks"]))),
            known(&all),
            "{kept}"
        );
    }
}

#[test]
fn a_faulty_trace_is_told_line_by_line_and_nothing_else() {
    let output = replay("0 fa\nnow f8\n5 f8\n4 f8\n", &[]);
    assert_eq!(output.status.code(), Some(65));
    assert!(output.stdout.is_empty());
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(
        told.contains("line 2, column 1")
            && told.contains("line 4, column 1: times do not go back"),
        "{told}"
    );
}
