//! Lead sheets in, out and in again: the same chart.
//!
//! `tests/fixtures/leadsheets/hard` is invented for this project: pickups, ties, tuplets, repeats with endings, D.C. and D.S.
//! with codas, changes of key and meter, chords in every form that MusicXML 4.0 has for them. The others are those of
//! `lead_sheets.rs`.
// These tests read their fixtures.

use std::path::{Path, PathBuf};
use underfoot::chart::{Chart, Form};
use underfoot::sheet::{from_musicxml, to_musicxml};

fn sheets(folder: &str) -> Vec<PathBuf> {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fixtures/leadsheets")
        .join(folder);
    let files = std::fs::read_dir(&dir)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let is_score = |path: &PathBuf| {
        path.extension()
            .is_some_and(|end| end == "mxl" || end == "musicxml")
    };
    let mut files: Vec<PathBuf> = files.filter(is_score).collect();
    files.sort();
    files
}

fn import(path: &Path) -> Chart {
    let bytes = std::fs::read(path).unwrap();
    let read = from_musicxml(&bytes, "untitled");
    read.unwrap_or_else(|error| panic!("{}: {error}", path.display()))
        .chart
}

/// How two charts differ, in few words; none where they do not.
fn difference(one: &Chart, other: &Chart) -> Option<String> {
    if one == other {
        return None;
    }
    let (first, second) = (one.to_toml(), other.to_toml());
    let lines = first.lines().zip(second.lines());
    let differs = lines.filter(|(one, other)| one != other).take(3);
    Some(
        differs
            .map(|(one, other)| format!("\n    - {one}\n    + {other}"))
            .collect(),
    )
}

fn round_trip(folder: &str, count: usize) {
    let files = sheets(folder);
    assert_eq!(files.len(), count, "{folder}");
    let mut wrong = Vec::new();
    for path in files {
        let chart = import(&path);
        let score = to_musicxml(&chart);
        let back = from_musicxml(score.as_bytes(), "untitled")
            .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if let Some(how) = difference(&chart, &back.chart) {
            wrong.push(format!("{name}: {how}"));
        }
        if !back.warnings.is_empty() {
            wrong.push(format!("{name}: {:?}", back.warnings));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {count}:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[test]
fn ten_hard_lead_sheets_come_back_as_they_were() {
    round_trip("hard", 10);
}

#[test]
fn ten_public_domain_lead_sheets_come_back_as_they_were() {
    round_trip("", 10);
}

#[test]
fn our_own_lead_sheets_come_back_as_they_were() {
    round_trip("own", 6);
}

#[test]
fn the_chords_of_an_open_test_suite_are_read_and_come_back() {
    // The LilyPond project's MusicXML test suite: what its comments and lyrics say each chord is.
    #[rustfmt::skip]
    let cases = [
        ("46g-PickupMeasure-Chordnames-FiguredBass", "C", 0),
        ("71a-Chordnames", "C Cmaj7#11 B7#5#9 Eb(add9) Gm D#maj7 Adim7 Aaug", 0),
        ("71c-ChordsFrets", "C Cmaj7#11 B7#5#9 Eb(add9) Gm D#maj7 Adim7 C", 0),
        ("71d-ChordsFrets-Multistaff", "C D7 Ebm9 Cm7(add11)", 0),
        // Every kind of the schema; five have no symbol of their own, and no symbol leaves out the root.
        ("71f-AllChordTypes", "C Cm Caug Cdim C7 Cmaj7 Cm7 Cdim7 C7#5 Cm7b5 CmMaj7 C6 Cm6 C9 Cmaj9 Cm9 C11 Cmaj11 Cm11 C13 \
          Cmaj13 Cm13 Csus2 Csus4 C C7(no5) C7b5 C7 C(no3)(no5) C5 Cm7b5 C(no3)(no5) F#/C# Fbb/C G#/D# C C(b5)(no3) C(addb6)", 7),
        ("71g-MultipleChordnames", "C F#m6 Dm7 G7", 2),
    ];
    for (name, wanted, warnings) in cases {
        let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/leadsheets/suite");
        let bytes = std::fs::read(dir.join(format!("{name}.musicxml"))).unwrap();
        let imported = from_musicxml(&bytes, "untitled").unwrap();
        let form = Form::unroll(&imported.chart);
        let chords: Vec<String> = form
            .chords
            .iter()
            .map(|one| one.timed.harmony.to_string())
            .collect();
        assert_eq!(chords.join(" "), wanted, "{name}");
        assert_eq!(imported.warnings.len(), warnings, "{name}");
    }
    round_trip("suite", 6);
}

/// The form by names, the bars of each section with its endings, and how many notes are sung.
fn shape(chart: &Chart) -> String {
    let names = chart
        .form
        .iter()
        .map(|index| chart.sections[*index].name.as_str());
    let names: Vec<&str> = names.collect();
    let sections = chart.sections.iter().map(|section| {
        let endings = section
            .endings
            .iter()
            .map(|ending| format!("+{}:{}", ending.pass, ending.bars.len()));
        format!(
            "{}{}{}",
            section.name,
            section.bars.len(),
            endings.collect::<String>()
        )
    });
    let sections: Vec<String> = sections.collect();
    let form = Form::unroll(chart);
    let sung = chart
        .melody
        .as_ref()
        .map_or(0, |melody| melody.play(chart, &form).len());
    format!("{} | {} | {sung}", names.join(" "), sections.join(" "))
}

#[test]
fn the_hard_ones_are_what_their_signs_say() {
    // Read off the sheets by hand; the notes as they sound, ties joined, repeats played.
    let cases = HARD;
    for (name, wanted) in cases {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("tests/fixtures/leadsheets/hard")
            .join(name);
        assert_eq!(shape(&import(&path)), wanted, "{name}");
    }
}

const HARD: [(&str, &str); 10] = [
    ("01-pickup-triplets.musicxml", "A A | A4 | 21"),
    ("02-two-endings.musicxml", "A A B A | A2+1:1+2:1 B2 | 12"),
    ("03-three-passes.musicxml", "A A A | A1+3:1+1:1 | 9"),
    ("04-da-capo-fine.musicxml", "A B B A | A2 B2 | 16"),
    (
        "05-dal-segno-coda.musicxml",
        "A B C B Coda | A1 B1 C1 Coda1 | 11",
    ),
    ("06-keys.musicxml", "A B C | A2 B1 C1 | 8"),
    ("07-meters.musicxml", "A | A5 | 12"),
    ("08-harmonies.musicxml", "A | A6 | 0"),
    ("09-nested.musicxml", "A B B C A B B C | A1 B1 C1 | 16"),
    ("10-long-ties.musicxml", "A A B | A2 B2 | 13"),
];
