//! What the player chooses: habits in chart and configuration, hints, reasons, keys that walk, strings.

// These tests start the program and write its files.

use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use underfoot::chart::Chart;
use underfoot::drill::{Drill, StringRule, StringSet};
use underfoot::fault::Source;
use underfoot::harmony::{Habits, Harmony};
use underfoot::plan::{Material, Standing};

fn chart(text: &str) -> Chart {
    Chart::read(&Source { name: "-", text }).unwrap_or_else(|faults| panic!("{faults}"))
}

fn drill(stage: &str) -> Result<Drill, String> {
    let text = format!("title = \"x\"\n[[stage]]\nname = \"x\"\ndegrees = [\"1\"]\n{stage}\n");
    Drill::read(&Source {
        name: "-",
        text: &text,
    })
    .map_err(|faults| faults.to_string())
}

/// The lines of `targets --why` for a chart, under a configuration.
fn reasons(dir: &Path, chart: &str, configuration: &str) -> Vec<String> {
    let (chart_file, config) = (dir.join("chart.toml"), dir.join("underfoot.toml"));
    std::fs::write(&chart_file, chart).unwrap();
    std::fs::write(&config, configuration).unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .arg("targets")
        .arg(&chart_file)
        .args(["--why", "--config"])
        .arg(&config)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let out = String::from_utf8(output.stdout).unwrap();
    out.lines().map(str::to_string).collect()
}

/// One line a chord with place, symbol, function, scale and reason; the chart's habit wins over the configuration's,
/// the hint over both.
#[test]
fn hint_wins_over_chart_and_chart_over_configuration() {
    let dir = tempfile::tempdir().unwrap();
    let tune = "title = 'x'\nkey = 'C major'\n";
    let bars = "[[section]]\nname = 'A'\nbars = ['A7', 'Dm7', 'G7', 'Cmaj7']\n";
    let habit = |value: &str| format!("[harmony]\nflat_nine_to_two = {value}\n");
    let hint = "[[section.hint]]\nbar = 1\nscale = 'altered'\n";
    let cases = [
        (String::new(), String::new(), "", "Mixolydian b6"),
        (String::new(), habit("true"), "", "Phrygian dominant"),
        (habit("false"), habit("true"), "", "Mixolydian b6"),
        (habit("true"), habit("false"), "", "Phrygian dominant"),
        (habit("true"), habit("false"), hint, "altered"),
    ];
    for (own, configured, hint, scale) in cases {
        let lines = reasons(dir.path(), &format!("{tune}{own}{bars}{hint}"), &configured);
        assert_eq!(lines.len(), 4);
        let cells: Vec<&str> = lines[0].split('\t').collect();
        assert_eq!(
            cells[..4],
            ["A 1.1", "A7", "V7/ii", scale],
            "{own}{configured}{hint}"
        );
        assert!(
            cells[4].contains(match scale {
                "altered" => "hint",
                "Mixolydian b6" => "the key's own notes",
                _ => "flat nine",
            }),
            "{}",
            lines[0]
        );
        assert_eq!(cells[5], "teachers differ");
    }
}

#[test]
fn unknown_habits_are_told_with_the_nearest() {
    let text = "title = 'x'\n[harmony]\nthree_cord = 'Phrygian'\nminor_tonic = 'natural sixt'\n[[section]]\nname = 'A'\nbars = ['C']\n";
    let faults = Chart::read(&Source { name: "-", text })
        .unwrap_err()
        .to_string();
    for part in ["-:3:1", "three_chord", "-:4:15", "\"natural sixth\""] {
        assert!(
            faults.contains(part) || faults.contains(&part.replace('"', "")),
            "{part} in {faults}"
        );
    }
}

/// The keys of a stage by passes: a round of the cycle each, the breath with the round that it ends.
#[test]
fn a_stage_walks_through_the_keys() {
    let tune =
        "title = 'x'\nkey = 'C major'\n[[section]]\nname = 'A'\nbars = ['Dm7 G7', 'Cmaj7']\n";
    let once = "cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 0 }\n";
    let cases = [
        ("", once, "Cmaj7 Cmaj7 Cmaj7 Cmaj7"),
        ("keys = \"stay\"", once, "Cmaj7 Cmaj7 Cmaj7 Cmaj7"),
        ("keys = \"fourths\"", once, "Cmaj7 Fmaj7 Bbmaj7 Ebmaj7"),
        ("keys = \"semitones\"", once, "Cmaj7 Dbmaj7 Dmaj7 Ebmaj7"),
        ("keys = [\"A\", \"Gb\"]", once, "Amaj7 Gbmaj7 Amaj7 Gbmaj7"),
        // Listen once, play twice, then a breath: four steps a key.
        (
            "keys = \"fourths\"",
            "",
            "Cmaj7 Cmaj7 Cmaj7 Cmaj7 Fmaj7 Fmaj7 Fmaj7 Fmaj7 Bbmaj7",
        ),
    ];
    for (keys, cycle, wanted) in cases {
        let drill = drill(&format!("{keys}\n{cycle}")).unwrap();
        let mut material = Arc::new(Material::new(chart(tune), drill, Habits::default()));
        let mut standing = Standing::first();
        let mut tonics = Vec::new();
        for _ in wanted.split(' ') {
            material = standing.walked(&material);
            let last = material.contexts.last().unwrap();
            assert_eq!(last.function.as_deref(), Some("I"));
            assert_eq!(material.home_key(), "C major".parse().ok());
            tonics.push(match &last.harmony {
                Harmony::Chord(symbol) => symbol.text.clone(),
                Harmony::Silence => String::new(),
            });
            standing = standing.next(&material);
        }
        assert_eq!(tonics.join(" "), wanted, "{keys}");
    }
}

#[test]
fn keys_and_strings_are_read_and_faults_told() {
    let strings = |stage: &str| drill(stage).map(|drill| drill.stages[0].string);
    assert_eq!(
        strings("string = [2, 3]"),
        Ok(StringRule::On(StringSet::of([2, 3])))
    );
    assert_eq!(strings("string = \"same\""), Ok(StringRule::Same));
    for (stage, part) in [
        ("string = [0]", "from 1, the highest, to 16"),
        ("string = []", "from 1, the highest, to 16"),
        ("string = \"sme\"", "same"),
        ("keys = \"fourth\"", "fourths"),
        ("keys = []", "must name 1 to 48"),
        ("keys = [\"H\"]", "\"H\""),
        ("keys = [\"Cbb\"]", "\"Cbb\""),
        ("keys = 3", "keys"),
    ] {
        let faults = drill(stage).unwrap_err();
        assert!(faults.contains(part), "{stage}: {faults}");
    }
}
