//! Errors in one style: the file (with line and column where it has any), then the rule that is broken; a wrong command line
//! begins with "error:", as the library for command lines tells it.
// Runs the program and writes files.

use crate::support::program::{command, root};
use std::path::Path;

const CHART: &str = "configs/charts/ferry-at-six.toml";
const DRILL: &str = "configs/drills/first-evening.toml";
const GONE: &str = "cannot be read (no such file or directory)";
const UNWRITABLE: &str = "cannot be written (no such file or directory)";

/// Each command with its exit code and what it says first; `{}` is the chart.
fn cases() -> Vec<(Vec<&'static str>, i32, String)> {
    let gone = |name: &str| format!("{name}: {GONE}");
    let error = |text: &str| format!("error: {text}");
    let no_stage = || {
        error(
            "the drill has no stage \"nine\"; its stages: roots, root and third above, root, second, third in every order",
        )
    };
    let cases: Vec<(&str, i32, String)> = vec![
        ("check gone.toml", 65, gone("gone.toml")),
        ("symbols gone.txt", 65, gone("gone.txt")),
        ("targets gone.toml", 65, gone("gone.toml")),
        ("targets {} --drill {D} --stage nine", 64, no_stage()),
        (
            "render {}",
            64,
            error("nothing to write: give --wav, --wav-cue, --stems, --midi, --events or --pages"),
        ),
        ("render {} --wav no/x.wav", 65, format!("no/x.wav: {UNWRITABLE}")),
        ("render {} --midi .", 65, ".: cannot be written (it is a directory)".into()),
        ("render {} --bits 24 --midi x.mid", 64, error("--bits is 16 or 32")),
        (
            "render {} --guitar cut.wav --events -",
            65,
            "cut.wav: no WAV file that can be read (it breaks off)".into(),
        ),
        (
            "render {} --soundfont gone.sf2 --wav x.wav",
            65,
            "gone.sf2: the SoundFont cannot be read (no such file or directory)".into(),
        ),
        (
            "render {} --stems cut.wav",
            65,
            "cut.wav: cannot be written (another file of this name is there)".into(),
        ),
        (
            "lesson {D} {} -o cut.wav",
            65,
            "cut.wav: cannot be written (another file of this name is there)".into(),
        ),
        ("lesson {D} {} -o l --stage nine", 64, no_stage()),
        ("drill coverage gone.toml {}", 65, gone("gone.toml")),
        ("set gone.toml", 65, gone("gone.toml")),
        (
            "pages {} -o cut.wav",
            65,
            "cut.wav: cannot be written (another file of this name is there)".into(),
        ),
        ("import gone.xml", 65, gone("gone.xml")),
        ("update gone.deb --key gone.pub", 65, format!("{}: there goes the public key (minisign's .pub) of whoever makes your packages", gone("gone.pub"))),
        ("import {}", 65, "{}: a chart of ours: there is nothing to import".into()),
        (
            "import typed.txt",
            65,
            "typed.txt:1:6: \"H minor\" is no key (such as \"G minor\", \"Bb major\", \"3 flats\", \"no sharps or flats\") (nearest: \"B minor\")"
                .into(),
        ),
        ("export gone.toml", 65, gone("gone.toml")),
        ("export {} -o no/y", 65, format!("no/y: {UNWRITABLE}")),
        ("listen gone.wav", 65, gone("gone.wav")),
        ("status --config gone.toml", 78, gone("gone.toml")),
        (
            "status --socket no.sock",
            69,
            "no daemon answers at no.sock (no such file or directory)".into(),
        ),
        ("doctor --root no", 65, gone("no")),
        ("clock replay gone.txt", 65, gone("gone.txt")),
        (
            "help nine",
            64,
            error("there is no command and no topic \"nine\"; `underfoot help` lists them"),
        ),
    ];
    let words = |text: &str| -> Vec<&'static str> {
        let words = text.split(' ').map(|word| match word {
            "{}" => CHART,
            "{D}" => DRILL,
            other => other.to_string().leak(),
        });
        words.collect()
    };
    let told = |text: String| text.replace("{}", CHART);
    cases
        .into_iter()
        .map(|(text, code, first)| (words(text), code, told(first)))
        .collect()
}

fn tell(dir: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let output = command(dir)
        .args(arguments)
        .current_dir(dir)
        .output()
        .expect("underfoot");
    let error = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code(), error)
}

#[test]
fn every_command_tells_its_errors_in_one_style() {
    let home = tempfile::tempdir().expect("a directory");
    std::fs::write(home.path().join("cut.wav"), b"RIFF").expect("a file");
    std::fs::write(home.path().join("typed.txt"), "Key: H minor\n| C |\n").expect("a file");
    std::os::unix::fs::symlink(root("configs"), home.path().join("configs")).expect("a link");
    let mut wrong = Vec::new();
    for (arguments, code, first) in cases() {
        let (ended, error) = tell(home.path(), &arguments);
        let told = error.lines().next().unwrap_or_default();
        if ended != Some(code) || told != first {
            wrong.push(format!(
                "{arguments:?}\n  {ended:?} {told}\n  not {code} {first}"
            ));
        }
        // No number of the system, no sentence of a library, no name of a type.
        for mark in ["os error", "Error(", "Some(", "None", "Utf8"] {
            assert!(!error.contains(mark), "{arguments:?}: {error}");
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
