//! Bad input through the real binary: what is told, the exit code, and that nothing half-made is left.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The program in `dir`, without any of the user's own files.
fn underfoot(dir: &Path, arguments: &[&str]) -> Output {
    let home = tempfile::tempdir().unwrap();
    Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .args(arguments)
        .current_dir(dir)
        .env_clear()
        .env("HOME", home.path())
        .output()
        .unwrap()
}

/// Asserts an exit code with what is told, and that standard output stays empty.
#[track_caller]
fn refused(dir: &Path, arguments: &[&str], code: i32, told: &str) {
    let output = underfoot(dir, arguments);
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(error.trim_end(), told.trim_end(), "{arguments:?}");
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {error}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
}

/// The broken files of a kind with what is to be told of each.
fn broken(kind: &str, told: &str) -> (PathBuf, Vec<(String, String)>) {
    let dir = root().join("tests/fixtures/broken").join(kind);
    let mut cases = Vec::new();
    for entry in fs::read_dir(&dir).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|end| end == "toml") {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            cases.push((name, fs::read_to_string(path.with_extension(told)).unwrap()));
        }
    }
    cases.sort();
    (dir, cases)
}

#[test]
fn broken_charts_are_told_by_every_command() {
    let (dir, cases) = broken("charts", "txt");
    assert!(cases.len() >= 10);
    let out = tempfile::tempdir().unwrap();
    let wav = out.path().join("take.wav");
    for (name, told) in cases {
        if name == "empty.toml" {
            // Without a name for it, nobody knows what an empty file was to be.
            let rule =
                "empty: no chart (which begins with title = \"...\"), drill or configuration";
            refused(&dir, &["check", &name], 65, &format!("{name}: {rule}"));
        } else {
            refused(&dir, &["check", &name], 65, &told);
        }
        refused(&dir, &["targets", &name, "--json"], 65, &told);
        refused(
            &dir,
            &["render", &name, "--wav", wav.to_str().unwrap()],
            65,
            &told,
        );
        assert!(!wav.exists());
        #[cfg(feature = "jack")]
        refused(&dir, &["run", "--chart", &name], 65, &told);
    }
    assert_eq!(fs::read_dir(out.path()).unwrap().count(), 0);
}

#[test]
fn broken_drills_are_told_by_every_command() {
    let (dir, cases) = broken("drills", "faults");
    assert!(cases.len() >= 5);
    let chart = root().join("configs/charts/ferry-at-six.toml");
    let chart = chart.to_str().unwrap();
    for (name, told) in cases {
        refused(&dir, &["check", &name], 65, &told);
        refused(&dir, &["targets", chart, "--drill", &name], 65, &told);
        refused(&dir, &["render", chart, "--drill", &name], 65, &told);
        #[cfg(feature = "jack")]
        refused(
            &dir,
            &["run", "--chart", chart, "--drill", &name],
            65,
            &told,
        );
    }
}

#[test]
fn broken_configurations_are_told_by_every_command() {
    let (dir, cases) = broken("configs", "txt");
    assert!(cases.len() >= 5);
    let chart = root().join("configs/charts/ferry-at-six.toml");
    let chart = chart.to_str().unwrap();
    for (name, told) in cases {
        refused(&dir, &["check", &name], 78, &told);
        refused(&dir, &["render", chart, "--config", &name], 78, &told);
        refused(&dir, &["status", "--config", &name], 78, &told);
        #[cfg(feature = "jack")]
        refused(&dir, &["run", "--config", &name], 78, &told);
    }
}

#[test]
fn a_chart_and_a_drill_are_told_at_once_and_65_wins_over_78() {
    let dir = root().join("tests/fixtures/broken");
    let output = underfoot(
        &dir,
        &[
            "targets",
            "charts/form.toml",
            "--drill",
            "drills/words.toml",
        ],
    );
    let error = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(65));
    assert!(error.contains("charts/form.toml:2:27:") && error.contains("drills/words.toml:5:1:"));
    let output = underfoot(&dir, &["check", "configs/syntax.toml", "charts/form.toml"]);
    let error = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(65));
    assert!(error.contains("configs/syntax.toml:6:9:") && error.contains("charts/form.toml:2:27:"));
}

#[test]
fn files_that_are_no_text_of_ours() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    fs::create_dir(at.join("folder")).unwrap();
    fs::write(at.join("large.toml"), vec![b'#'; (1 << 20) + 1]).unwrap();
    fs::write(at.join("fits.toml"), vec![b'#'; 1 << 20]).unwrap();
    fs::write(
        at.join("latin.toml"),
        b"# one\ntitle = \"Caf\xe9\"\n[[section]]\n",
    )
    .unwrap();
    fs::write(at.join("sheet.musicxml"), "\n<?xml version=\"1.0\"?>\n").unwrap();
    fs::write(at.join("sheet.mxl"), b"PK\x03\x04\xff\x00").unwrap();
    fs::write(at.join("sheet.mid"), b"MThd\x00\x00\x00\x06").unwrap();
    let score = |name: &str| {
        format!(
            "{name}: a score, not a file of ours: \"underfoot import {name} -o chart.toml\" makes a chart of it"
        )
    };
    let scores = ["sheet.musicxml", "sheet.mxl", "sheet.mid"];
    for name in scores {
        refused(at, &["check", name], 65, &score(name));
        refused(at, &["targets", name], 65, &score(name));
    }
    let cases = [
        ("folder", "folder: cannot be read (it is a directory)"),
        (
            "gone.toml",
            "gone.toml: cannot be read (no such file or directory)",
        ),
        (
            "large.toml",
            "large.toml: larger than 1 MiB: not a file of ours",
        ),
        (
            "latin.toml",
            "latin.toml:2: no UTF-8 text (byte 18 of the file)",
        ),
    ];
    for (name, told) in cases {
        if name != "large.toml" {
            refused(at, &["check", name], 65, told);
        }
        refused(at, &["targets", name, "--json"], 65, told);
        refused(at, &["render", name], 65, told);
        refused(at, &["render", "x", "--config", name], 78, told);
    }
    // All comment: a configuration that changes nothing, as long as it is not too long.
    refused(at, &["check", "large.toml"], 78, cases[2].1);
    assert_eq!(
        underfoot(at, &["check", "fits.toml"]).status.code(),
        Some(0)
    );
}

/// A RIFF file of the form `sfbk` whose header announces `length` bytes, with `data` behind it.
fn soundfont(length: u32, data: &[u8]) -> Vec<u8> {
    [b"RIFF", &length.to_le_bytes()[..], b"sfbk", data].concat()
}

#[test]
fn soundfonts_that_lie_about_their_length_are_refused_before_anything_is_allocated() {
    let dir = tempfile::tempdir().unwrap();
    let two_gib = 1u32 << 31;
    let list = [
        b"LIST",
        &(two_gib - 100).to_le_bytes()[..],
        b"sdta",
        b"smpl",
        &(two_gib - 200).to_le_bytes(),
    ]
    .concat();
    fs::write(
        dir.path().join("cut.sf2"),
        soundfont(5000, b"LIST\x40\0\0\0INFOifil\x04\0\0\0\x02\0\x01\0"),
    )
    .unwrap();
    fs::write(dir.path().join("huge.sf2"), soundfont(two_gib, &list)).unwrap();
    fs::write(dir.path().join("none.sf2"), b"no SoundFont at all").unwrap();
    let chart = root().join("configs/charts/ferry-at-six.toml");
    for name in ["cut.sf2", "huge.sf2", "none.sf2"] {
        for arguments in [
            vec!["check", name],
            vec![
                "render",
                chart.to_str().unwrap(),
                "--soundfont",
                name,
                "--wav",
                "take.wav",
            ],
        ] {
            // 512 MiB of addresses: what is announced could not be had.
            let output = Command::new("bash")
                .args(["-c", "ulimit -v 524288; exec \"$@\"", "bash"])
                .arg(env!("CARGO_BIN_EXE_underfoot"))
                .args(&arguments)
                .current_dir(dir.path())
                .output()
                .unwrap();
            let error = String::from_utf8_lossy(&output.stderr);
            assert_eq!(output.status.code(), Some(65), "{arguments:?}: {error}");
            assert!(error.starts_with(&format!("{name}: ")), "{error}");
            assert_eq!(error.trim_end().lines().count(), 1, "{error}");
            assert!(!dir.path().join("take.wav").exists());
        }
    }
}

#[test]
fn a_foot_script_is_told_line_by_line() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(
        dir.path().join("foot.txt"),
        "0 1 down\n1 9 up\nx 1 down\n2 1 dwon\n",
    )
    .unwrap();
    let chart = root().join("configs/charts/ferry-at-six.toml");
    let render = ["render", chart.to_str().unwrap(), "--foot", "foot.txt"];
    for arguments in [&["check", "foot.txt"][..], &render] {
        let output = underfoot(dir.path(), arguments);
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(65), "{error}");
        let places: Vec<&str> = error
            .lines()
            .map(|line| line.split(": ").next().unwrap())
            .collect();
        assert_eq!(
            places,
            ["foot.txt:2:3", "foot.txt:3:1", "foot.txt:4:5"],
            "{error}"
        );
        assert!(error.contains("down"), "{error}");
    }
}

#[test]
fn a_foot_script_for_switches_that_are_not_there_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("two.txt"), "8 2 down\n8.2 2 up\n").unwrap();
    fs::write(dir.path().join("box.toml"), "[foot]\nswitches = 2\n").unwrap();
    let chart = root().join("configs/charts/ferry-at-six.toml");
    let chart = chart.to_str().unwrap();
    let told = [(1, 3), (2, 5)].map(|(line, column)| {
        format!("two.txt:{line}:{column}: switch 2, but there is 1 (switches, in [foot] of the configuration)")
    });
    let render = ["render", chart, "--foot", "two.txt"];
    refused(dir.path(), &render, 65, &told.join("\n"));
    #[cfg(feature = "jack")]
    {
        let run = ["run", "--chart", chart, "--foot", "two.txt"];
        refused(dir.path(), &run, 65, &told.join("\n"));
    }
    let more = [
        "--config",
        "box.toml",
        "--seconds",
        "1",
        "--silent-voice",
        "--events",
        "-",
    ];
    let output = underfoot(dir.path(), &[&render[..], &more].concat());
    assert_eq!(output.status.code(), Some(0));
}

#[test]
fn files_that_cannot_be_had_are_told_by_the_name_that_was_given() {
    let chart = root().join("configs/charts/ferry-at-six.toml");
    let chart = chart.to_str().unwrap();
    let unwritable = "no-dir/x: cannot be written (no such file or directory)";
    let none = "none.sf2: the SoundFont cannot be read (no such file or directory)";
    let cases = [
        (["--wav", "no-dir/x"], unwritable),
        (["--midi", "no-dir/x"], unwritable),
        (["--events", "no-dir/x"], unwritable),
        (["--soundfont", "none.sf2"], none),
    ];
    let dir = tempfile::tempdir().unwrap();
    for (arguments, told) in cases {
        let render = ["render", chart, "--seconds", "1", "--silent-voice"];
        let output = underfoot(dir.path(), &[&render[..], &arguments].concat());
        let error = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(65), "{error}");
        assert!(error.lines().any(|line| line == told), "{error}");
    }
}

#[test]
fn wrong_command_lines_are_64() {
    let chart = root().join("configs/charts/ferry-at-six.toml");
    let chart = chart.to_str().unwrap();
    let drill = root().join("configs/drills/roots.toml");
    let drill = drill.to_str().unwrap();
    let cases: [(&[&str], &str); 12] = [
        (&[], "Usage"),
        (&["targts"], "targets"),
        (&["check"], "FILE"),
        (&["targets", chart, "--stage", "1"], "--drill"),
        (&["targets", chart, "--drill", drill, "--pass", "0"], "0"),
        (
            &["targets", chart, "--drill", drill, "--stage", "9"],
            "no stage \"9\"",
        ),
        (
            &["render", chart, "--seconds", "inf"],
            "a number from 0.001 to 86400 seconds",
        ),
        (
            &["render", chart, "--tempo", "NaN"],
            "a number from 30 to 300 quarter notes a minute",
        ),
        (&["render", chart, "--bits", "24"], "16 or 32"),
        (&["render", chart, "--block", "0"], "1 to 8192"),
        (
            &["render", chart],
            "nothing to write: give --wav, --wav-cue, --stems, --midi, --events or --pages",
        ),
        #[cfg(feature = "jack")]
        (
            &["run", "--chart", chart, "--terminal", "--events", "-"],
            "both write to standard output",
        ),
        #[cfg(not(feature = "jack"))]
        (&["render"], "CHART"),
    ];
    for (arguments, told) in cases {
        let output = underfoot(&root(), arguments);
        let error = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(64), "{arguments:?}: {error}");
        assert!(error.contains(told), "{arguments:?}: {error}");
        assert!(output.stdout.is_empty());
    }
}

#[test]
fn nobody_to_ask_is_69() {
    let dir = tempfile::tempdir().unwrap();
    let output = underfoot(
        dir.path(),
        &["status", "--json", "--socket", "no-such-socket"],
    );
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(69), "{error}");
    assert!(
        error.starts_with("no daemon answers at no-such-socket"),
        "{error}"
    );
}
