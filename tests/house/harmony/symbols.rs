//! Chord symbols and scales against tables.

use super::reading::{fixture, list};
use serde_json::Value;
use std::collections::BTreeSet;
use underfoot::harmony::{ChordSymbol, Degree, Harmony, ScaleName, symbols_line};

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
