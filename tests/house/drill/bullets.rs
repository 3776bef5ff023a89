//! Every word of the drill language in a drill of its own: what it asks for, what its events and pages say, whether a naive reader
//! can play it and a naive listener knows what to do.

use super::changes::{changes, laid_out, stage};
use crate::practice::{calls_heard, pages_read};
use crate::support::practice::{CHART, Room, library, settings};
use crate::support::program::command;
use proptest::prelude::*;
use std::collections::BTreeSet;
use underfoot::audio::Played;
use underfoot::display::Page;
use underfoot::drill::TargetSet;
use underfoot::foot::Action;
use underfoot::practice::{EventKind, MusicChange, Recorded};
use underfoot::time::Part;

/// What it is, the keys of the stage, what its log must have in it.
type Bullet = (&'static str, &'static str, &'static [&'static str]);

#[rustfmt::skip]
const BULLETS: &[Bullet] = &[
    ("a section", "degrees = ['1']\nover = 'C'",                          &["section C"]),
    ("two sections", "degrees = ['1']\nover = ['A', 'B']",                &["section A", "section B"]),
    ("the form", "degrees = ['1']\nover = 'form'",                        &["section A", "section B", "section C"]),
    ("the hard spot", "degrees = ['1']\nover = 'hard spot'",              &["page C"]),
    ("a tempo that rises", "degrees = ['1']\ntempo = { from_per_cent = 60, to_per_cent = 100, step = 20, every = 1 }", &["tempo 80"]),
    ("places that turn", "degrees = ['1']\nrotate = { places = [['2'], ['3&']] }", &["say on three and", "task play on 2"]),
    ("orders that turn", "degrees = ['1', '3']\nrotate = { orders = 'every' }",  &["say order third root"]),
    ("strings that turn", "degrees = ['1']\nrotate = { strings = [5, 3] }", &["say string three", "task play string 5"]),
    ("positions that turn", "degrees = ['1']\nrotate = { positions = [5, 9] }", &["say position nine", "task play position V"]),
    ("octaves and sides, crossed", "degrees = ['1', '3']\nfigure = ['1', '3 above']\nplaces = ['1', '3']\nrotate = { octaves = ['low', 'high'], sides = ['above', 'below'], crossed = true }",
        &["say high octave, below"]),
    ("keys that turn", "degrees = ['1']\nrotate = { keys = 'fourths' }",  &["say in F", "key"]),
    ("find", "degrees = ['1']\nfind = { places = 5 }",                    &["task find 0 of 5"]),
    ("every place", "degrees = ['3']\nstring = 'every place'",            &["task play every place"]),
    ("an octave", "degrees = ['1']\noctave = 'high'",                     &["task play high octave"]),
    ("silence, singing, answer", "degrees = ['1', '2', '3']\nplaces = ['3']\nsilence = true\nchords_last = 2\nhelp = { model = 'after' }\ncycle = { sing = 1, play = 1 }",
        &["say sing", "task sing start on 3", "model"]),
    ("a motif", "degrees = ['1', '2', '3']\nmotif = '1:1 3:0.5 2:1.5'",   &["page C E D", "task play on 1, 2, 2&"]),
    ("a rhythm", "degrees = ['1', '3', '5']\nfigure = []\nrhythm = ['1', '2&', '4']", &["task play on 1, 2&, 4"]),
    ("call and answer", "degrees = ['1', '2', '3', '5']\nanswer_phrase = true\nchords_last = 2", &["say answer", "task answer", "model"]),
    ("into the fifth from below", "degrees = ['5']\nfigure = ['semitone below 5', '5']\nplaces = ['before 1', '1']", &["page F# G"]),
    ("into the seventh from above", "degrees = ['7']\nfigure = ['step above 7', '7']\nplaces = ['before 1', '1']", &["page C B"]),
    ("the root enclosed", "degrees = ['1']\nfigure = ['step above 1', 'semitone below 1', '1']\nplaces = ['1', '1&', '2']", &["page D B C"]),
    ("guide tones", "degrees = ['3', '7']\nfigure = ['3 or 7 near']",     &["page E"]),
    ("thirds", "degrees = ['1', '2', '3', '4', '5', '6']\nfigure = ['1', '3', '2', '4', '3', '5', '4', '6']\nchords_last = 2", &["page C E D F E G F A"]),
    ("fours", "degrees = ['1', '2', '3', '4', '5']\nfigure = ['1', '2', '3', '4', '2', '3', '4', '5']\nchords_last = 2", &["page C D E F D E F G"]),
    ("a sequence", "degrees = ['1', '2', '3', '4', '5']\nfigure = ['1', '2', '3', '2', '3', '4', '3', '4', '5']\nchords_last = 2", &["page C D E D E F E F G"]),
    ("an arpeggio from the third", "degrees = ['3', '5', '7', '1']\norder = 'on from the nearest'\nstep = '1/8'", &["page E G B C"]),
];

fn drill(keys: &str) -> String {
    let cycle = if keys.contains("cycle") {
        ""
    } else {
        "cycle = { listen = 0, play = 2, breathe_bars = 2 }\n"
    };
    format!(
        "title = 'Bullet'\n[[stage]]\nname = 'bullet'\n{cycle}{keys}\n[[stage]]\nname = 'after'\ndegrees = ['1']\n"
    )
}

/// What is told of a stage while it is played through: a line each.
fn log(keys: &str) -> BTreeSet<String> {
    let mut room = Room::new(library(&[CHART], &drill(keys)), settings(2));
    room.core.set_start_tempo(100.0);
    room.handle(EventKind::Act(Action::Start));
    room.play("+50");
    let mut log = BTreeSet::new();
    for record in &room.records {
        let line = match &record.what {
            Recorded::Page { now, .. } => Some(format!("page {}", now.join(" "))),
            Recorded::Say {
                text, end: Some(_), ..
            } => Some(format!("say {text}")),
            Recorded::Section => Some(format!("section {}", record.section)),
            Recorded::Change(MusicChange::Tempo(tempo)) => {
                Some(format!("tempo {:.0}", tempo.qpm()))
            }
            Recorded::Change(MusicChange::Key(_)) => Some("key".to_string()),
            _ => None,
        };
        log.extend(line);
    }
    for (_, page) in &room.pages {
        if let Page::Practice(page) = page {
            log.insert(format!("task {}", page.task.join(" ")));
        }
    }
    let is_model = |played: &Played| {
        matches!(
            played,
            Played::On {
                part: Part::Model,
                ..
            }
        )
    };
    if room.notes().iter().any(is_model) {
        log.insert("model".to_string());
    }
    log
}

#[test]
fn each_bullet_is_told_in_events_pages_and_words() {
    let mut wrong = Vec::new();
    for (what, keys, expected) in BULLETS {
        let log = log(keys);
        for line in *expected {
            // A call has what is asked for among its parts.
            let parts = |told: &String| {
                told == line
                    || told.starts_with("say ") && told.contains(line.trim_start_matches("say "))
            };
            if !log.iter().any(parts) {
                wrong.push(format!("{what}: no \"{line}\" in {log:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn each_bullet_is_read_off_its_pages() {
    let (mut all, mut wrong) = (0, Vec::new());
    for (what, keys, _) in BULLETS {
        let library = library(&[CHART], &drill(keys));
        for qpm in [60.0, 120.0] {
            let (looks, misread) = pages_read::misread(&library, 0, qpm);
            all += looks;
            wrong.extend(misread.into_iter().map(|fault| format!("{what}: {fault}")));
        }
    }
    println!("{all} looks, {} wrong", wrong.len());
    assert!(all > 3_000, "{all}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn each_bullet_is_heard_by_a_naive_listener() {
    let (mut all, mut heard, mut wrong) = (0, 0, Vec::new());
    for (what, keys, _) in BULLETS.iter().filter(|(_, keys, _)| !keys.contains("find")) {
        let library = library(&[CHART], &drill(keys));
        for qpm in [60.0, 100.0] {
            let (changes, told, faults) = calls_heard::told(&library, 0, qpm);
            (all, heard) = (all + changes, heard + told);
            wrong.extend(
                faults
                    .into_iter()
                    .map(|fault| format!("{what} at {qpm}: {fault}")),
            );
        }
    }
    println!("{heard} of {all} changes heard");
    assert!(all > 50, "{all}");
    assert!(heard == all && wrong.is_empty(), "{}", wrong.join("\n"));
}

/// All of them as one drill through the program: nothing to be found by `check`, and each stage in the event log.
#[test]
fn all_bullets_are_checked_and_rendered() {
    let home = tempfile::tempdir().expect("a directory");
    let mut text = "title = 'Bullets'\n".to_string();
    for (what, keys, _) in BULLETS.iter().filter(|(_, keys, _)| !keys.contains("find")) {
        let cycle = if keys.contains("cycle") {
            ""
        } else {
            "cycle = { listen = 0, play = 1, breathe_bars = 0 }\n"
        };
        text.push_str(&format!(
            "[[stage]]\nname = '{what}'\npasses = 1\nadvance = 'passes'\n{cycle}{keys}\n"
        ));
    }
    let path = |name: &str| home.path().join(name).display().to_string();
    std::fs::write(path("bullets.toml"), text).expect("written");
    std::fs::write(path("chart.toml"), CHART).expect("written");
    let chart = path("chart.toml");
    let run = |arguments: &[&str]| {
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
    };
    let checked = run(&["check", &path("bullets.toml"), &chart]);
    assert!(checked.contains("OK (drill, "), "{checked}");
    let (events, pages) = (path("events"), path("pages"));
    run(&[
        "render",
        &chart,
        "--drill",
        &path("bullets.toml"),
        "--seconds",
        "700",
        "--events",
        &events,
        "--pages",
        &pages,
    ]);
    let events = std::fs::read_to_string(events).expect("events");
    let lines = events
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).expect("a line"));
    let stages: BTreeSet<String> = lines
        .filter(|line| line["kind"] == "note")
        .filter_map(|line| Some(line["stage"].as_str()?.to_string()))
        .collect();
    let missing: Vec<&str> = BULLETS
        .iter()
        .filter(|(what, keys, _)| !keys.contains("find") && !stages.contains(*what))
        .map(|(what, ..)| *what)
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
    assert!(std::fs::read_dir(pages).expect("pages").count() > BULLETS.len());
}

/// The pitches of each set, in a line.
fn pitches(sets: &[TargetSet]) -> String {
    let of = |set: &TargetSet| {
        let notes: Vec<String> = set
            .notes
            .iter()
            .map(|note| note.pitch.to_string())
            .collect();
        notes.join(" ")
    };
    sets.iter().map(of).collect::<Vec<String>>().join(" | ")
}

#[test]
fn each_bullet_asks_for_its_notes() {
    // Common practice, no source: a two-five-one and what a teacher would write over it.
    #[rustfmt::skip]
    let cases = [
        ("degrees = ['3', '7']\nfigure = ['3 or 7 near']",                   "F | F | E"),
        ("degrees = ['3', '7']\nfigure = ['7 or 3 near']",                   "C | B | B"),
        ("degrees = ['1', '2', '3', '4', '5', '6', '7']\nstep = '1/8'",      "D E F G A B C | G A B C D E F | C D E F G A B"),
        ("degrees = ['1', '2', '3', '4', '5', '6']\nfigure = ['1', '3', '2', '4', '3', '5', '4', '6']\nstep = '1/8'",
            "D F E G F A G B | G B A C B D C E | C E D F E G F A"),
        ("degrees = ['1', '2', '3', '4', '5']\nfigure = ['1', '2', '3', '4', '2', '3', '4', '5']\nstep = '1/8'",
            "D E F G E F G A | G A B C A B C D | C D E F D E F G"),
        ("degrees = ['1', '3', '5', '7']\norder = 'on from the nearest'\nstep = '1/8'", "D F A C | D F G B | G E C B"),
        ("degrees = ['5', '7', '1', '3']\norder = 'on from the nearest'\nstep = '1/8'", "A C D F | D B G F | E C B G"),
    ];
    let tune = changes("4/4", "Dm7:8 G7:8 Cmaj7:8");
    let told: Vec<String> = cases
        .iter()
        .map(|(keys, _)| pitches(&laid_out(&stage(keys), &tune, 0, 1)))
        .collect();
    let expected: Vec<&str> = cases.iter().map(|(_, expected)| *expected).collect();
    assert_eq!(told, expected);
    // The notes of a scale in steps of a third go up and down as they are written.
    let sets = laid_out(&stage(cases[3].0), &tune, 0, 1);
    for set in &sets {
        let rises: Vec<bool> = set
            .notes
            .windows(2)
            .map(|pair| pair[1].midi > pair[0].midi)
            .collect();
        assert_eq!(rises, [true, false, true, false, true, false, true]);
    }
}

proptest! {
    /// A lead-in is a semitone below its chord tone, or the next note of the scale above; both enclose it.
    #[test]
    fn any_chord_tone_can_be_led_into(
        tone in prop::sample::select(vec!["1", "3", "5", "7"]), kind in 0u8..3,
        quality in prop::sample::select(vec!["maj7", "m7", "7", "6", "m6", "m7b5", "dim7", "7b9"]), root in prop::sample::select(vec!["C", "Db", "E", "F#", "Bb"]),
    ) {
        let (below, above) = (format!("\"semitone below {tone}\""), format!("\"step above {tone}\""));
        let (figure, places) = match kind {
            0 => (below, r#"["before 1", "1"]"#),
            1 => (above, r#"["before 1", "1"]"#),
            _ => (format!("{above}, {below}"), r#"["1", "1&", "2"]"#),
        };
        let stage = stage(&format!("degrees = [\"{tone}\"]\nfigure = [{figure}, \"{tone}\"]\nplaces = {places}"));
        let tune = changes("4/4", &format!("{root}{quality}:4"));
        let set = &laid_out(&stage, &tune, 0, 1)[0];
        let (target, leads) = set.notes.split_last().expect("notes");
        prop_assert_eq!(leads.len(), if kind == 2 { 2 } else { 1 });
        let scale: Vec<u8> = tune[0].context.degrees.iter().map(|degree| degree.pitch.class()).collect();
        let next = (1..12).find(|up| scale.contains(&((target.midi + up) % 12))).expect("a scale");
        let steps: Vec<i16> = leads.iter().map(|lead| i16::from(lead.midi) - i16::from(target.midi)).collect();
        let wanted = match kind {
            0 => vec![-1],
            1 => vec![i16::from(next)],
            _ => vec![i16::from(next), -1],
        };
        prop_assert_eq!(steps, wanted, "{:?}", set);
    }
}
