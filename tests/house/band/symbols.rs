//! Every chord symbol of the fixtures, comped without a scale to go by.
//!
//! Symbols and degrees: `tests/fixtures/harmony/chord_symbols.json` (see its README for sources and licence).

use super::strokes;
use super::tunes::{Setting, Tune};
use std::collections::BTreeSet;
use underfoot::band::keys;
use underfoot::chart::{Lap, LapBar, LapChord};
use underfoot::harmony::{ChordInContext, ChordSymbol, Degree, Harmony, Pitch};
use underfoot::time::{Meter, Tick};

#[derive(serde::Deserialize)]
struct Row {
    symbol: String,
    /// `None`: no chord.
    root: Option<String>,
    degrees: String,
}

fn one_bar(symbol: ChordSymbol) -> Tune {
    let len = Meter::COMMON.bar_ticks();
    let context = ChordInContext {
        start: Tick(0),
        len,
        harmony: Harmony::Chord(symbol),
        key: None,
        function: None,
        scale: None,
        degrees: Vec::new(),
        why: String::new(),
        rule: None,
        by_key: None,
        certainty: None,
    };
    Tune {
        lap: Lap {
            bars: vec![LapBar {
                form_bar: 0,
                start: Tick(0),
                meter: Meter::COMMON,
            }],
            chords: vec![LapChord {
                form_chord: 0,
                start: Tick(0),
                len,
                bar: 0,
            }],
            len,
        },
        contexts: vec![context],
    }
}

/// What the voicing has to have, and what would contradict the symbol, in semitones over the root.
fn must_and_must_not(degrees: &[Degree]) -> (Vec<u8>, Vec<u8>) {
    let class = |degree: &Degree| degree.semitones().rem_euclid(12) as u8;
    let has = |number: u8, alter: i8| degrees.contains(&Degree::new(number, alter));
    let first = |numbers: &[u8]| {
        numbers.iter().find_map(|number| {
            let named = degrees.iter().find(|degree| degree.number == *number);
            named.map(class)
        })
    };
    let third = first(&[3]).or_else(|| first(&[4, 11]));
    // A triad with a thirteenth and no seventh is a sixth chord.
    let seventh = third.and_then(|_| first(&[7]).or_else(|| first(&[6, 13])));
    let mut not = Vec::new();
    if (has(9, -1) || has(9, 1)) && !has(9, 0) {
        not.push(2);
    }
    if (has(5, -1) || has(5, 1)) && !has(5, 0) {
        not.push(7);
    }
    if (has(13, -1) || has(5, 1)) && !has(13, 0) && !has(6, 0) {
        not.push(9);
    }
    if has(7, 0) {
        not.push(10);
    }
    not.retain(|class| {
        degrees
            .iter()
            .all(|degree| degree.semitones().rem_euclid(12) != i32::from(*class))
    });
    (third.into_iter().chain(seventh).collect(), not)
}

#[test]
fn every_symbol_is_comped_with_what_makes_it_and_nothing_against_it() {
    let rows: Vec<Row> =
        serde_json::from_str(include_str!("../../fixtures/harmony/chord_symbols.json")).unwrap();
    assert!(rows.len() > 500);
    let mut faults = Vec::new();
    for row in rows {
        let Some(root) = row.root else { continue };
        let degrees: Vec<Degree> = row
            .degrees
            .split_whitespace()
            .map(|degree| degree.parse().unwrap())
            .collect();
        let root: Pitch = root.parse().unwrap();
        let (must, must_not) = must_and_must_not(&degrees);
        let tune = one_bar(ChordSymbol {
            text: row.symbol.clone(),
            root,
            bass: root,
            degrees,
        });
        let strokes = strokes(&tune.play(&Setting {
            learning: true,
            ..Setting::default()
        }));
        let struck = &strokes
            .first()
            .unwrap_or_else(|| panic!("{}", row.symbol))
            .1;
        let sounding: BTreeSet<u8> = struck
            .iter()
            .map(|key| (key + 12 - root.class()) % 12)
            .collect();
        let range = keys::LOWEST_COMPING..=keys::HIGHEST_COMPING;
        assert!(
            struck.iter().all(|key| range.contains(key)),
            "{}",
            row.symbol
        );
        for class in must {
            if !sounding.contains(&class) {
                faults.push(format!("{} lacks {class}: {sounding:?}", row.symbol));
            }
        }
        for class in must_not {
            if sounding.contains(&class) {
                faults.push(format!("{} has {class}: {sounding:?}", row.symbol));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
