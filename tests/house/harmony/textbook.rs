//! Textbook progressions and what a teacher names over usual changes.

use super::reading::{analysed, fixture, list, second_semitones};
use serde_json::Value;
use underfoot::harmony::{Habits, Key, KeyDeclaration, Mode};

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
        "C minor | CmMaj7 Cm7 Cm(b6) G7sus4 | melodic minor, Aeolian, Aeolian, Phrygian",
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
