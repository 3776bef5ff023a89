//! The commands that programs read, through the real binary.

use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// Runs the program with something on its standard input; exit code, standard output and error.
fn underfoot(arguments: &[&str], input: &[u8]) -> (i32, String, String) {
    let home = tempfile::tempdir().unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .args(arguments)
        .current_dir(ROOT)
        .env_clear()
        .env("HOME", home.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A program that refuses its arguments reads nothing.
    let _ = child.stdin.take().unwrap().write_all(input);
    let output = child.wait_with_output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    let code = output.status.code().unwrap();
    (code, text(output.stdout), text(output.stderr))
}

/// The lines of a command that goes well.
#[track_caller]
fn lines(arguments: &[&str], input: &str) -> Vec<Value> {
    let (code, out, error) = underfoot(arguments, input.as_bytes());
    assert_eq!((code, error.as_str()), (0, ""), "{arguments:?}");
    out.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn symbols_answer_line_by_line() {
    let long = "m".repeat(5000);
    let input = format!("C7b9\r\n\n Cmaj7?\n{long}\nN.C.\nAm7/D");
    let lines = lines(&["symbols", "-"], &input);
    assert_eq!(lines.len(), 6);
    // Spelled by the rule of thirds: a flat nine over C is D flat.
    assert_eq!(
        lines[0],
        json!({"symbol": "C7b9", "root": "C", "bass": "C", "degrees": ["1", "3", "5", "b7", "b9"],
            "tones": ["C", "E", "G", "Bb", "Db"], "pcs": [0, 1, 4, 7, 10]})
    );
    for (line, index, symbol, column, nearest) in [
        (&lines[1], 1, "", 1, Value::Null),
        (&lines[2], 2, " Cmaj7?", 7, json!("Cmaj7")),
        (&lines[3], 3, &long[..4096], 65, Value::Null),
    ] {
        assert_eq!(line["index"], index);
        assert_eq!(line["symbol"], symbol);
        assert_eq!(
            (&line["column"], &line["nearest"]),
            (&json!(column), &nearest)
        );
        assert!(line["error"].is_string());
    }
    let silence = json!({"symbol": "N.C.", "root": null, "bass": null, "degrees": [], "tones": [], "pcs": []});
    assert_eq!(lines[4], silence);
    assert_eq!(
        (&lines[5]["bass"], &lines[5]["pcs"]),
        (&json!("D"), &json!([0, 2, 4, 7, 9]))
    );
}

#[test]
fn what_a_symbol_says_twice_is_told() {
    let cases = [
        ("Am77", 4, "\"7\" stands there twice"),
        ("C7b9b9", 5, "\"b9\" stands there twice"),
        ("C97", 3, "what \"7\" says stands there already"),
        ("C7altalt", 6, "\"alt\" stands there twice"),
    ];
    let input: Vec<&str> = cases.iter().map(|(symbol, ..)| *symbol).collect();
    for (line, (symbol, column, told)) in lines(&["symbols", "-"], &input.join("\n"))
        .iter()
        .zip(cases)
    {
        assert_eq!(line["error"], told, "{symbol}");
        assert_eq!(line["column"], column, "{symbol}");
    }
}

#[test]
fn what_is_no_utf_8_is_a_faulty_symbol_among_good_ones() {
    let (code, out, _) = underfoot(&["symbols", "-"], b"C\n\xff7\nG7\n");
    let lines: Vec<Value> = out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!((code, lines.len()), (0, 3));
    assert_eq!(
        (&lines[1]["index"], &lines[1]["column"]),
        (&json!(1), &json!(1))
    );
    assert_eq!(lines[2]["root"], "G");
}

const FAULTY: &str = "title = 'x'\nkey = 'C major'\n[[section]]\nname = 'A'\n\
    bars = ['Dm7 Gx7', '%', [['C(', 3], ['F', 1]], 'Cmaj7', 'N.C.']\n";

#[test]
fn without_keep_going_one_faulty_chord_spoils_the_chart() {
    let (code, out, error) = underfoot(&["targets", "-", "--json"], FAULTY.as_bytes());
    assert_eq!((code, out.as_str()), (65, ""));
    let places: Vec<&str> = error
        .lines()
        .map(|line| line.split(": ").next().unwrap())
        .collect();
    assert_eq!(places, ["-:5:15", "-:5:30"]);
}

#[test]
fn with_keep_going_it_is_told_in_its_place_and_the_others_are_worked_out() {
    let arguments = [
        "targets",
        "-",
        "--json",
        "--keep-going",
        "--drill",
        "configs/drills/roots.toml",
    ];
    let lines = lines(&arguments, FAULTY);
    let symbols: Vec<&Value> = lines.iter().map(|line| &line["symbol"]).collect();
    assert_eq!(
        symbols,
        ["Dm7", "Gx7", "Dm7", "Gx7", "C(", "F", "Cmaj7", "N.C."]
    );
    for (index, line) in lines.iter().enumerate() {
        assert_eq!(line["index"], index);
        let faulty = matches!(index, 1 | 3 | 4);
        assert_eq!(line.get("error").is_some(), faulty, "{line}");
        if faulty {
            let keys: Vec<&String> = line.as_object().unwrap().keys().collect();
            assert_eq!(keys, ["column", "error", "index", "nearest", "symbol"]);
        }
    }
    assert_eq!(
        (&lines[1]["column"], &lines[1]["nearest"]),
        (&json!(2), &json!("G"))
    );
    assert_eq!(
        (&lines[2]["target"], &lines[6]["scale"]),
        (&json!(["D"]), &json!("Ionian"))
    );
    // Other faults still spoil it.
    let other = format!("{FAULTY}tmepo = 3\n");
    let (code, out, _) = underfoot(
        &["targets", "-", "--json", "--keep-going"],
        other.as_bytes(),
    );
    assert_eq!((code, out.as_str()), (65, ""));
}

/// Every key of a line of `targets`, in the order of the alphabet.
const KEYS: [&str; 31] = [
    "at_quarters",
    "bar",
    "bar_in_form",
    "bass",
    "beat",
    "beats",
    "call",
    "certain",
    "declared_key",
    "directions",
    "function",
    "index",
    "key",
    "key_second_semitones",
    "margin",
    "margins",
    "neck",
    "notes",
    "quarters",
    "rhythm",
    "root",
    "rule",
    "runner_up",
    "scale",
    "second_semitones",
    "section",
    "shifts",
    "symbol",
    "target",
    "taught_alike",
    "tones",
];

#[test]
fn every_line_of_targets_has_every_key() {
    let chart = "configs/charts/ferry-at-six.toml";
    for more in [
        &[][..],
        &["--form"],
        &["--drill", "configs/drills/three-notes.toml", "--stage", "2"],
    ] {
        let arguments = [&["targets", chart, "--json"][..], more].concat();
        let lines = lines(&arguments, "");
        assert!(lines.len() > 20);
        for (index, line) in lines.iter().enumerate() {
            let keys: Vec<&String> = line.as_object().unwrap().keys().collect();
            assert_eq!(keys, KEYS);
            assert_eq!(line["index"], index);
            assert_eq!(line["bar_in_form"].is_null(), !more.contains(&"--form"));
            let lists = ["target", "directions", "rhythm", "neck"];
            let lengths = lists.map(|key| line[key].as_array().unwrap().len());
            assert!(lengths.iter().all(|length| *length == lengths[0]), "{line}");
            assert_eq!(
                lengths[0] > 0,
                more.contains(&"--drill") && !line["root"].is_null(),
                "{line}"
            );
        }
    }
    let why = lines(&["targets", chart, "--json", "--why"], "");
    assert!(
        why.iter()
            .all(|line| line["why"].is_string() || line["root"].is_null())
    );
}

/// Where notes are listed for reading, one that may as well be another has a question mark: teachers differ on the nine of
/// the two's dominant, and the key of what follows is open.
#[test]
fn a_note_that_may_as_well_be_another_is_marked_for_readers() {
    let chart = "title = 'x'\nkey = 'C major'\n[[section]]\nname = 'A'\nbars = ['Cmaj7', 'A7', 'Dm7', 'G7']\n";
    let drill = "configs/drills/three-notes.toml";
    let read = |arguments: &[&str]| {
        let (code, out, error) = underfoot(arguments, chart.as_bytes());
        assert_eq!((code, error.as_str()), (0, ""));
        let notes = |line: &str| {
            line.split_whitespace()
                .skip(3)
                .collect::<Vec<_>>()
                .join(" ")
        };
        out.lines().map(notes).collect::<Vec<_>>()
    };
    let scales = read(&["targets", "-"]);
    assert_eq!(scales[0], "C D E F G A B");
    assert_eq!(scales[1], "A B? C# D E F G");
    assert_eq!(scales[3], "G A B C D E F");
    let asked = read(&["targets", "-", "--drill", drill, "--stage", "2"]);
    let marked: Vec<bool> = asked.iter().map(|line| line.contains("B?")).collect();
    assert_eq!(marked, [false, true, false, false], "{asked:?}");
}

#[test]
fn silence_is_a_line_of_nulls() {
    let chart = "title = 'x'\n[[section]]\nname = 'A'\nbars = ['C', 'N.C.']\n";
    let line = lines(&["targets", "-", "--json"], chart).pop().unwrap();
    for key in [
        "root",
        "bass",
        "key",
        "function",
        "scale",
        "second_semitones",
        "declared_key",
        "rule",
        "key_second_semitones",
        "certain",
        "margin",
        "taught_alike",
        "runner_up",
    ] {
        assert_eq!(line[key], Value::Null, "{key}");
    }
    for key in [
        "tones",
        "notes",
        "target",
        "directions",
        "rhythm",
        "neck",
        "margins",
    ] {
        assert_eq!(line[key], json!([]), "{key}");
    }
    assert_eq!(
        (&line["symbol"], &line["quarters"]),
        (&json!("N.C."), &json!(4))
    );
}

#[test]
fn check_says_what_each_file_is_and_what_will_not_fit() {
    let dir = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(dir.path().join(name), text).unwrap();
    write(
        "chart.toml",
        "title = 'x'\ntempo = 60\n[[section]]\nname = 'A'\nbars = ['C', 'Dm7 G7']\n",
    );
    write(
        "drill.toml",
        "title = 'y'\n[[stage]]\nname = 'late'\ndegrees = ['1']\nfigure = ['1']\nplaces = ['3']\nadvance = 'ready'\n",
    );
    write("foot.txt", "# two presses\n0 1 down\n0.2 1 up\n");
    write(
        "box.toml",
        "charts = ['chart.toml']\ndrill = 'drill.toml'\n",
    );
    let path = |name: &str| dir.path().join(name).display().to_string();
    let names = ["chart.toml", "drill.toml", "foot.txt", "box.toml"].map(path);
    let arguments: Vec<&str> = std::iter::once("check")
        .chain(names.iter().map(String::as_str))
        .collect();
    let (code, out, error) = underfoot(&arguments, b"");
    assert_eq!((code, error.as_str()), (0, ""));
    let out = out.replace(&format!("{}/", dir.path().display()), "");
    for told in [
        "chart.toml: OK (chart, 2 bars)",
        "drill.toml: OK (drill, 1 stage)",
        "foot.txt: OK (foot script, 2 edges)",
        "box.toml: OK (configuration)",
        "drill.toml over chart.toml: stage \"late\": place 3 moved to 1 in A 2",
        "box.toml: \"y\" over \"x\": stage \"late\": place 3 moved to 1 in A 2",
    ] {
        assert!(out.lines().any(|line| line == told), "{told}\n{out}");
    }
    let ready = "1 stage goes on once it is secure (advance = \"ready\"); without a guitar or a microphone the foot goes on";
    assert_eq!(out.matches(ready).count(), 2, "{out}");
    let no_key = "no key: taken as C major";
    assert_eq!(out.matches(no_key).count(), 2, "{out}");
}

#[test]
fn check_and_targets_tell_of_longer_chords_and_of_a_tune_that_is_not_there() {
    let dir = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let path = dir.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    };
    let chart = write(
        "chart.toml",
        "title = 'x'\nkey = 'C major'\n[[section]]\nname = 'A'\nbars = ['C', 'F G7']\n",
    );
    let drill = write(
        "drill.toml",
        "title = 'y'\n[[stage]]\nname = 'under'\ndegrees = ['1']\nplaces = ['3']\nhelp = { melody = true }\n\
         [[stage]]\nname = 'long'\ndegrees = ['1']\nplaces = ['3']\nchords_last = 2\n",
    );
    let (code, out, _) = underfoot(&["check", &chart, &drill], b"");
    assert_eq!(code, 0);
    assert!(
        out.contains("stage \"under\" asks for the melody; the chart has none"),
        "{out}"
    );
    // A chord of two beats has no third beat, unless it lasts twice as long.
    assert!(
        out.contains("stage \"under\": place 3 moved to 1 in A 2"),
        "{out}"
    );
    assert!(!out.contains("stage \"long\""), "{out}");
    for (stage, rhythm) in [("under", ["3", "1", "1"]), ("long", ["3", "3", "3"])] {
        let arguments = [
            "targets", &chart, "--drill", &drill, "--stage", stage, "--json",
        ];
        let told = lines(&arguments, "");
        let places = told.iter().map(|line| line["rhythm"][0].as_str());
        assert_eq!(places.collect::<Vec<_>>(), rhythm.map(Some), "{stage}");
        // What is written stays as written.
        let at = told.iter().map(|line| line["at_quarters"].as_f64());
        assert_eq!(at.collect::<Vec<_>>(), [0.0, 4.0, 6.0].map(Some), "{stage}");
    }
}

/// Runs `check` with an espeak-ng before the real one that notes each start; what it says, and how often that was.
fn checked(files: &[&str]) -> (String, usize) {
    let dir = tempfile::tempdir().unwrap();
    let (engine, starts) = (dir.path().join("espeak-ng"), dir.path().join("starts"));
    let script = format!(
        "#!/bin/sh\necho >> {}\nexec /usr/bin/espeak-ng \"$@\"\n",
        starts.display()
    );
    std::fs::write(&engine, script).unwrap();
    std::fs::set_permissions(&engine, std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .arg("check")
        .args(files)
        .current_dir(ROOT)
        .env_clear()
        .env("HOME", dir.path())
        .env("PATH", format!("{}:/usr/bin:/bin", dir.path().display()))
        .output()
        .unwrap();
    assert!(output.status.success(), "{files:?}: {output:?}");
    let starts = std::fs::read_to_string(starts)
        .unwrap_or_default()
        .lines()
        .count();
    (String::from_utf8(output.stdout).unwrap(), starts)
}

#[test]
fn check_starts_the_voice_once_where_there_is_something_to_say() {
    let chart = "configs/charts/ferry-at-six.toml";
    let ladder = "configs/drills/ladder.toml";
    let (said, starts) = checked(&[chart, ladder, "configs/drills/roots.toml"]);
    assert_eq!(starts, 1, "{said}");
    // At its tempo a stage of four notes has no room to say them all.
    assert!(
        said.contains("spoken in the first pass that is played"),
        "{said}"
    );
    assert_eq!(checked(&[chart]).1, 0);
}

#[test]
fn check_says_what_the_stages_hang_on_that_go_on_by_themselves() {
    let (chart, drill) = (
        "configs/charts/ferry-at-six.toml",
        "configs/drills/ladder.toml",
    );
    let (code, out, error) = underfoot(&["check", chart, drill], b"");
    assert_eq!((code, error.as_str()), (0, ""));
    for told in [
        "1 stage holds each chord until its notes were heard (advance = \"right\"); without a guitar or a microphone the foot goes on",
        "stages go on once they are secure (advance = \"ready\"); without a guitar or a microphone the foot goes on",
    ] {
        assert!(out.contains(told), "{told}\n{out}");
    }
    assert!(!out.contains("no key"), "{out}");
}

#[test]
fn check_says_which_stages_are_never_told_to_be_secure() {
    let dir = tempfile::tempdir().unwrap();
    let drill = dir.path().join("drill.toml");
    let stage = |name: &str, more: &str| {
        format!("[[stage]]\nname = '{name}'\ndegrees = ['1']\nadvance = 'ready'\n{more}\n")
    };
    let stages = [
        ("free", "figure = []"),
        ("held", "pulse = false"),
        ("played", ""),
    ];
    let stages = stages.map(|(name, more)| stage(name, more)).concat();
    std::fs::write(&drill, format!("title = 'x'\n{stages}")).unwrap();
    let drill = drill.display().to_string();
    let (code, out, error) = underfoot(&["check", "configs/charts/ferry-at-six.toml", &drill], b"");
    assert_eq!((code, error.as_str()), (0, ""));
    let never = |name: &str, why: &str| {
        format!(
            "stage \"{name}\" is never told to be secure (advance = \"ready\"): {why}; the foot goes on"
        )
    };
    for told in [
        never("free", "it leaves the choice of notes"),
        never("held", "it is out of time"),
    ] {
        assert!(out.contains(&told), "{told}\n{out}");
    }
    assert_eq!(out.matches("never told").count(), 2, "{out}");
}

#[test]
fn check_takes_voice_tempo_and_names_from_the_configuration() {
    let dir = tempfile::tempdir().unwrap();
    let told = |set: &str| {
        let path = dir.path().join("box.toml");
        let files = [
            ("charts", "[\"CH\"]", "configs/charts/gasworks-corner.toml"),
            ("drill", "\"CH\"", "configs/drills/roots.toml"),
        ];
        let files: String = files
            .iter()
            .map(|(key, value, file)| {
                format!(
                    "{key} = {}\n",
                    value.replace("CH", &format!("{ROOT}/{file}"))
                )
            })
            .collect();
        std::fs::write(&path, format!("{files}{set}\n")).unwrap();
        let (code, out, error) = underfoot(&["check", path.to_str().unwrap()], b"");
        assert_eq!((code, error.as_str()), (0, ""), "{set}");
        out
    };
    let usual = told("");
    assert!(usual.contains(" at 104 bpm: "), "{usual}");
    let half = told("[practice]\ntempo_per_cent = 150");
    assert!(half.contains(" at 156 bpm: "), "{half}");
    for silent in ["[speech]\nengine = 'none'", "[speech]\nwhen = 'sections'"] {
        assert!(
            !told(silent).contains("spoken in the first pass"),
            "{silent}"
        );
    }
    let german = "German names of notes with the voice \"en\", which reads them as English words: voice = \"de\" in [speech]";
    let names = "[display]\nnames = 'German'\n";
    assert!(told(names).contains(german));
    for good in ["[speech]\nvoice = 'de'", "[speech]\nengine = 'none'"] {
        assert!(
            !told(&format!("{names}{good}")).contains("German names"),
            "{good}"
        );
    }
}

#[test]
fn a_byte_order_mark_is_no_part_of_a_text() {
    let lines = lines(&["symbols", "-"], "\u{feff}C7\nG7\n");
    assert_eq!(
        (&lines[0]["symbol"], &lines[0]["root"]),
        (&json!("C7"), &json!("C"))
    );
    let dir = tempfile::tempdir().unwrap();
    for (name, text, told) in [
        (
            "foot.txt",
            "0 1 down\n0.2 1 up\n",
            "OK (foot script, 2 edges)",
        ),
        ("box.toml", "seed = 2\n", "OK (configuration)"),
    ] {
        let path = dir.path().join(name);
        std::fs::write(&path, format!("\u{feff}{text}")).unwrap();
        let (code, out, error) = underfoot(&["check", path.to_str().unwrap()], b"");
        assert_eq!((code, error.as_str()), (0, ""), "{name}");
        assert!(out.contains(told), "{out}");
    }
}

#[test]
fn events_go_to_standard_output_for_a_dash() {
    let chart = "configs/charts/ferry-at-six.toml";
    let arguments = [
        "render",
        chart,
        "--silent-voice",
        "--seconds",
        "1",
        "--events",
        "-",
    ];
    let (code, out, _) = underfoot(&arguments, b"");
    let first: Value = serde_json::from_str(out.lines().next().unwrap()).unwrap();
    assert_eq!((code, &first["kind"]), (0, &json!("head")));
    assert!(!Path::new(ROOT).join("-").exists());
}

#[test]
fn a_rendering_takes_the_place_of_a_file_only_when_it_is_whole() {
    let dir = tempfile::tempdir().unwrap();
    let wav = dir.path().join("take.wav");
    let events = dir.path().join("events.jsonl");
    std::fs::write(&wav, "an old take").unwrap();
    let chart = "configs/charts/ferry-at-six.toml";
    let to = |path: &Path| path.display().to_string();
    let (wav_name, events_name) = (to(&wav), to(&events));
    let render = |more: &[&str]| {
        let all = [
            "render",
            chart,
            "--wav",
            &wav_name,
            "--events",
            &events_name,
            "--silent-voice",
            "--seconds",
            "1",
        ];
        underfoot(&[&all[..], more].concat(), b"").0
    };
    assert_eq!(render(&["--soundfont", "no-such.sf2"]), 65);
    assert_eq!(std::fs::read(&wav).unwrap(), b"an old take");
    assert_eq!(render(&[]), 0);
    // A canonical WAV file: 44 bytes, then 16-bit stereo.
    assert!(std::fs::metadata(&wav).unwrap().len() >= 44 + 48_000 * 4);
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 2);
    assert_eq!(
        underfoot(
            &[
                "render",
                chart,
                "--wav",
                "/dev/null",
                "--silent-voice",
                "--seconds",
                "1"
            ],
            b""
        )
        .0,
        0
    );
}
