//! Configurations: the manual says what is built in, every shipped one loads, broken ones are told as written.

use std::fs;
use std::path::{Path, PathBuf};
use underfoot::audio::Level;
use underfoot::daemon::config::Config;
use underfoot::daemon::files;
use underfoot::fault::Source;
use underfoot::time::Part;

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
            if ["charts", "drills", "plans", "sets"]
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

/// A configuration and its drop-ins in a directory of their own.
fn with_drop_ins(files: &[(&str, &str)]) -> (Result<Config, String>, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("underfoot");
    fs::create_dir_all(dir.join("conf.d")).unwrap();
    for (name, text) in files {
        fs::write(dir.join(name), text).unwrap();
    }
    let path = dir.join("underfoot.toml");
    let text = fs::read_to_string(&path).unwrap();
    let read = files::with_drop_ins(&path, &text).map_err(|failure| failure.text);
    (read, dir)
}

#[test]
fn a_drop_in_lies_over_the_configuration_and_the_next_one_over_it() {
    let main = "charts = [\"a.toml\"]\nseed = 1\n[levels]\nclick = -9.0\ndrums = -3.0\n";
    let board = "[levels]\nclick = -12.0\n[foot]\nswitches = 4\n";
    type Files<'a> = &'a [(&'a str, &'a str)];
    let cases: [(Files<'_>, u64, f32, usize); 5] = [
        // drop-ins, seed, level of the click, switches
        (&[], 1, -9.0, 1),
        (&[("conf.d/board.toml", board)], 1, -12.0, 4),
        (
            &[
                ("conf.d/board.toml", board),
                ("conf.d/mine.toml", "seed = 3\n[levels]\nclick = -20.0\n"),
            ],
            3,
            -20.0,
            4,
        ),
        (
            &[
                ("conf.d/board.toml", board),
                ("conf.d/a.toml", "[levels]\nclick = -20.0\n"),
            ],
            1,
            -12.0,
            4,
        ),
        // What an editor or a package manager leaves is no drop-in.
        (
            &[
                ("conf.d/board.toml~", board),
                ("conf.d/.board.toml", "x"),
                ("conf.d/b.toml.dpkg-dist", "x"),
            ],
            1,
            -9.0,
            1,
        ),
    ];
    for (drop_ins, seed, click, switches) in cases {
        let files: Vec<_> = std::iter::once(&("underfoot.toml", main))
            .chain(drop_ins)
            .copied()
            .collect();
        let (read, dir) = with_drop_ins(&files);
        let config = read.unwrap();
        let level = config
            .levels
            .all()
            .find(|(level, _)| *level == Level::Part(Part::Click))
            .unwrap()
            .1;
        assert_eq!(
            (config.seed, level, config.foot.switches.len()),
            (seed, click, switches),
            "{drop_ins:?}"
        );
        // What no drop-in says stays.
        assert!(
            config
                .levels
                .all()
                .any(|(level, db)| level == Level::Part(Part::Drums) && db == -3.0)
        );
        assert_eq!(config.charts, [dir.join("a.toml")]);
    }
}

#[test]
fn paths_of_a_drop_in_count_from_the_configuration_and_all_faults_are_told_at_once() {
    let (read, dir) = with_drop_ins(&[
        ("underfoot.toml", "seed = 1\n"),
        ("conf.d/mine.toml", "drill = \"x.toml\"\n"),
    ]);
    assert_eq!(read.unwrap().drill, Some(dir.join("x.toml")));
    let (read, dir) = with_drop_ins(&[
        ("underfoot.toml", "sed = 1\n"),
        ("conf.d/a.toml", "seed = 2\n"),
        ("conf.d/b.toml", "\n[levels]\nclik = 1.0\n"),
    ]);
    let told = read.unwrap_err();
    for place in [dir.join("underfoot.toml:1"), dir.join("conf.d/b.toml:3")] {
        assert!(told.contains(&place.display().to_string()), "{told}");
    }
    assert_eq!(told.matches("conf.d").count(), 1, "{told}");
}
