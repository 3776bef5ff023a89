//! Harmony against tables and open data outside the program.

use proptest::prelude::*;
use serde_json::Value;
use std::collections::BTreeSet;
use underfoot::harmony::{
    AfterHalfDiminished, ChordInContext, ChordSymbol, Degree, DominantToMinor, Habits, Harmony,
    Key, KeyDeclaration, MinorTonic, MinorTwo, Mode, Role, ScaleName, ThreeChord, TimedChord,
    in_context, symbols_line,
};
use underfoot::time::Tick;

fn fixture(name: &str) -> Value {
    let path = format!(
        "{}/tests/fixtures/harmony/{name}",
        env!("CARGO_MANIFEST_DIR")
    );
    #[allow(clippy::disallowed_methods, reason = "a test reads its fixture")]
    let text = std::fs::read_to_string(path).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn list(value: &Value) -> Vec<Value> {
    value.as_array().cloned().unwrap_or_default()
}

/// Semitones from the root to the second note of the scale.
fn second_semitones(chord: &ChordInContext) -> Option<u8> {
    Some(chord.root()?.up_to(chord.degrees.get(1)?.pitch))
}

fn names(value: &Value) -> BTreeSet<String> {
    list(value)
        .iter()
        .map(|name| name.as_str().unwrap().to_string())
        .collect()
}

/// Source of the rows: where music21 10.5.1 and pychord 1.4.1 agree, that; else common practice, no source.
/// Rows without notes (triple accidentals) and readings among a row's alternatives have no listed spelling:
/// there the pitch classes count, and the degrees.
#[test]
fn chord_symbols_have_their_tones_and_spelling() {
    let rows = list(&fixture("chord_symbols.json"));
    let mut wrong = Vec::new();
    let mut exact = 0;
    for row in &rows {
        let line: Value =
            serde_json::from_str(&symbols_line(0, row["symbol"].as_str().unwrap())).unwrap();
        let mut sounding = names(&line["tones"]);
        sounding.extend(line["bass"].as_str().map(str::to_string));
        let wanted = names(&row["notes"]);
        let spelled =
            row["notes"].is_null() || wanted == sounding || wanted == names(&line["tones"]);
        if line["pcs"] == row["pcs"] && spelled {
            exact += 1;
        } else if !list(&row["alternatives"]).contains(&line["pcs"]) {
            wrong.push(format!("{line}\n  wanted {row}"));
        }
    }
    println!(
        "chord symbols: {exact} of {} exact, {} by an alternative, {} wrong",
        rows.len(),
        rows.len() - exact - wrong.len(),
        wrong.len()
    );
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every symbol of the table, written in the one form and read again, is the same chord.
#[test]
fn the_canonical_form_reads_back() {
    for row in list(&fixture("chord_symbols.json")) {
        if let Harmony::Chord(chord) = row["symbol"].as_str().unwrap().parse().unwrap() {
            let again: ChordSymbol = chord.to_string().parse().unwrap();
            assert_eq!(
                (again.root, again.bass, &again.degrees),
                (chord.root, chord.bass, &chord.degrees),
                "{} as {chord}",
                chord.text
            );
            assert_eq!(again.to_string(), chord.to_string());
        }
    }
}

/// Source: the modes by definition; the altered and the symmetric scales' spelling by function is common
/// practice, so for those the semitones count.
#[test]
fn scales_are_those_of_the_table() {
    let tables = fixture("tables.json");
    let groups = [
        "modes_of_major",
        "modes_of_melodic_minor",
        "modes_of_harmonic_minor",
        "symmetric",
    ];
    let mut seen = 0;
    for (name, row) in groups
        .iter()
        .flat_map(|group| tables[group]["rows"].as_object().unwrap())
    {
        let name = if name == "Ultralocrian" {
            "altered bb7"
        } else {
            name
        };
        let scale: ScaleName = name.parse().unwrap();
        let semitones: Vec<i32> = scale.degrees().iter().map(|d| d.semitones()).collect();
        assert_eq!(serde_json::json!(semitones), row["semitones"], "{scale}");
        let degrees: Vec<String> = scale.degrees().iter().map(Degree::to_string).collect();
        if scale != ScaleName::Altered {
            assert_eq!(degrees.join(" "), row["degrees"], "{scale}");
        }
        seen += 1;
    }
    assert_eq!(seen, ScaleName::ALL.len());
}

/// A name for each pitch class, and qualities to put after it.
const NAMES: [&str; 12] = [
    "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
];
const QUALITIES: [&str; 14] = [
    "", "m", "7", "m7", "maj7", "6", "m6", "m7b5", "dim7", "dim", "7sus4", "aug", "7b9", "mMaj7",
];

/// A symbol put together as players do, from parts.
fn symbol() -> impl Strategy<Value = String> {
    let root = prop::sample::select(vec![
        "C", "Db", "D#", "E", "F#", "Gb", "Ab", "A", "Bb", "B", "Cb", "E♯",
    ]);
    let quality = prop::sample::select(vec![
        "", "m", "maj", "-", "7", "m7", "maj7", "Δ", "ø", "o7", "dim", "+", "9", "m9", "11", "13",
        "maj13", "6", "m6", "6/9", "7sus4", "sus2", "mMaj7", "m11", "M9", "dom7",
    ]);
    let part = prop::sample::select(vec![
        "b5", "#5", "b9", "(#9)", "#11", "(b13)", ",b9", "add9", "(add13)", "no5", "omit3",
        "add11", "sus4", "(9)",
    ]);
    let bass = prop::sample::select(vec!["", "", "/E", "/Bb", "/F#", "/A"]);
    (root, quality, prop::collection::vec(part, 0..4), bass)
        .prop_map(|(root, quality, parts, bass)| format!("{root}{quality}{}{bass}", parts.concat()))
}

proptest! {
    #[test]
    fn every_chord_of_any_chart_gets_a_whole_scale(
        texts in prop::collection::vec(symbol(), 1..12),
        fifths in -7i8..=7,
        declare in any::<bool>(),
    ) {
        let chords: Vec<&str> = texts.iter().map(String::as_str).filter(|text| text.parse::<ChordSymbol>().is_ok()).collect();
        let key = declare.then_some(KeyDeclaration::Signature(fifths));
        for chord in analysed(&chords, key, &Habits::default()) {
            let symbol = chord.symbol().unwrap();
            let classes: Vec<u8> = chord.degrees.iter().map(|d| symbol.root.up_to(d.pitch)).collect();
            prop_assert!((6..=8.max(symbol.degrees.len())).contains(&classes.len()), "{} {:?}", symbol.text, classes);
            prop_assert_eq!(classes[0], 0);
            prop_assert!(classes.is_sorted_by(|a, b| a < b), "{} {:?}", symbol.text, classes);
            for tone in &symbol.degrees {
                let there = classes.contains(&(tone.semitones().rem_euclid(12) as u8));
                let left_out = *tone == Degree::new(5, 0) && chord.scale == Some(ScaleName::Altered);
                prop_assert!(there || left_out, "{} {} lacks {}", symbol.text, chord.why, tone);
            }
            for number in 1..=7 {
                prop_assert!(chord.scale_degree(number).is_some(), "{} {} {}", symbol.text, chord.why, number);
            }
        }
    }

    #[test]
    fn a_tune_in_another_key_is_read_the_same(
        picks in prop::collection::vec((0u8..12, 0usize..QUALITIES.len()), 1..40),
        home in prop::option::of((0u8..12, any::<bool>())),
        up in 1u8..12,
    ) {
        let read = |up: u8| {
            let name = |class: u8| NAMES[usize::from((class + up) % 12)];
            let chords: Vec<String> = picks.iter().map(|(root, quality)| format!("{}{}", name(*root), QUALITIES[*quality])).collect();
            let chords: Vec<&str> = chords.iter().map(String::as_str).collect();
            let key = home.map(|(tonic, major)| format!("{} {}", name(tonic), if major { "major" } else { "minor" }));
            let key = key.map(|key| key.parse().unwrap());
            let tonic = |key: Key| (12 + key.tonic.class() - up) % 12;
            let one = |chord: ChordInContext| {
                let key = chord.key.map(|key| (tonic(key), key.mode));
                (key, chord.function, chord.scale, chord.certainty.map(|sure| (sure.margin, sure.degrees)))
            };
            analysed(&chords, key, &Habits::default()).into_iter().map(one).collect::<Vec<_>>()
        };
        prop_assert_eq!(read(0), read(up));
    }

    #[test]
    fn any_text_is_read_or_refused_at_a_column(text in "\\PC{0,80}") {
        if let Err(error) = text.parse::<Harmony>() {
            prop_assert!(error.column >= 1 && error.column <= text.chars().count() + 1);
            if let Some(near) = error.nearest {
                prop_assert!(near.parse::<Harmony>().is_ok());
            }
        }
    }

    #[test]
    fn near_symbols_are_read_or_refused(text in "[A-H][b#♭mMajdisu+°øΔ0-9()/, -]{0,20}") {
        if let Ok(chord) = text.parse::<ChordSymbol>() {
            prop_assert!(!chord.degrees.is_empty());
            let again = chord.to_string().parse::<ChordSymbol>().map(|chord| chord.degrees);
            prop_assert_eq!(again, Ok(chord.degrees.clone()), "{} as {}", text, chord);
            prop_assert!(!chord.pretty().is_empty());
        }
    }
}

/// Chords of a whole note each, in a declared key or none.
fn analysed(symbols: &[&str], key: Option<KeyDeclaration>, habits: &Habits) -> Vec<ChordInContext> {
    let chords: Vec<TimedChord> = symbols
        .iter()
        .enumerate()
        .map(|(at, symbol)| TimedChord {
            start: Tick(at as i64 * 3840),
            len: Tick(3840),
            harmony: symbol.parse().unwrap(),
            declared: key,
            hint: None,
        })
        .collect();
    in_context(&chords, habits)
}

/// What came out right over the rows that are not disputed.
#[derive(Debug, Default)]
struct Figures {
    rows: usize,
    diatonic: usize,
    seconds: usize,
    diatonic_seconds: usize,
    scales: usize,
    spelled: usize,
}

/// Scores one progression; what is wrong goes to the list.
fn score(
    row: &Value,
    habits: &Habits,
    declare: bool,
    figures: &mut Figures,
    wrong: &mut Vec<String>,
) {
    let fifths = row["fifths"].as_i64().unwrap() as i8;
    let mode = if row["mode"] == "major" {
        Mode::Major
    } else {
        Mode::Minor
    };
    let key = if declare {
        KeyDeclaration::Key(Key::of_signature(fifths, mode))
    } else {
        KeyDeclaration::Signature(fifths)
    };
    let chords = list(&row["chords"]);
    let symbols: Vec<&str> = chords
        .iter()
        .map(|chord| chord["symbol"].as_str().unwrap())
        .collect();
    for (want, got) in chords.iter().zip(analysed(&symbols, Some(key), habits)) {
        if want["confidence"] == "disputed" {
            continue;
        }
        let second = want["second_semitones"].as_u64() == second_semitones(&got).map(u64::from);
        let notes: Vec<String> = got.degrees.iter().map(|d| d.pitch.to_string()).collect();
        let mut classes: Vec<u8> = got.degrees.iter().map(|d| d.pitch.class()).collect();
        classes.sort_unstable();
        let scale = serde_json::json!(classes) == want["scale_pcs"];
        let diatonic = want["confidence"] == "diatonic";
        figures.rows += 1;
        figures.diatonic += usize::from(diatonic);
        figures.seconds += usize::from(second);
        figures.diatonic_seconds += usize::from(second && diatonic);
        figures.scales += usize::from(scale);
        figures.spelled +=
            usize::from(scale && serde_json::json!(notes) == want["stages"]["scale"]);
        if !second || !scale {
            wrong.push(format!(
                "{} {symbols:?} {} want {} got {}",
                row["key"], want["symbol"], want["scale"], got.why
            ));
        }
    }
}

fn textbook(habits: &Habits, declare: bool) -> (Figures, Vec<String>) {
    let (mut figures, mut wrong) = (Figures::default(), Vec::new());
    for row in list(&fixture("progressions.json")) {
        score(&row, habits, declare, &mut figures, &mut wrong);
    }
    println!("{habits:?} key declared: {declare}\n  {figures:?}");
    (figures, wrong)
}

/// Source of the rows: common practice, no source. With the habits built in every row comes out, whether the key is
/// declared or only its signature.
#[test]
fn textbook_progressions() {
    for declare in [true, false] {
        let (f, wrong) = textbook(&Habits::default(), declare);
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
        assert_eq!(f.spelled, f.scales, "spelling where the scale is right");
        assert!((f.rows, f.diatonic) == (756, 572), "{f:?}");
    }
}

/// One line a case: key | changes | the scales over them. Common practice, no source.
#[test]
fn chords_get_the_scales_that_a_teacher_names() {
    let cases = [
        // Where a dominant goes decides its second.
        "C major | Dm7 G7 Cmaj7 | Dorian, Mixolydian, Ionian",
        "C minor | Dm7b5 G7 Cm6 | Locrian, Phrygian dominant, melodic minor",
        "C major | Cmaj7 G7 Cm6 Fmaj7 | Ionian, Phrygian dominant, melodic minor, Lydian",
        "C major | Em7b5 A7 Dm7 G7 Cmaj7 | Locrian, Phrygian dominant, Dorian, Mixolydian, Ionian",
        "C major | Cmaj7 E7 A7 D7 G7 | Ionian, Phrygian dominant, Mixolydian b6, Mixolydian, Mixolydian",
        "C major | Cmaj7 A7 Dm7 G7 | Ionian, Mixolydian b6, Dorian, Mixolydian",
        "C major | Cmaj7 E7 Am7 G7 | Ionian, Phrygian dominant, Aeolian, Mixolydian",
        // After a half-diminished two the key's own nine stays where it resolves to major.
        "C major | Cmaj7 Dm7b5 G7 Cmaj7 | Ionian, Locrian, Mixolydian, Ionian",
        "C major | Cmaj7 Fm6 Dm7b5 G7 | Ionian, melodic minor, Locrian, Mixolydian",
        "C major | Cmaj7 F#m7b5 B7 Emaj7 Dm7 G7 | Ionian, Locrian, Phrygian dominant, Ionian, Dorian, Mixolydian",
        // The dominant of a minor key keeps its flat nine wherever it goes.
        "A minor | Am E7 A7 Dm E7 A | Aeolian, Phrygian dominant, Phrygian dominant, Dorian, Phrygian dominant, Ionian",
        "C major | Cmaj7 Bdim G7 Cmaj7 | Ionian, Locrian, Mixolydian, Ionian",
        // From outside the key.
        "C major | Dm7 Db7 Cmaj7 | Dorian, Lydian dominant, Ionian",
        "C major | Fmaj7 Fm7 Bb7 Cmaj7 | Lydian, Dorian, Lydian dominant, Ionian",
        "C major | Cmaj7 F7 Cmaj7 G7 | Ionian, Lydian dominant, Ionian, Mixolydian",
        "C minor | Cm6 Ab7 G7 Cm6 | melodic minor, Lydian dominant, Phrygian dominant, melodic minor",
        // A two-five into another key: its two is no three-chord.
        "C major | Cmaj7 Em7 A7 Dmaj7 Dmaj7 Dm7 G7 Cmaj7 | Ionian, Dorian, Mixolydian, Ionian, Ionian, Dorian, Mixolydian, Ionian",
        "C major | Cmaj7 Bbm7 Eb7 Abmaj7 Abmaj7 G7 | Ionian, Dorian, Mixolydian, Lydian, Lydian, Mixolydian",
        // Blues.
        "F major | F7 Bb7 F7 C7 Bb7 F7 | Mixolydian, Mixolydian, Mixolydian, Mixolydian, Mixolydian, Mixolydian",
        // Half-diminished.
        "C minor | Cm6 Am7b5 Dm7b5 G7 | melodic minor, Locrian, Locrian, Phrygian dominant",
        "C major | F#m7b5 Fmaj7 Cmaj7 | Locrian, Lydian, Ionian",
        "C major | Cmaj7 Dm7b5 Cmaj7 G7 | Ionian, Locrian natural 2, Ionian, Mixolydian",
        // The minor four, written short.
        "C major | C F Fm C G7 | Ionian, Lydian, melodic minor, Ionian, Mixolydian",
        // The symbol's own tones override.
        "C major | Dm7 G7alt Cmaj7 | Dorian, altered, Ionian",
        "C major | Dm7 G7#11 Cmaj7 | Dorian, Lydian dominant, Ionian",
        "C major | Dm7 G13b9 Cmaj7 | Dorian, diminished half-whole, Ionian",
        "C minor | Dm7b5 G7#5 Cm6 | Locrian, altered, melodic minor",
        "C major | Cmaj7#11 G7b9 Cmaj7#5 | Lydian, Phrygian dominant, Lydian augmented",
        "C minor | CmMaj7 Cm7 Cm(b6) G7sus4 | melodic minor, Aeolian, Aeolian, Phrygian dominant",
        // Passing diminished and suspended.
        "C major | Cmaj7 C#dim7 Dm7 G7sus4 | Ionian, diminished whole-half, Dorian, Mixolydian",
        // A bare signature, and nothing at all.
        "3 flats | Cm6 Fm7 Dm7b5 G7 Cm6 | melodic minor, Dorian, Locrian, Phrygian dominant, melodic minor",
        "3 flats | Ebmaj7 Cm7 Fm7 Bb7 | Ionian, Aeolian, Dorian, Mixolydian",
        "- | Am6 Bm7b5 E7 Am6 | melodic minor, Locrian, Phrygian dominant, melodic minor",
        "- | Abmaj7 Fm7 Bbm7 Eb7 | Ionian, Aeolian, Dorian, Mixolydian",
        "- | G7 C7 G7 D7 C7 G7 | Mixolydian, Mixolydian, Mixolydian, Mixolydian, Mixolydian, Mixolydian",
    ];
    let mut wrong = Vec::new();
    for case in cases {
        let parts: Vec<&str> = case.split(" | ").collect();
        let symbols: Vec<&str> = parts[1].split(' ').collect();
        let chords = analysed(&symbols, parts[0].parse().ok(), &Habits::default());
        let scales: Vec<&str> = chords
            .iter()
            .map(|chord| chord.scale.unwrap().name())
            .collect();
        if scales.join(", ") != parts[2] {
            let why: Vec<&str> = chords.iter().map(|chord| chord.why.as_str()).collect();
            wrong.push(format!("{case}\n  {}", why.join("\n  ")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The notes and, in brackets where they are not chord tones or colours, the roles. Common practice, no source.
#[test]
fn degrees_have_names_spelling_and_roles() {
    let cases = [
        (
            "C minor",
            "Dm7b5 G7 Cm6",
            0,
            "1=D b2=Eb(passing) b3=F 4=G b5=Ab b6=Bb b7=C",
        ),
        (
            "C minor",
            "Dm7b5 G7 Cm6",
            1,
            "1=G b2=Ab 3=B 4=C(passing) 5=D b6=Eb b7=F",
        ),
        (
            "C major",
            "Em7 Fmaj7 Cmaj7",
            0,
            "1=E b2=F(passing) b3=G 4=A 5=B b6=C(avoid) b7=D",
        ),
        (
            "C major",
            "Em7 Fmaj7 Cmaj7",
            2,
            "1=C 2=D 3=E 4=F(passing) 5=G 6=A 7=B",
        ),
        (
            "C major",
            "B7alt Em7 Cmaj7",
            0,
            "1=B b2=C #2=C## 3=D# b5=F b6=G b7=A",
        ),
        (
            "Eb major",
            "Cdim7 Bbm7 Ebmaj7",
            0,
            "1=C 2=D b3=Eb 4=F b5=Gb b6=Ab bb7=A 7=B",
        ),
        (
            "F major",
            "G7sus4 C7 Fmaj7",
            0,
            "1=G 2=A 3=B 4=C 5=D 6=E b7=F",
        ),
        (
            "C major",
            "Caug G7 Cmaj7",
            0,
            "1=C 2=D 3=E #4=F# #5=G# b7=Bb",
        ),
    ];
    for (key, changes, at, wanted) in cases {
        let symbols: Vec<&str> = changes.split(' ').collect();
        let chord = analysed(&symbols, key.parse().ok(), &Habits::default()).swap_remove(at);
        let degrees: Vec<String> = chord
            .degrees
            .iter()
            .map(|d| {
                let role = match d.role {
                    Role::ChordTone | Role::Colour => "",
                    Role::Passing => "(passing)",
                    Role::Avoid => "(avoid)",
                };
                format!("{}={}{role}", d.degree, d.pitch)
            })
            .collect();
        assert_eq!(degrees.join(" "), wanted, "{}", chord.why);
    }
}

/// Numbers 1 to 7 by function. Common practice, no source.
#[test]
fn numbers_find_the_degree_that_does_their_part() {
    let cases = [
        ("C minor", "Dm7b5 G7alt Cm6", 1, "G Ab B Db Eb Eb F"),
        ("C major", "Dm7 G7sus4 Cmaj7", 1, "G A B C D E F"),
        ("C major", "Caug G7 Cmaj7", 0, "C D E F# G# G# Bb"),
        ("C major", "Dm7 G13b9 Cmaj7", 1, "G Ab B C# D E F"),
        ("C minor", "Dm7b5 G7#9 Cm6", 1, "G Ab B Db Eb Eb F"),
    ];
    for (key, changes, at, wanted) in cases {
        let symbols: Vec<&str> = changes.split(' ').collect();
        let chord = analysed(&symbols, key.parse().ok(), &Habits::default()).swap_remove(at);
        let notes: Vec<String> = (1..=7)
            .map(|number| chord.scale_degree(number).unwrap().pitch.to_string())
            .collect();
        assert_eq!(notes.join(" "), wanted, "{}", chord.why);
    }
}

/// Each habit changes its own chord and no other.
#[test]
fn habits_choose_where_teachers_differ() {
    let of = |habits: Habits, changes: &str, key: &str, at: usize| {
        let symbols: Vec<&str> = changes.split(' ').collect();
        analysed(&symbols, key.parse().ok(), &habits)[at]
            .scale
            .unwrap()
            .name()
    };
    let plain = Habits::default;
    let two = Habits {
        flat_nine_to_two: true,
        ..plain()
    };
    let four = Habits {
        flat_nine_to_four: false,
        ..plain()
    };
    let chain = Habits {
        flat_nine_to_dominant: false,
        ..plain()
    };
    let rising = Habits {
        flat_two_rising: true,
        ..plain()
    };
    let six = Habits {
        natural_two_on_six: true,
        ..plain()
    };
    let minor_two = Habits {
        minor_two: MinorTwo::Natural,
        ..plain()
    };
    let passing = Habits {
        three_chord: ThreeChord::PassingTonic,
        ..plain()
    };
    let half = |flat_nine_after_half_diminished| Habits {
        flat_nine_after_half_diminished,
        ..plain()
    };
    let three = Habits {
        three_chord: ThreeChord::Aeolian,
        ..plain()
    };
    let tonic = Habits {
        minor_tonic: MinorTonic::NaturalSixth,
        ..plain()
    };
    let always = Habits {
        minor_tonic: MinorTonic::NaturalSixthAlways,
        ..plain()
    };
    let altered = Habits {
        dominant_to_minor: DominantToMinor::Altered,
        ..plain()
    };
    let cases = [
        (
            two,
            "A7 Dm7 G7 Cmaj7",
            "C major",
            0,
            "Mixolydian b6",
            "Phrygian dominant",
        ),
        (
            half(AfterHalfDiminished::Always),
            "Dm7b5 G7 Cmaj7",
            "C major",
            1,
            "Mixolydian",
            "Phrygian dominant",
        ),
        (
            half(AfterHalfDiminished::AwayFromHome),
            "Cmaj7 Em7b5 A7 Dmaj7 Dm7 G7",
            "C major",
            2,
            "Mixolydian b6",
            "Phrygian dominant",
        ),
        (
            four,
            "C7 Fm7 G7 Cm6",
            "C minor",
            0,
            "Phrygian dominant",
            "Mixolydian b6",
        ),
        (
            chain,
            "Cmaj7 E7 A7 D7 G7",
            "C major",
            1,
            "Phrygian dominant",
            "Mixolydian b6",
        ),
        (
            rising,
            "Cmaj7 C#dim7 Dm7 G7",
            "C major",
            1,
            "diminished whole-half",
            "altered bb7",
        ),
        (
            six,
            "Cm6 Am7b5 Dm7b5 G7",
            "C minor",
            1,
            "Locrian",
            "Locrian natural 2",
        ),
        (
            minor_two,
            "Cm6 Dm7 G7 Cm6",
            "C minor",
            1,
            "Phrygian",
            "Dorian",
        ),
        (
            passing,
            "Cmaj7 B7 Em7 Fmaj7 G7",
            "C major",
            2,
            "Phrygian",
            "Aeolian",
        ),
        (three, "Em7 Am7 Dm7 G7", "C major", 0, "Phrygian", "Aeolian"),
        (tonic, "Cm Fm7 G7", "C minor", 0, "Aeolian", "Dorian"),
        (always, "Cm7 Fm7 G7", "C minor", 0, "Aeolian", "Dorian"),
        (
            altered,
            "Dm7b5 G7 Cm6",
            "C minor",
            1,
            "Phrygian dominant",
            "altered",
        ),
    ];
    for (habits, changes, key, at, default, chosen) in cases {
        assert_eq!(of(plain(), changes, key, at), default, "{changes}");
        assert_eq!(of(habits, changes, key, at), chosen, "{changes}");
    }
}

/// A teacher's word wins, and silence stays silent.
#[test]
fn a_hint_wins_and_silence_stays() {
    let chord = |text: &str, hint| TimedChord {
        start: Tick(0),
        len: Tick(3840),
        harmony: text.parse().unwrap(),
        declared: "C major".parse().ok(),
        hint,
    };
    let chords = [
        chord("G7", Some(ScaleName::Altered)),
        chord("N.C.", None),
        chord("Cmaj7", None),
    ];
    let out = in_context(&chords, &Habits::default());
    assert_eq!(out[0].scale, Some(ScaleName::Altered));
    assert!(out[0].why.contains("hint"), "{}", out[0].why);
    assert_eq!(
        (out[1].key, out[1].scale, second_semitones(&out[1])),
        (None, None, None)
    );
    assert!(out[1].degrees.is_empty() && out[1].function.is_none());
    assert_eq!(out[2].function.as_deref(), Some("I"));
}
