//! The rendered MIDI file, read by an independent reader (Python with mido, `tests/outside`) against a grid that
//! the reader computes itself from the chart, and against what a bandleader asks of comping and bass.
//!
//! `UNDERFOOT_PYTHON` names the interpreter (`tests/outside/venv` makes one); `UNDERFOOT_OUTSIDE_SECONDS` the
//! length of a render, 90 by default.

// These tests start the program and the reader, and read what they wrote.

use std::path::{Path, PathBuf};
use std::process::Command;

/// Charts of the whole form as it is just played.
const CHARTS: [&str; 6] = [
    "configs/charts/ferry-at-six.toml",
    "configs/charts/gasworks-corner.toml",
    "configs/charts/nine-lanterns.toml",
    "configs/charts/tram-to-the-salt-pans.toml",
    "tests/fixtures/outside/slow-lift.toml",
    "tests/fixtures/outside/corner-shop.toml",
];

/// Stages of `tests/fixtures/outside/hidden.toml` and what is asked of them.
const STAGES: [(&str, &[&str]); 4] = [
    (
        "third hidden",
        &[
            "--comping",
            "without-target",
            "--degrees",
            "3",
            "--learning",
        ],
    ),
    (
        "chord hidden",
        &["--comping", "without-target", "--degrees", "1,3,5"],
    ),
    (
        "third inside",
        &["--comping", "inside", "--degrees", "1,3", "--learning"],
    ),
    (
        "chord inside",
        &["--comping", "inside", "--degrees", "1,3,5"],
    ),
];

fn in_house(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The interpreter of the reader; none: skipped, but not where tests must be whole.
fn python() -> Option<String> {
    let python = std::env::var("UNDERFOOT_PYTHON").ok();
    if python.is_none() {
        let how = "the independent reader is not there: UNDERFOOT_PYTHON=$(tests/outside/venv) cargo test";
        assert!(std::env::var_os("CI").is_none(), "{how}");
        eprintln!("SKIPPED: {how}");
    }
    python
}

fn seconds() -> String {
    std::env::var("UNDERFOOT_OUTSIDE_SECONDS").unwrap_or_else(|_| "90".to_string())
}

/// Renders the whole form of a chart and returns the file's bytes.
fn render(chart: &str, to: &Path, seconds: &str, more: &[&str]) -> Vec<u8> {
    // On the grid itself.
    let config = to.with_extension("toml");
    std::fs::write(&config, "[practice]\nfeel_amount = 0\n").unwrap();
    let more = [&["--config", config.to_str().unwrap()], more].concat();
    felt(chart, to, seconds, &more)
}

/// The same as people play it.
fn felt(chart: &str, to: &Path, seconds: &str, more: &[&str]) -> Vec<u8> {
    let output = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .arg("render")
        .arg(in_house(chart))
        .args(["--form", "--silent-voice", "--seconds", seconds, "--midi"])
        .arg(to)
        .args(more)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{chart}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    std::fs::read(to).unwrap()
}

/// What the reader says, and whether it had nothing to object.
fn listen(python: &str, chart: &str, file: &Path, asked: &[&str]) -> (bool, String) {
    let output = Command::new(python)
        .arg(in_house("tests/outside/listen.py"))
        .arg(in_house(chart))
        .arg(file)
        .args(asked)
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    (output.status.success(), said)
}

#[test]
fn an_independent_reader_has_nothing_to_object() {
    let Some(python) = python() else { return };
    let work = tempfile::tempdir().unwrap();
    let file = work.path().join("take.mid");
    let mut objections = String::new();
    for chart in CHARTS {
        render(chart, &file, &seconds(), &[]);
        let (fine, said) = listen(&python, chart, &file, &[]);
        println!("{chart}: {said}");
        if !fine {
            objections += &format!("{chart}: {said}");
        }
    }
    assert!(objections.is_empty(), "{objections}");
}

#[test]
fn people_are_twenty_milliseconds_off_at_the_most_and_drift() {
    let Some(python) = python() else { return };
    let work = tempfile::tempdir().unwrap();
    let file = work.path().join("take.mid");
    let mut objections = String::new();
    for chart in CHARTS {
        felt(chart, &file, &seconds(), &[]);
        let (fine, said) = listen(&python, chart, &file, &["--feel-ms", "20"]);
        println!("{chart}: {said}");
        if !fine {
            objections += &format!("{chart}: {said}");
        }
    }
    assert!(objections.is_empty(), "{objections}");
}

#[test]
fn minor_ninths_between_the_parts_are_the_chord_s_own_or_passing() {
    let Some(python) = python() else { return };
    let work = tempfile::tempdir().unwrap();
    let mut objections = String::new();
    for chart in CHARTS.iter().filter(|chart| chart.starts_with("configs")) {
        let files: Vec<PathBuf> = ["1", "2", "3"]
            .iter()
            .map(|seed| {
                let file = work.path().join(format!("{seed}.mid"));
                render(chart, &file, "180", &["--seed", seed]);
                file
            })
            .collect();
        let output = Command::new(&python)
            .arg(in_house("tests/outside/ninths.py"))
            .arg(in_house(chart))
            .args(&files)
            .env("PYTHONDONTWRITEBYTECODE", "1")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stdout).into_owned()
            + &String::from_utf8_lossy(&output.stderr);
        println!("{said}");
        if !output.status.success() {
            objections += &said;
        }
    }
    assert!(objections.is_empty(), "{objections}");
}

#[test]
fn the_comping_gives_away_what_the_stage_allows() {
    let Some(python) = python() else { return };
    let work = tempfile::tempdir().unwrap();
    let file = work.path().join("take.mid");
    let drill = in_house("tests/fixtures/outside/hidden.toml");
    let mut objections = String::new();
    for chart in CHARTS {
        for (stage, asked) in STAGES {
            let stage_of = ["--drill", drill.to_str().unwrap(), "--stage", stage];
            render(chart, &file, "60", &stage_of);
            let (fine, said) = listen(&python, chart, &file, asked);
            println!("{chart}, {stage}: {said}");
            if !fine {
                objections += &format!("{chart}, {stage}: {said}");
            }
        }
    }
    assert!(objections.is_empty(), "{objections}");
}

#[test]
fn the_reader_notices_every_known_fault() {
    let Some(python) = python() else { return };
    let work = tempfile::tempdir().unwrap();
    let file = work.path().join("take.mid");
    for chart in CHARTS {
        render(chart, &file, "60", &[]);
        let (fine, said) = listen(&python, chart, &file, &["--prove"]);
        println!("{chart}: {said}");
        assert!(fine && said.contains("noticed"), "{chart}: {said}");
    }
}

#[test]
fn same_seed_same_bytes_other_seed_other_bytes() {
    let work = tempfile::tempdir().unwrap();
    let file = work.path().join("take.mid");
    for chart in CHARTS {
        let take = |seed| render(chart, &file, "30", &["--seed", seed]);
        let first = take("7");
        assert_eq!(first, take("7"), "{chart}");
        assert_ne!(first, take("8"), "{chart}");
    }
}
