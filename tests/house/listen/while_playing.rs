//! What is heard while a take plays: a player with a list of its own against the verdicts, through the program.
// Runs the program on files.

use crate::support::player;
use crate::support::program::{events, in_background, root};
use crate::support::sound_file::write_wav;
use serde_json::Value;
use std::path::Path;

const RATE: u32 = 48_000;
const DRILL: &str = "
title = \"roots\"
[[stage]]
name = \"roots on one\"
degrees = [\"1\"]
figure = [\"1\"]
places = [\"1\"]
help = { comping = \"full\", bass = true, drums = \"ride\", model = \"off\", voice = \"off\" }
cycle = { listen = 1, sing = 0, play = 2, breathe_bars = 2 }
";

/// Renders a take; with a guitar it is judged.
fn take(
    dir: &Path,
    chart: &str,
    qpm: f64,
    seconds: f64,
    drill: &str,
    guitar: Option<&[f32]>,
) -> Vec<Value> {
    let (drill_path, log) = (dir.join("drill.toml"), dir.join("events.jsonl"));
    std::fs::write(&drill_path, drill).expect("a file");
    let mut command = in_background(dir);
    command
        .arg("render")
        .arg(root(&format!("configs/charts/{chart}.toml")))
        .arg("--drill")
        .arg(&drill_path)
        .args([
            "--tempo",
            &qpm.to_string(),
            "--seconds",
            &seconds.to_string(),
            "--silent-voice",
            "--events",
        ])
        .arg(&log);
    if let Some(sound) = guitar {
        let path = dir.join("guitar.wav");
        write_wav(&path, sound, RATE);
        command.arg("--guitar").arg(&path);
    }
    assert!(command.status().expect("underfoot").success());
    events(&log)
}

/// The chords of the passes in which the player is to play: all but the first of three.
fn to_play(all: &[Value], until: i64) -> Vec<player::Sounding> {
    let listening = |event: &&Value| event["pass"].as_i64().is_some_and(|pass| pass % 3 == 1);
    let silent: Vec<i64> = all
        .iter()
        .filter(listening)
        .filter_map(|event| event["frame"].as_i64())
        .collect();
    let mut chords = player::chords(all, until);
    chords.retain(|chord| !silent.contains(&chord.frame));
    chords
}

#[test]
fn a_player_with_a_list_is_judged_by_it() {
    let font = player::font();
    let (mut right, mut all, mut strays) = (0, 0, 0);
    for (chart, qpm, seconds) in [
        ("ferry-at-six", 120.0, 60.0),
        ("nine-lanterns", 60.0, 60.0),
        ("gasworks-corner", 200.0, 40.0),
    ] {
        let dir = tempfile::tempdir().expect("a directory");
        let until = ((seconds - 4.0) * f64::from(RATE)) as i64;
        let chords = to_play(
            &take(dir.path(), chart, qpm, seconds, DRILL, None),
            until + 96_000,
        );
        let (meant, struck) = player::decide(&chords, qpm, RATE, 20_261_126);
        let sound = player::sound(&font, &struck, (seconds * f64::from(RATE)) as usize, RATE);
        let log = take(dir.path(), chart, qpm, seconds, DRILL, Some(&sound));
        // A pass that is cut off by the end of the rendering has no verdicts.
        let judged = log.iter().filter(|line| line["kind"] == "judged");
        let until = judged
            .filter_map(|line| line["frame"].as_i64())
            .max()
            .unwrap_or(0);
        let score = player::score(&meant, &log, until);
        println!(
            "{chart} at {qpm}: {} of {} right, {} strays",
            score.right, score.all, score.strays
        );
        score.differs.iter().for_each(|line| println!("  {line}"));
        (right, all, strays) = (right + score.right, all + score.all, strays + score.strays);
    }
    println!("{right} of {all} verdicts right, {strays} other notes told that were none");
    assert!(
        all >= 45 && right as f64 >= 0.98 * all as f64,
        "{right} of {all}"
    );
}

/// Roots, to go on from once they are secure.
const SECURE: &str = "
title = \"roots, then thirds\"
[[stage]]
name = \"roots\"
degrees = [\"1\"]
passes = 3
advance = \"ready\"
help = { voice = \"off\" }
cycle = { listen = 1, sing = 0, play = 2, breathe_bars = 2 }
[[stage]]
name = \"thirds\"
degrees = [\"3\"]
help = { voice = \"off\" }
";

#[test]
fn who_plays_well_goes_on_and_who_does_not_stays() {
    let font = player::font();
    let (qpm, seconds) = (200.0, 38.0);
    let beat = (60.0 / qpm * f64::from(RATE)) as i64;
    for (off, choruses, stages) in [
        (0u8, ["clean", "clean"], &["roots", "thirds"][..]),
        (1, ["rough", "rough"], &["roots"]),
    ] {
        let dir = tempfile::tempdir().expect("a directory");
        let silent = take(dir.path(), "ferry-at-six", qpm, seconds, SECURE, None);
        let chords = to_play(&silent, (31.0 * f64::from(RATE)) as i64);
        let strike = |chord: &player::Sounding| {
            let low = 43 + (player::root(&chord.symbol) + 12 - 43 % 12) % 12;
            (chord.frame, 2 * beat, low + off)
        };
        let struck: Vec<player::Struck> = chords.iter().map(strike).collect();
        let sound = player::sound(&font, &struck, (seconds * f64::from(RATE)) as usize, RATE);
        let log = take(
            dir.path(),
            "ferry-at-six",
            qpm,
            seconds,
            SECURE,
            Some(&sound),
        );
        let told = |kind: &str, key: &str| -> Vec<String> {
            let lines = log.iter().filter(|line| line["kind"] == kind);
            lines
                .map(|line| line[key].as_str().unwrap_or("-").to_string())
                .collect()
        };
        assert_eq!(told("judged", "chorus"), choruses);
        assert_eq!(told("stage", "stage"), stages);
    }
}
