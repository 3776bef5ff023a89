//! Printed sheets, read by others: MusicXML by its schema, music21 and Verovio, MEI by Verovio (the notes, strings, frets, chords and
//! sections of `targets`), the ink of SVG by fontTools, PDF by qpdf and poppler (`tests/outside/sheets.py`).
//!
//! `UNDERFOOT_SHEETS` names the interpreter; `tests/outside/venv target/outside-sheets requirements-sheets.txt` makes one.

// These tests start the program and the readers.

use crate::support::program::root;
use std::path::Path;
use std::process::{Command, Output};

const CHARTS: [&str; 4] = [
    "ferry-at-six",
    "gasworks-corner",
    "nine-lanterns",
    "tram-to-the-salt-pans",
];
/// A drill and a stage that names its notes.
const STAGES: [(&str, &str); 3] = [("three-notes", "3"), ("ladder", "25"), ("ladder-bass", "9")];
const PLAYERS: [&str; 4] = [
    "",
    "[display]\nnames = \"German\"\nleft_handed = true\n",
    "[neck]\ntuning = [\"E1\", \"A1\", \"D2\", \"G2\"]\n",
    "[neck]\ncapo = 3\n",
];

fn done(command: &mut Command) -> Output {
    let output = command.output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?}: {said}");
    output
}

fn underfoot(what: &str, (chart, drill, stage): (&str, &str, &str), config: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_underfoot"));
    command
        .arg(what)
        .arg(root(&format!("configs/charts/{chart}.toml")));
    command
        .arg("--drill")
        .arg(root(&format!("configs/drills/{drill}.toml")));
    command.args(["--stage", stage]).arg("--config").arg(config);
    command
}

/// What is not there is skipped, but not where everything must be.
fn skipped(how: &str) {
    assert!(std::env::var_os("CI").is_none(), "{how}");
    eprintln!("SKIPPED: {how}");
}

#[test]
fn independent_readers_find_the_notes_places_and_chords_of_targets() {
    let Ok(python) = std::env::var("UNDERFOOT_SHEETS") else {
        return skipped(
            "the readers of sheets are not there: UNDERFOOT_SHEETS=$(tests/outside/venv target/outside-sheets \
             requirements-sheets.txt) cargo test",
        );
    };
    let reader = || {
        let mut reader = Command::new(&python);
        reader
            .arg(root("tests/outside/sheets.py"))
            .env("PYTHONDONTWRITEBYTECODE", "1");
        reader
    };
    let work = tempfile::tempdir().unwrap();
    let file = |name: &str| work.path().join(name);
    let mut count = 0;
    for chart in CHARTS {
        for (drill, stage) in STAGES {
            let player = PLAYERS[count % PLAYERS.len()];
            count += 1;
            let (what, config) = ((chart, drill, stage), file("player.toml"));
            std::fs::write(&config, player).unwrap();
            for output in ["a.musicxml", "a.mei", "a.svg"] {
                done(
                    underfoot("sheet", what, &config)
                        .arg("-o")
                        .arg(file(output)),
                );
            }
            let listed = done(underfoot("targets", what, &config).arg("--json"));
            std::fs::write(file("a.jsonl"), listed.stdout).unwrap();
            done(
                reader()
                    .arg("score")
                    .args(["a.musicxml", "a.mei", "a.jsonl"].map(file)),
            );
            done(reader().arg("boxes").arg(file("a.svg")));
            let chorus = ["--kind", "chorus", "-o"];
            done(
                underfoot("sheet", what, &config)
                    .args(chorus)
                    .arg(file("b.svg")),
            );
            done(reader().arg("boxes").arg(file("b.svg")));
        }
    }
    assert_eq!(count, 12);
}

#[test]
fn the_pdf_is_sound_its_fonts_are_in_it_and_its_text_can_be_copied() {
    let tools = ["qpdf", "pdffonts", "pdftotext", "pdfinfo"];
    let is_there = |tool: &&str| Command::new(tool).arg("--version").output().is_ok();
    if !tools.iter().all(is_there) {
        return skipped("qpdf or poppler-utils are not there: boards/desk/packages install test");
    }
    let work = tempfile::tempdir().unwrap();
    let file = |name: &str| work.path().join(name);
    std::fs::write(file("player.toml"), "").unwrap();
    for kind in ["chords", "chorus"] {
        let what = ("ferry-at-six", "three-notes", "3");
        let mut sheet = underfoot("sheet", what, &file("player.toml"));
        done(sheet.args(["--kind", kind, "-o"]).arg(file("a.pdf")));
        done(Command::new("qpdf").arg("--check").arg(file("a.pdf")));
        let fonts = done(Command::new("pdffonts").arg(file("a.pdf")));
        assert_eq!(String::from_utf8_lossy(&fonts.stderr), "");
        let fonts = String::from_utf8_lossy(&fonts.stdout).into_owned();
        let fonts: Vec<&str> = fonts.lines().skip(2).collect();
        assert!(
            fonts.len() == 2 && fonts.iter().all(|font| font.contains(" yes yes yes ")),
            "{fonts:?}"
        );
        let about = done(Command::new("pdfinfo").arg(file("a.pdf")));
        let about = String::from_utf8_lossy(&about.stdout).into_owned();
        for line in [
            "Title:           Ferry at Six",
            "Tagged:          yes",
            "Pages:           2",
        ] {
            assert!(about.contains(line), "{about}");
        }
        let tags = done(Command::new("pdfinfo").arg("-struct").arg(file("a.pdf")));
        let tags = String::from_utf8_lossy(&tags.stdout).into_owned();
        assert!(tags.contains("H1") && tags.contains("Figure"), "{tags}");
        let text = done(Command::new("pdftotext").arg(file("a.pdf")).arg("-"));
        let text = String::from_utf8_lossy(&text.stdout).into_owned();
        for words in ["Ferry at Six", "Am7♭5", "♭3", "Three notes: every order"] {
            assert!(text.contains(words), "{words}: {text}");
        }
    }
}
