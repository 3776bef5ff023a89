//! Exported scores, read by an independent reader (Python with music21, `tests/outside/score.py`): the same roots,
//! basses, kinds and places as the lines of `targets`.
//!
//! `UNDERFOOT_MUSIC21` names the interpreter; `tests/outside/venv target/outside-scores requirements-scores.txt`
//! makes one.

// These tests start the program and the reader.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const CHARTS: [&str; 6] = [
    "configs/charts/ferry-at-six.toml",
    "configs/charts/gasworks-corner.toml",
    "configs/charts/nine-lanterns.toml",
    "configs/charts/tram-to-the-salt-pans.toml",
    "tests/fixtures/charts/pickup.toml",
    "tests/fixtures/charts/six-eight.toml",
];

/// Imported first: silence, chords off the beat, altered degrees, basses that are no chord tones, 12/8, 5/4.
const SHEETS: [&str; 6] = [
    "178213326b27.mxl",
    "c45730fc485c.mxl",
    "d28dd828873c.mxl",
    "own/twelve-eight.musicxml",
    "own/key-and-meter.musicxml",
    "own/texts.mid",
];

fn in_house(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn done(command: &mut Command) -> Output {
    let output = command.output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?}: {said}");
    output
}

fn underfoot() -> Command {
    Command::new(env!("CARGO_BIN_EXE_underfoot"))
}

#[test]
fn an_independent_reader_finds_the_same_chords() {
    let Ok(python) = std::env::var("UNDERFOOT_MUSIC21") else {
        let how = "music21 is not there: UNDERFOOT_MUSIC21=$(tests/outside/venv target/outside-scores \
                   requirements-scores.txt) cargo test";
        assert!(std::env::var_os("CI").is_none(), "{how}");
        eprintln!("SKIPPED: {how}");
        return;
    };
    let work = tempfile::tempdir().unwrap();
    let mut charts: Vec<PathBuf> = CHARTS.iter().map(|chart| in_house(chart)).collect();
    for (index, sheet) in SHEETS.iter().enumerate() {
        let chart = work.path().join(format!("{index}.toml"));
        let sheet = in_house("tests/fixtures/leadsheets").join(sheet);
        done(underfoot().arg("import").arg(sheet).arg("-o").arg(&chart));
        charts.push(chart);
    }
    let score = work.path().join("score.musicxml");
    let lines = work.path().join("lines.jsonl");
    for chart in charts {
        done(underfoot().arg("export").arg(&chart).arg("-o").arg(&score));
        let listed = done(
            underfoot()
                .arg("targets")
                .arg(&chart)
                .args(["--form", "--json"]),
        );
        std::fs::write(&lines, listed.stdout).unwrap();
        let mut reader = Command::new(&python);
        reader
            .arg(in_house("tests/outside/score.py"))
            .arg(&score)
            .arg(&lines);
        let said = done(reader.env("PYTHONDONTWRITEBYTECODE", "1"));
        println!(
            "{}: {}",
            chart.display(),
            String::from_utf8_lossy(&said.stdout)
        );
    }
}
