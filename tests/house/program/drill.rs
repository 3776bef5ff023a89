//! `underfoot drill`: what a drill is for, and what it asks for over charts.

use crate::support::demo::CHARTS;
use crate::support::program::{command, root};
use serde_json::Value;

/// Standard output of a call that goes well.
fn told(arguments: &[String]) -> String {
    let home = tempfile::tempdir().expect("a directory");
    let output = command(home.path())
        .args(arguments)
        .output()
        .expect("underfoot");
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("text")
}

fn coverage(drill: &str, more: &[&str]) -> String {
    let file = |path: String| root(&path).display().to_string();
    let mut arguments = vec![
        "drill".to_string(),
        "coverage".to_string(),
        file(format!("configs/drills/{drill}.toml")),
    ];
    arguments.extend(
        CHARTS
            .iter()
            .map(|chart| file(format!("configs/charts/{chart}.toml"))),
    );
    arguments.extend(more.iter().map(ToString::to_string));
    told(&arguments)
}

/// What the whole way has to bring: all orders of three notes from all eighths, all keys, all places of root and third.
#[test]
fn the_ladder_leaves_nothing_out() {
    let found: Value = serde_json::from_str(&coverage("ladder", &["--json"])).expect("an object");
    let count = |value: &Value| {
        value
            .as_object()
            .expect("a table")
            .values()
            .filter(|count| count.as_u64() > Some(0))
            .count()
    };
    assert_eq!(count(&found["orders"]["1 2 3"]), 6);
    for notes in ["1", "3"] {
        let starts = found["starts"][notes].as_object().expect("a table");
        for place in ["1", "1&", "2", "2&", "3", "3&", "4", "4&"] {
            assert!(
                starts.contains_key(place),
                "{notes} notes never start on {place}"
            );
        }
    }
    assert_eq!(count(&found["keys"]), 12);
    for degree in ["roots", "thirds"] {
        let places = &found[degree];
        assert_eq!(
            places["visited"], places["of"],
            "{degree}: {}",
            found["never"]
        );
        assert!(places["of"].as_u64() > Some(60), "{degree}");
    }
}

#[test]
fn what_is_never_asked_for_is_told() {
    let text = coverage("three-notes", &[]);
    assert!(text.starts_with("Three notes over "), "{text}");
    for line in [
        "keys                        12 of 12",
        "never:",
        "  keys: ",
        "  places of the root (note: string/fret): ",
    ] {
        assert_eq!(
            text.contains(line),
            line != "keys                        12 of 12",
            "{line}\n{text}"
        );
    }
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("coverage.svg");
    coverage("three-notes", &["--svg", path.to_str().unwrap()]);
    let picture = std::fs::read_to_string(path).unwrap();
    assert!(picture.starts_with("<svg ") && picture.ends_with("</svg>\n"));
    let (rects, boxes) = (
        picture.matches("<rect").count(),
        picture.matches("</rect>").count(),
    );
    // All but the paper have a number in them.
    assert_eq!(rects, boxes + 1);
    // Two necks of six strings and thirteen frets at the least.
    assert!(boxes >= 2 * 6 * 13);
}

/// A stage of the ladders says what it is for; its neighbours are stages.
#[test]
fn every_stage_of_a_ladder_says_what_it_is_for() {
    for drill in ["ladder", "ladder-bass", "ladder-voice"] {
        let path = root(&format!("configs/drills/{drill}.toml"))
            .display()
            .to_string();
        let text = told(&["drill".to_string(), "list".to_string(), path]);
        let stages: Vec<&str> = text.split("\n\n").skip(1).collect();
        assert!(stages.len() > 10);
        for (index, stage) in stages.iter().enumerate() {
            let first = stage.lines().next().unwrap_or_default();
            assert!(
                first.contains(": ") && first.trim_start().starts_with(&(index + 1).to_string()),
                "{stage}"
            );
            assert_eq!(stage.contains("easier: "), index > 0, "{stage}");
            assert_eq!(
                stage.contains("harder: "),
                index + 1 < stages.len(),
                "{stage}"
            );
        }
    }
}

/// A plan of days is a drill of another's stages, each under its day; its faults are told with their places.
#[test]
fn four_weeks_of_days() {
    let plan = root("configs/plans/four-weeks.toml").display().to_string();
    let text = told(&["drill".to_string(), "list".to_string(), plan.clone()]);
    for day in 1..=28 {
        assert!(
            text.contains(&format!(". day {day}: ")),
            "day {day} of {text}"
        );
    }
    assert!(
        text.contains("day 13: third below the root: thirds below\n"),
        "{text}"
    );
    let chart = root("configs/charts/ferry-at-six.toml")
        .display()
        .to_string();
    let found = told(&["check".to_string(), plan.clone(), chart.clone()]);
    assert!(found.contains("OK (drill, "), "{found}");
    let stage = "day 13: third below the root".to_string();
    let asked = [
        "targets".to_string(),
        chart,
        "--drill".to_string(),
        plan,
        "--stage".to_string(),
        stage,
    ];
    assert!(told(&asked).contains("Gm6        1 3"));
    let dir = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(dir.path().join(name), text).unwrap();
    write(
        "base.toml",
        "title = 'b'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\n",
    );
    for (text, faults) in [
        (
            "title = 't'\nfrom = 'base.toml'\n[[day]]\nname = 'x'\nstages = ['rots']\n",
            ":5:11: \"rots\" is no stage of \"b\" (nearest: \"roots\")",
        ),
        (
            "title = 't'\nfrom = 'base.toml'\n[[day]]\nname = 'x'\nstages = []\n",
            ":5:10: stages is empty: a day has at least one",
        ),
        (
            "title = 't'\nfrom = 'base.toml'\n[[day]]\nname = 'x'\nstages = ['roots', 'roots']\n",
            ":5:20: day 1 has \"roots\" twice",
        ),
        (
            "title = 't'\n[[day]]\nname = 'x'\nstages = ['roots']\n",
            "the key \"from\" is missing (such as from = \"ladder.toml\")",
        ),
        (
            "title = 't'\nfrom = 'none.toml'\n[[day]]\nname = 'x'\nstages = ['roots']\n",
            "none.toml",
        ),
        (
            "title = 't'\nfrom = 'base.toml'\n[[stage]]\nname = 'x'\ndegrees = ['1']\n",
            "from belongs to a plan of days ([[day]]), which takes its stages from another drill",
        ),
    ] {
        write("plan.toml", text);
        let home = tempfile::tempdir().unwrap();
        let output = command(home.path())
            .args(["check", dir.path().join("plan.toml").to_str().unwrap()])
            .output()
            .unwrap();
        let error = String::from_utf8_lossy(&output.stderr).to_string();
        assert_eq!(output.status.code(), Some(65), "{text}: {error}");
        assert!(error.contains(faults), "{text}: {error}");
    }
}
