use super::*;
use crate::harmony::Pitch;
use crate::time::Tick;
use std::borrow::Cow;

/// Names with the octave, C4 = 60.
fn names(keys: &[u8]) -> String {
    let letters = [
        "C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B",
    ];
    let name = |key: &u8| format!("{}{}", letters[usize::from(key % 12)], key / 12 - 1);
    keys.iter().map(name).collect::<Vec<_>>().join(" ")
}

fn symbol(root: Pitch, degrees: &str) -> ChordSymbol {
    ChordSymbol {
        text: format!("{root}:{degrees}"),
        root,
        bass: root,
        degrees: degrees
            .split_whitespace()
            .map(|degree| degree.parse().unwrap())
            .collect(),
    }
}

fn chord(root: Pitch, degrees: &str, scale: &[u8], targets: &[u8]) -> SceneChord<'static> {
    SceneChord {
        start: Tick(0),
        end: Tick(3840),
        symbol: Some(Cow::Owned(symbol(root, degrees))),
        scale: scale.to_vec(),
        targets: targets.to_vec(),
    }
}

const ROOTS: [&str; 12] = [
    "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
];
const IONIAN: &[u8] = &[0, 2, 4, 5, 7, 9, 11];
const DORIAN: &[u8] = &[0, 2, 3, 5, 7, 9, 10];
const PHRYGIAN: &[u8] = &[0, 1, 3, 5, 7, 8, 10];
const MIXOLYDIAN: &[u8] = &[0, 2, 4, 5, 7, 9, 10];
const LOCRIAN: &[u8] = &[0, 1, 3, 5, 6, 8, 10];
const MELODIC_MINOR: &[u8] = &[0, 2, 3, 5, 7, 9, 11];
const PHRYGIAN_DOMINANT: &[u8] = &[0, 1, 4, 5, 7, 8, 10];
const ALTERED: &[u8] = &[0, 1, 3, 4, 6, 8, 10];
const LYDIAN_DOMINANT: &[u8] = &[0, 2, 4, 6, 7, 9, 10];
const HALF_WHOLE: &[u8] = &[0, 1, 3, 4, 6, 7, 9, 10];
const WHOLE_HALF: &[u8] = &[0, 2, 3, 5, 6, 8, 9, 11];
const WHOLE_TONE: &[u8] = &[0, 2, 4, 6, 8, 10];

/// Chord, its degrees, its scale, form A, form B.
type Row = (
    &'static str,
    &'static str,
    &'static [u8],
    [i32; 4],
    [i32; 4],
);

/// The table of voicings that accompanists use (common practice, no source).
#[rustfmt::skip]
const TABLE: [Row; 14] = [
    ("maj7",          "1 3 5 7",        IONIAN,            [4, 7, 11, 14], [11, 14, 16, 19]),
    ("6",             "1 3 5 6",        IONIAN,            [4, 7, 9, 14],  [9, 14, 16, 19]),
    ("m7",            "1 b3 5 b7",      DORIAN,            [3, 7, 10, 14], [10, 14, 15, 19]),
    ("m6",            "1 b3 5 6",       MELODIC_MINOR,     [3, 7, 9, 14],  [9, 14, 15, 19]),
    ("mMaj7",         "1 b3 5 7",       MELODIC_MINOR,     [3, 7, 11, 14], [11, 14, 15, 19]),
    ("7",             "1 3 5 b7",       MIXOLYDIAN,        [4, 9, 10, 14], [10, 14, 16, 21]),
    ("V7 in minor",   "1 3 5 b7",       PHRYGIAN_DOMINANT, [4, 8, 10, 13], [10, 13, 16, 20]),
    ("7b9",           "1 3 5 b7 b9",    HALF_WHOLE,        [4, 7, 10, 13], [10, 13, 16, 19]),
    ("altered",       "1 3 b7 b9 #9 b13", ALTERED,         [4, 8, 10, 15], [10, 13, 16, 20]),
    ("7#11",          "1 3 5 b7 9 #11", LYDIAN_DOMINANT,   [4, 9, 10, 14], [10, 14, 16, 18]),
    ("sus",           "1 4 5 b7",       MIXOLYDIAN,        [5, 7, 10, 14], [10, 14, 17, 19]),
    ("7#5",           "1 3 #5 b7",      WHOLE_TONE,        [4, 8, 10, 14], [10, 14, 16, 20]),
    ("half-dim.",     "1 b3 b5 b7",     LOCRIAN,           [3, 6, 10, 12], [10, 12, 15, 18]),
    ("dim7",          "1 b3 b5 bb7",    WHOLE_HALF,        [3, 6, 9, 12],  [9, 12, 15, 18]),
];

#[test]
fn the_table_of_voicings() {
    for (name, degrees, scale, a, b) in TABLE {
        let symbol = symbol("C".parse().unwrap(), degrees);
        let full: Vec<Vec<i32>> = forms(&symbol, scale)
            .into_iter()
            .filter(|(form, _)| form.len() == 4)
            .map(|(form, _)| form)
            .collect();
        assert_eq!(full, [a.to_vec(), b.to_vec()], "{name}");
    }
}

#[test]
fn every_chord_of_the_table_fits_the_range_on_all_roots() {
    for root in ROOTS {
        for (name, degrees, scale, ..) in TABLE {
            let chord = chord(root.parse().unwrap(), degrees, scale, &[]);
            let fit = voicings(&chord, Comping::Full, false);
            let four = fit.iter().filter(|voicing| voicing.keys.len() == 4);
            assert!(four.count() >= 1, "{root} {name}");
            for voicing in fit {
                let within = voicing.keys.iter().all(|key| (50..=70).contains(key));
                assert!(
                    within && voicing.keys.is_sorted(),
                    "{root} {name} {voicing:?}"
                );
            }
        }
    }
}

#[test]
fn any_other_chord_has_what_makes_it() {
    // Chord, its scale, the first four-note (or widest) voicing found from below: by ear, no source.
    let cases: [(&str, &str, &[u8], &str); 16] = [
        ("C", "1 3 5", IONIAN, "E3 G3 C4"),
        ("C", "1 b3 5", DORIAN, "Eb3 G3 C4"),
        ("C", "1 4 5", MIXOLYDIAN, "F3 G3 C4"),
        ("C", "1 2 5", MIXOLYDIAN, "D3 G3 C4"),
        ("C", "1 5", IONIAN, "G3 C4 G4"),
        ("C", "1 3 5 9", IONIAN, "D3 E3 G3 C4"),
        ("C", "1 3 5 6 9", IONIAN, "E3 G3 A3 D4"),
        ("E", "1 b3 5 b7", PHRYGIAN, "D3 E3 G3 B3"),
        ("C", "1 b3 5 b7 9 11", DORIAN, "Eb3 F3 Bb3 D4"),
        ("C", "1 3 5 b7 #9", ALTERED, "E3 Ab3 Bb3 Eb4"),
        ("C", "1 3 5 b7 b9", PHRYGIAN_DOMINANT, "E3 G3 Bb3 Db4"),
        ("C", "1 3 5 b7 b9", ALTERED, "E3 Ab3 Bb3 Db4"),
        ("C", "1 3 5 b7 b9 13", HALF_WHOLE, "E3 A3 Bb3 Db4"),
        ("C", "1 3 #5 7", &[0, 2, 4, 6, 8, 9, 11], "E3 Ab3 B3 D4"),
        (
            "C",
            "1 3 5 7 9 #11",
            &[0, 2, 4, 6, 7, 9, 11],
            "E3 Gb3 B3 D4",
        ),
        ("C", "1 b3 b5", LOCRIAN, "Eb3 Gb3 C4"),
    ];
    for (root, degrees, scale, want) in cases {
        let chord = chord(root.parse().unwrap(), degrees, scale, &[]);
        let mut fit = voicings(&chord, Comping::Full, false);
        fit.sort_by(|a, b| b.keys.len().cmp(&a.keys.len()).then(a.keys.cmp(&b.keys)));
        assert_eq!(names(&fit[0].keys), want, "{root} {degrees}");
    }
}

#[test]
fn guide_tones_alone_are_third_and_seventh() {
    let cases = [
        ("D", "1 b3 5 b7", DORIAN, "F3 C4"),
        ("G", "1 3 5 b7", MIXOLYDIAN, "F3 B3"),
        ("C", "1 b3 5 6", MELODIC_MINOR, "Eb3 A3"),
        ("G", "1 4 5 b7", MIXOLYDIAN, "F3 C4"),
        ("C", "1 3 5", IONIAN, "E3 G3 C4"),
    ];
    for (root, degrees, scale, lowest) in cases {
        let chord = chord(root.parse().unwrap(), degrees, scale, &[]);
        let mut fit = voicings(&chord, Comping::Full, true);
        fit.sort_by(|a, b| a.keys.cmp(&b.keys));
        assert_eq!(names(&fit[0].keys), lowest, "{root} {degrees}");
    }
}

#[test]
fn the_target_stays_inside_or_away() {
    for root in ROOTS {
        let root: Pitch = root.parse().unwrap();
        for (name, degrees, scale, ..) in TABLE {
            for target in 0..12u8 {
                let class = (root.class() + target) % 12;
                let chord = chord(root, degrees, scale, &[class]);
                for voicing in voicings(&chord, Comping::Inside, false) {
                    assert_ne!(
                        voicing.keys.last().map(|key| key % 12),
                        Some(class),
                        "{name}"
                    );
                }
                let without = voicings(&chord, Comping::WithoutTarget, false);
                assert!(!without.is_empty(), "{root} {name} {target}");
                for voicing in without {
                    assert!(voicing.keys.iter().all(|key| key % 12 != class), "{name}");
                }
            }
        }
    }
    let all = chord("C".parse().unwrap(), "1 3 5", IONIAN, &[0, 4, 7]);
    assert_eq!(voicings(&all, Comping::WithoutTarget, false), []);
    assert_eq!(voicings(&all, Comping::Off, false), []);
}

#[test]
fn the_flat_second_is_passed_through_and_never_held() {
    // iii in major and half-diminished: the root or what is natural stands in its place.
    for root in ROOTS {
        let root: Pitch = root.parse().unwrap();
        for (degrees, scale) in [("1 b3 5 b7", PHRYGIAN), ("1 b3 b5 b7", LOCRIAN)] {
            for voicing in voicings(&chord(root, degrees, scale, &[]), Comping::Full, false) {
                let flat_second = (root.class() + 1) % 12;
                assert!(voicing.keys.iter().all(|key| key % 12 != flat_second));
            }
        }
    }
}
