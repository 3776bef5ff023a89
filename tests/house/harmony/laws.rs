//! What holds of any chart and any text.

use super::reading::analysed;
use proptest::prelude::*;
use underfoot::harmony::{
    ChordInContext, ChordSymbol, Degree, Habits, Harmony, Key, KeyDeclaration, ScaleName,
};

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
                (key, chord.function, chord.scale, chord.certainty.map(|sure| (sure.margin_tenths, sure.degrees_tenths)))
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
