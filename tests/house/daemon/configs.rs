//! Configurations: the manual says what is built in, every shipped one loads, broken ones are told as written.

use std::fs;
use std::path::{Path, PathBuf};
use underfoot::daemon::config::Config;
use underfoot::fault::Source;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn read(name: &str, text: &str) -> Result<Config, Vec<String>> {
    Config::read(&Source { name, text })
        .map_err(|faults| faults.0.iter().map(ToString::to_string).collect())
}

fn manual() -> String {
    fs::read_to_string(root().join("configs/underfoot.toml")).unwrap()
}

/// Lines that are settings taken out: `#key = value` and `#[table]`, not `# text`.
fn uncommented(manual: &str, mark: &str) -> String {
    let lines = manual.lines().map(|line| match line.strip_prefix(mark) {
        Some(setting)
            if setting.starts_with(|c: char| c.is_ascii_alphabetic() || "[\"".contains(c)) =>
        {
            setting
        }
        _ => line,
    });
    lines.collect::<Vec<_>>().join("\n")
}

#[test]
fn the_manual_says_what_is_built_in() {
    let manual = manual();
    assert_eq!(read("manual", &manual), Ok(Config::default()));
    let defaults = uncommented(&manual, "#");
    assert!(defaults.lines().filter(|line| line.contains(" = ")).count() > 30);
    assert_eq!(read("manual", &defaults), Ok(Config::default()));
}

#[test]
fn the_manual_s_examples_are_right() {
    let examples = uncommented(&manual(), "#: ");
    // Their tables too.
    let examples = examples.replace("\n#[", "\n[");
    let config = read("examples", &examples).unwrap();
    assert_eq!(config.charts.len(), 2);
    assert!(config.foot.serial.is_some() && config.foot.midi.len() == 1);
    assert_eq!(config.audio.connect[0].len(), 1);
    assert_eq!(config.display.screens.len(), 6);
    let foot = &config.foot;
    assert_eq!(
        (foot.pedals.len(), foot.gpio.len(), foot.lamps.len()),
        (1, 1, 2)
    );
    assert_eq!(config.display.screens[0].panel.panel_mm, Some(61.5));
}

#[test]
fn each_default_line_of_the_manual_can_be_changed_into_a_fault_at_its_place() {
    // A misspelled key is told at its line with the right one beside it: no key is passed over.
    let defaults = uncommented(&manual(), "#");
    let lines: Vec<&str> = defaults.lines().collect();
    for (index, line) in lines.iter().enumerate() {
        let Some((key, value)) = line.split_once(" = ").filter(|_| !line.starts_with('#')) else {
            continue;
        };
        let wrong = format!("{key}x");
        let mut changed = lines.clone();
        let broken = format!("{wrong} = {value}");
        changed[index] = &broken;
        let told = read("m", &changed.join("\n")).unwrap_err();
        let place = format!(
            "m:{}:1: unknown key \"{wrong}\" (nearest: \"{key}\")",
            index + 1
        );
        assert_eq!(told, [place]);
    }
}

#[test]
fn every_shipped_configuration_loads() {
    let mut found = 0;
    for dir in ["configs", "boards"] {
        for file in toml_files(&root().join(dir)) {
            let dir = file.parent().and_then(Path::file_name).unwrap();
            if ["charts", "drills", "plans"]
                .iter()
                .any(|other| dir == *other)
            {
                continue;
            }
            let text = fs::read_to_string(&file).unwrap();
            let read = read(&file.display().to_string(), &text);
            assert!(read.is_ok(), "{read:?}");
            found += 1;
        }
    }
    assert!(found >= 2);
}

fn toml_files(dir: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(dir)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let mut files = Vec::new();
    for path in entries {
        if path.is_dir() {
            files.extend(toml_files(&path));
        } else if path.extension().is_some_and(|ending| ending == "toml") {
            files.push(path);
        }
    }
    files
}

#[test]
fn broken_configurations_are_told_as_written() {
    let dir = root().join("tests/fixtures/broken/configs");
    let files = toml_files(&dir);
    assert!(files.len() >= 5);
    for file in files {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let text = fs::read_to_string(&file).unwrap();
        let expected = fs::read_to_string(file.with_extension("txt")).unwrap();
        let told = read(&name, &text).unwrap_err();
        assert_eq!(told.join("\n"), expected.trim_end(), "{name}");
    }
}

#[test]
fn what_can_be_told_beforehand_is_told() {
    let midi = |one: &str, two: &str| {
        format!(
            "[foot]\nswitches = 2\n[[foot.midi]]\nswitch = 1\n{one}\n[[foot.midi]]\nswitch = 2\n{two}\n"
        )
    };
    let shared = "switch 2 would come from where switch 1 comes from";
    let cases = [
        (
            "[audio.connect]\nout_l = [\"(\"]\n".to_string(),
            vec!["c:2:10: out_l: \"(\" is no pattern: a ( is not closed".to_string()],
        ),
        ("[audio.connect]\nout_l = [\"^card:(a|b)_[12]$\"]\n".to_string(), vec![]),
        (
            midi("control = \"note 60\"", "control = \"note 60\""),
            vec![format!("c:7:10: {shared}")],
        ),
        (
            midi("control = \"note 60\"", "control = \"note 60\"\nchannel = 3"),
            vec![format!("c:7:10: {shared}")],
        ),
        (
            midi("control = \"note 60\"\nchannel = 2", "control = \"note 60\"\nchannel = 3"),
            vec![],
        ),
        (midi("control = \"note 60\"", "control = \"note 61\""), vec![]),
        (
            "[foot]\nswitches = 2\n[[foot.gpio]]\nswitch = 1\nline = \"GPIO17\"\n[[foot.gpio]]\nline = \"GPIO17\"\nswitch = 2\n".to_string(),
            vec![format!("c:8:10: {shared}")],
        ),
        (
            "[foot]\nswitches = 2\n[[foot.pedal]]\nswitch = 2\ndevice = \"x\"\nkey = \"KEY_A\"\n[[foot.pedal]]\nswitch = 1\ndevice = \"x\"\nkey = \"KEY_A\"\n".to_string(),
            vec!["c:8:10: switch 1 would come from where switch 2 comes from".to_string()],
        ),
    ];
    for (text, told) in cases {
        let faults = read("c", &text).err().unwrap_or_default();
        assert_eq!(faults, told, "{text}");
    }
}

#[test]
fn a_foot_that_cannot_start_or_stop_the_band_is_a_caution() {
    let starts = "no gesture starts the band while stopped (\"start\")";
    let stops = "no gesture stops the band while playing (\"stop\")";
    let cases: [(&str, &[&str]); 5] = [
        ("[foot]\nswitches = 1\n", &[]),
        ("[foot]\nswitches = 2\n", &[]),
        ("[foot]\nswitches = 4\n", &[]),
        (
            "[foot.map.stopped]\n\"1 press\" = \"nothing\"\n[foot.map.playing]\n\"1 hold\" = \"nothing\"\n",
            &[starts, stops],
        ),
        ("[foot.map.playing]\n\"1 hold\" = \"last time\"\n", &[]),
    ];
    for (text, told) in cases {
        assert_eq!(read("c", text).unwrap().cautions(), told, "{text}");
    }
}

#[test]
fn the_manual_names_files_that_are_there() {
    let examples = uncommented(&manual(), "#: ");
    let config = read("examples", &examples.replace("\n#[", "\n[")).unwrap();
    let files = config.charts.iter().chain(&config.drill);
    for file in files {
        assert!(root().join("configs").join(file).is_file(), "{file:?}");
    }
    // And all of it is commented out, as its head says.
    let manual = manual();
    let live = manual
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'));
    assert_eq!(live.count(), 0);
}

#[test]
fn the_neck_is_a_tuning_a_capo_and_frets() {
    let neck = |text: &str| read("n", text).map(|config| config.neck());
    let seven = neck(
        "[neck]\ntuning = [\"B1\", \"E2\", \"A2\", \"D3\", \"G3\", \"B3\", \"E4\"]\n\
         capo = 2\nframes = 24\n",
    );
    assert_eq!(
        seven.unwrap_err(),
        ["n:4:1: unknown key \"frames\" (nearest: \"frets\")"]
    );
    let dropped = "[display]\nleft_handed = true\n[neck]\n\
                   tuning = [\"D2\", \"A2\", \"D3\", \"G3\", \"B3\", \"E4\"]\ncapo = 2\nfrets = 24\n";
    let dropped = neck(dropped).unwrap();
    // MIDI keys: D2 is 38, E4 is 64 (middle C, C4, is 60).
    assert_eq!(dropped.tuning.open_keys(), [64, 59, 55, 50, 45, 38]);
    assert_eq!(
        (dropped.capo, dropped.frets, dropped.left_handed),
        (2, 24, true)
    );
    for (text, told) in [
        (
            "[neck]\ntuning = [\"H2\"]\n",
            "\"H2\" is no open string (a note and its octave from -1 to 9, middle C being C4, such as \"E2\" or \"Bb1\")",
        ),
        (
            "[neck]\ntuning = []\n",
            "a tuning has 1 to 16 strings, not 0",
        ),
    ] {
        let faults = neck(text).unwrap_err();
        assert!(faults.len() == 1 && faults[0].ends_with(told), "{faults:?}");
    }
}
