//! Drills through the public API: files and their faults, the notes that come of a stage, and the laws that
//! hold for all of them.

use super::changes::{TEMPO, analysed, changes, laid_out, lay, stage, views};
use underfoot::drill::{Drill, Lack, Model, PageHelp, StringRule, check, model_room, model_tones};
use underfoot::fault::{Faults, Source};
use underfoot::fretboard::{Neck, way_through};

fn read(directory: &str, name: &str) -> Result<Drill, Faults> {
    let path = format!("{}/{directory}/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap();
    Drill::read(&Source { name, text: &text })
}

pub fn shipped() -> Vec<(String, Drill)> {
    let directory = concat!(env!("CARGO_MANIFEST_DIR"), "/configs/drills");
    let mut names: Vec<String> = std::fs::read_dir(directory)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let drills = names
        .into_iter()
        .map(|name| match read("configs/drills", &name) {
            Ok(drill) => (name, drill),
            Err(faults) => panic!("{faults}"),
        });
    drills.collect()
}

#[test]
fn broken_drills_tell_every_fault_with_its_place() {
    for name in ["words", "figure", "places", "numbers", "syntax"] {
        let file = format!("{name}.toml");
        let faults = read("tests/fixtures/broken/drills", &file)
            .unwrap_err()
            .to_string();
        let path = format!(
            "{}/tests/fixtures/broken/drills/{name}.faults",
            env!("CARGO_MANIFEST_DIR")
        );
        let expected = std::fs::read_to_string(path).unwrap();
        assert_eq!(faults.trim_end(), expected.trim_end(), "{name}");
    }
}

#[test]
fn lists_that_name_nothing_are_faults() {
    for (keys, rule) in [
        (
            "places = []",
            "places names no place (such as \"1\" or \"2&\")",
        ),
        (
            "rotate = [[]]",
            "rotate names no place (such as \"1\" or \"2&\")",
        ),
        (
            "rotate = []",
            "rotate is empty: name at least one list of places",
        ),
        ("fade = [3]", "fade must be a list of tables, not integer"),
        (
            "call = \" \"",
            "call is what the voice says where the name takes too long: not empty",
        ),
    ] {
        let text = format!("title = \"t\"\n[[stage]]\nname = \"s\"\ndegrees = [\"1\"]\n{keys}\n");
        let read = Drill::read(&Source {
            name: "t.toml",
            text: &text,
        });
        let faults: Vec<String> = read
            .unwrap_err()
            .0
            .into_iter()
            .map(|fault| fault.rule)
            .collect();
        assert_eq!(faults, [rule], "{keys}");
    }
}

#[test]
fn every_drill_that_ships_can_be_read_and_laid_out() {
    let drills = shipped();
    let stages: Vec<(&str, usize)> = drills
        .iter()
        .map(|(name, drill)| (name.as_str(), drill.stages.len()))
        .collect();
    assert_eq!(
        stages,
        [
            ("first-evening.toml", 3),
            ("guide-tones.toml", 6),
            ("ladder-bass.toml", 17),
            ("ladder-voice.toml", 12),
            ("ladder.toml", 50),
            ("roots.toml", 4),
            ("three-notes.toml", 3),
            ("turning.toml", 5),
        ]
    );
    let tune = changes(
        "4/4",
        "Cm7:4 F7:4 Bbmaj7:4 Ebmaj7:2 NC:2 Am7b5:4 D7alt:2 D7:2 Gm6:8 G7sus:1 Bdim7:1 C6:2",
    );
    for (name, drill) in &drills {
        for stage in &drill.stages {
            let sets = laid_out(stage, &tune, 0, 1);
            let notes: usize = sets.iter().map(|set| set.notes.len()).sum();
            assert_eq!(notes == 0, stage.is_open_choice(), "{name}: {}", stage.name);
        }
    }
}

#[test]
fn stages_give_the_notes_a_teacher_would_name() {
    // Spelled note and octave @ quarters from the first bar; common practice, no source.
    let cases = [
        (
            r#"degrees = ["1"]"#,
            "Dm7:4 G7:4 Cmaj7:8",
            "D3@0 | G3@4 | C3@8",
        ),
        (
            r#"degrees = ["1"]
            each = "bar""#,
            "Dm7:4 Cmaj7:8 A7:2 D7:2",
            "D3@0 | C3@4 C3@8 | A3@12 | -",
        ),
        (
            r#"degrees = ["1", "3"]
            figure = ["1", "3 above"]
            places = ["1", "3"]"#,
            "Dm7:4 G7:2 NC:2 G7sus:4",
            "D3@0 F3@2 | G3@4 B3@5 | - | G3@8 C4@10",
        ),
        (
            r#"degrees = ["1", "3"]
            figure = ["1", "3 below"]
            places = ["1", "3"]"#,
            "Cm7:4 Fmaj7:4",
            "C4@0 Eb3@2 | F3@4 A2@6",
        ),
        (
            r#"degrees = ["3"]
            places = ["before 1"]"#,
            "Dm7:4 G7:4",
            "F3@-0.5 | B3@3.5",
        ),
        (
            r#"degrees = ["1", "2", "3"]"#,
            "Dm7:4 Am7b5:4 D7alt:4",
            "D3@0 E3@0.5 F3@1 | A3@4 Bb3@4.5 C4@5 | D3@8 Eb3@8.5 F#3@9",
        ),
        // A sixth chord gives its sixth for the seventh, a minor tonic too; a diminished one its plain letter.
        (
            r#"degrees = ["7"]
            figure = ["7 near"]"#,
            "C6:4 Gm6:4 Gmaj7:4 Cdim7:4",
            "A3@0 | E3@4 | F#3@8 | A3@12",
        ),
        // Guide tones: the nearest, usually a step or held; the flat five only where the chord has it.
        (
            r#"degrees = ["3", "7", "b5"]
            figure = ["3 or 7 or b5 near"]"#,
            "Dm7:4 G7:4 Cmaj7:4 Am7b5:4 D7:4 Gm6:4",
            "F3@0 | F3@4 | E3@8 | Eb3@12 | F#3@16 | E3@20",
        ),
        // The five notes of an altered chord.
        (
            r#"degrees = ["1", "2", "3", "4", "5"]"#,
            "D7alt:4",
            "D3@0 Eb3@0.5 F#3@1 Bb3@1.5 C4@2",
        ),
        (
            r#"degrees = ["1", "2", "3", "5"]"#,
            "D7alt:4",
            "D3@0 Eb3@0.5 F#3@1 Bb3@1.5",
        ),
        // With the fourth itself in the set, a suspended chord's third stays what the scale has.
        (
            r#"degrees = ["1", "2", "3", "4"]"#,
            "G7sus:4",
            "G3@0 A3@0.5 B3@1 C4@1.5",
        ),
        // Approaches are spelled as leading notes and as the scale has them.
        (
            r#"degrees = ["3"]
            figure = ["semitone below 3", "3"]
            places = ["before 1", "1"]"#,
            "Cmaj7:4 Dm7:4",
            "D#3@-0.5 E3@0 | E3@3.5 F3@4",
        ),
        (
            r#"degrees = ["1"]
            figure = ["step above 1", "1"]"#,
            "Cmaj7:4 Am7b5:4",
            "D3@0 C3@0.5 | Bb3@4 A3@4.5",
        ),
        // Arpeggios go on upwards over the change.
        (
            r#"degrees = ["1", "3", "5", "7"]
            order = "on from the nearest""#,
            "Dm7:4 G7:4",
            "D3@0 F3@0.5 A3@1 C4@1.5 | D4@4 F4@4.5 G4@5 B4@5.5",
        ),
        // Where there are more places than notes, the figure goes round.
        (
            r#"degrees = ["1", "5"]
            figure = ["1", "5 above"]
            places = ["1", "2", "3", "4"]"#,
            "Dm7:4",
            "D3@0 A3@1 D3@2 A3@3",
        ),
    ];
    for (keys, chords, expected) in cases {
        assert_eq!(
            lay(keys, "4/4", chords, 0),
            expected,
            "{keys} over {chords}"
        );
    }
}

#[test]
fn degrees_follow_the_analysis_of_the_tune() {
    // Common practice, no source: what a teacher would name over each chord.
    let three = r#"["1", "2", "3"]"#;
    let guide = r#"["3", "7"]"#;
    let five = r#"["1", "2", "3", "4", "5"]"#;
    for (degrees, key, chords, expected) in [
        (
            three,
            "G minor",
            "Am7b5 D7 Gm6",
            "A Bb C | D Eb F# | G A Bb",
        ),
        (three, "C major", "Dm7 G7 Cmaj7", "D E F | G A B | C D E"),
        (three, "F minor", "C7#9 Fm6", "C Db E | F G Ab"),
        (guide, "G minor", "Am7b5 D7 Gm6", "C G | F# C | Bb E"),
        (
            guide,
            "C major",
            "G7sus4 G7 C6 Cdim7",
            "C F | B F | E A | Eb A",
        ),
        (
            five,
            "C major",
            "G7sus4 G7 C6",
            "G A B C D | G A B C D | C D E F G",
        ),
        // A scale without a fourth: the run leaves it out.
        (five, "F minor", "C7b5 Fm6", "C Db E Gb | F G Ab Bb C"),
        (
            r#"["1", "3", "5", "7"]"#,
            "C major",
            "Bm7b5 G6 Cdim7",
            "B D F A | G B D E | C Eb Gb A",
        ),
    ] {
        let tune = analysed(key, chords);
        let stage = stage(&format!("degrees = {degrees}"));
        let sets = laid_out(&stage, &tune, 0, 0);
        let words: Vec<String> = sets
            .iter()
            .map(|set| {
                let notes: Vec<String> = set
                    .notes
                    .iter()
                    .map(|note| note.pitch.to_string())
                    .collect();
                notes.join(" ")
            })
            .collect();
        assert_eq!(
            words.join(" | "),
            expected,
            "{degrees} over {chords} in {key}"
        );
    }
}

/// Common practice, no source: teachers differ on the second of the dominant of two and of the three-chord, on their thirds
/// they do not.
#[test]
fn a_stage_may_leave_out_what_is_not_certain() {
    let tune = "Cmaj7 A7 Dm7 G7 Em7 Cmaj7";
    for (keys, expected) in [
        ("degrees = [\"2\"]", "D B E A F D"),
        ("degrees = [\"2\"]\ncertain = true", "D - E A - D"),
        (
            "degrees = [\"1\", \"2\"]\ncertain = true",
            "CD - DE GA - CD",
        ),
        ("degrees = [\"3\"]\ncertain = true", "E C# F B G E"),
        // Only over some kinds of chords.
        ("degrees = [\"3\"]\nchords = [\"dominant\"]", "- C# - B - -"),
        (
            "degrees = [\"1\"]\nchords = [\"minor 7\", \"major 7\"]",
            "C - D - E C",
        ),
    ] {
        let tune = analysed("C major", tune);
        let sets = laid_out(&stage(keys), &tune, 0, 0);
        let words: Vec<String> = sets
            .iter()
            .map(|set| {
                let names: String = set
                    .notes
                    .iter()
                    .map(|note| note.pitch.to_string())
                    .collect();
                if names.is_empty() {
                    "-".to_string()
                } else {
                    names
                }
            })
            .collect();
        assert_eq!(words.join(" "), expected, "{keys}");
    }
}

#[test]
fn compound_meters_are_placed_in_eighths() {
    let keys = r#"degrees = ["1"]
        places = ["1", "4"]"#;
    assert_eq!(
        lay(keys, "6/8", "Dm7:6 G7:3 C6:3", 0),
        "D3@0 D3@1.5 | G3@3 G3@3.5 | C3@4.5 C3@5"
    );
    let push = r#"degrees = ["1"]
        places = ["before 1"]"#;
    assert_eq!(lay(push, "12/8", "Dm7:12 G7:12", 0), "D3@-0.5 | G3@5.5");
}

#[test]
fn rotations_and_rests_go_by_the_pass() {
    let rotate = r#"degrees = ["1"]
        rotate = [["1"], ["2&"]]"#;
    let rest = r#"degrees = ["1"]
        play_bars = 2
        rest_bars = 2"#;
    let four = "Dm7:4 G7:4 Cmaj7:4 A7:4";
    for (keys, pass, expected) in [
        (rotate, 0, "D3@0 | G3@4 | C3@8 | A3@12"),
        (rotate, 1, "D3@1.5 | G3@5.5 | C3@9.5 | A3@13.5"),
        (rotate, 2, "D3@0 | G3@4 | C3@8 | A3@12"),
        (rest, 0, "D3@0 | G3@4 | - | -"),
        (rest, 1, "- | - | C3@8 | A3@12"),
        (rest, 2, "D3@0 | G3@4 | - | -"),
    ] {
        assert_eq!(
            lay(keys, "4/4", four, pass),
            expected,
            "{keys} in pass {pass}"
        );
    }
}

#[test]
fn passing_notes_are_short_and_others_last_to_the_next() {
    let lengths = |keys: &str, chords: &str| -> Vec<f64> {
        let tune = changes("4/4", chords);
        let sets = laid_out(&stage(keys), &tune, 0, 0);
        sets.iter()
            .flat_map(|set| &set.notes)
            .map(|note| note.len.quarters())
            .collect()
    };
    // The flat second of a half-diminished chord passes; the whole-tone second of the minor seventh may sound.
    assert_eq!(
        lengths(r#"degrees = ["2"]"#, "Am7b5:4 Am7:4"),
        [0.5, 3.9375]
    );
    assert_eq!(
        lengths("degrees = [\"1\"]\nlength = \"1/2\"", "Am7:4 D7:1"),
        [2.0, 0.9375]
    );
    // A push cuts the note before it, at the seam too.
    let pushed = lengths("degrees = [\"1\"]\nplaces = [\"before 1\"]", "Am7:4 D7:4");
    assert_eq!(pushed, [3.9375, 3.9375]);
}

#[test]
fn help_fades_step_by_step() {
    let fading = stage(
        r#"degrees = ["1"]
        help = { bass = true, page = "notes" }
        fade = [{ page = "degrees" }, { bass = false }, { page = "symbol", from_pass = 6 }]"#,
    );
    let told: Vec<(bool, PageHelp)> = (0..7)
        .map(|pass| fading.help_in(pass))
        .map(|h| (h.bass, h.page))
        .collect();
    let (notes, degrees, symbol) = (PageHelp::Notes, PageHelp::Degrees, PageHelp::Symbol);
    assert_eq!(
        told,
        [
            (true, notes),
            (true, degrees),
            (false, degrees),
            (false, degrees),
            (false, degrees),
            (false, symbol),
            (false, symbol),
        ]
    );
}

#[test]
fn model_tones_answer_in_time_or_not_at_all() {
    let roots = r#"degrees = ["1"]"#;
    let late = r#"degrees = ["1"]
        places = ["3"]"#;
    let two = r#"degrees = ["1", "3"]
        figure = ["1", "3 above"]"#;
    // set:key@start+length in quarters, by the rule: two beats (half of a shorter chord) after the last place,
    // done before the change; or done half a beat before the chord.
    for (model, keys, chords, expected) in [
        (
            Model::After,
            roots,
            "Dm7:4 G7:4",
            "0:50@2+1.9375 1:55@6+1.9375",
        ),
        (
            Model::After,
            roots,
            "Dm7:2 G7:2",
            "0:50@1+0.9375 1:55@3+0.9375",
        ),
        (Model::After, late, "Dm7:4 G7:4", ""),
        (Model::After, late, "Dm7:8 G7:4", "0:50@4+1.9375"),
        (Model::After, two, "Dm7:4", "0:50@2.5+0.4375 0:53@3+0.4375"),
        (
            Model::Before,
            roots,
            "Dm7:4 G7:4",
            "0:50@-2.5+1.9375 1:55@1.5+1.9375",
        ),
        (Model::Before, roots, "Dm7:1 G7:1", "0:50@-2.5+1.9375"),
        (Model::Off, roots, "Dm7:4 G7:4", ""),
    ] {
        let tune = changes("4/4", chords);
        let sets = laid_out(&stage(keys), &tune, 0, 0);
        let tones = model_tones(model, &sets, &views(&tune));
        let words: Vec<String> = tones
            .iter()
            .map(|t| {
                format!(
                    "{}:{}@{}+{}",
                    t.set,
                    t.midi,
                    t.at.quarters(),
                    t.len.quarters()
                )
            })
            .collect();
        assert_eq!(words.join(" "), expected, "{model:?} {keys} {chords}");
        let left_out = model_room(model, &sets, &views(&tune));
        assert!(
            left_out
                .iter()
                .all(|set| tones.iter().all(|tone| tone.set != *set))
        );
    }
}

#[test]
fn what_finds_no_room_is_told_with_bar_and_chord() {
    let stage = stage(
        r#"degrees = ["1"]
        places = ["3"]
        help = { model = "after" }"#,
    );
    let tune = changes("4/4", "Dm7:8 G7:4 Cmaj7:2 A7:2");
    let found = check(&stage, &views(&tune), TEMPO, 0);
    let words: Vec<String> = found.iter().map(ToString::to_string).collect();
    assert_eq!(
        words,
        [
            "model left out: bar 3 chord 1",
            "place 3 moved to 1: bar 4 chord 1",
            "place 3 moved to 1: bar 4 chord 2",
        ]
    );
    assert_eq!(found[0].what, Lack::Model);
}

#[test]
fn thirds_lie_on_the_string_of_their_root() {
    let stage = stage(
        r#"degrees = ["1", "3"]
        figure = ["1", "3 above"]
        string = "same""#,
    );
    let tune = changes("4/4", "Dm7:4 G7:4 Cmaj7:4 Ebmaj7:4");
    let sets = laid_out(&stage, &tune, 0, 0);
    for places in way_through(&Neck::default(), &sets, StringRule::Same, None) {
        let strings: Vec<u8> = places.iter().map(|place| place.unwrap().string).collect();
        assert_eq!(strings[0], strings[1], "{places:?}");
    }
}
