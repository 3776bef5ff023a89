//! Lead sheets of other programs through the public API: what is found in them, how they are played, what is
//! told of them. Their symbols are in `score_symbols.rs`, what is refused in `lead_sheet_limits.rs`.
//!
//! `tests/fixtures/leadsheets/README.md` names the sources. The ten lead sheets were read by an independent
//! reader, music21 10.5.1; its findings are in `music21.json`, and what an import must find in `leadsheets.json`.
// These tests read their fixtures.

use serde_json::Value;
use std::path::{Path, PathBuf};
use underfoot::chart::{Chart, ChartBar, Form, Section};
use underfoot::fault::Source;
use underfoot::harmony::{Harmony, KeyDeclaration};
use underfoot::sheet::to_musicxml;
use underfoot::sheet::{Imported, from_midi, from_musicxml};
use underfoot::time::Tick;

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/leadsheets")
}

fn import(name: &str) -> Imported {
    let bytes = std::fs::read(fixtures().join(name)).unwrap();
    let read = if bytes.starts_with(b"MThd") {
        from_midi
    } else {
        from_musicxml
    };
    read(&bytes, "untitled").unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn json(name: &str) -> Value {
    serde_json::from_slice(&std::fs::read(fixtures().join(name)).unwrap()).unwrap()
}

fn again(chart: &Chart) -> Chart {
    let text = chart.to_toml();
    let source = Source {
        name: "again.toml",
        text: &text,
    };
    Chart::read(&source).unwrap_or_else(|faults| panic!("{faults}\n{text}"))
}

/// The bars as the file has them: the pickup, then each section with its endings by pass.
fn written_bars(chart: &Chart) -> Vec<&ChartBar> {
    let mut bars: Vec<&ChartBar> = chart.pickup.iter().collect();
    for section in chart.sections.iter() {
        bars.extend(&section.bars);
        let mut endings: Vec<_> = section.endings.iter().collect();
        endings.sort_by_key(|ending| ending.pass);
        bars.extend(endings.iter().flat_map(|ending| &ending.bars));
    }
    bars
}

/// A chord as `root kind/bass` in the words of MusicXML, by its tones.
fn described(harmony: &Harmony) -> Option<(String, String)> {
    match harmony {
        Harmony::Silence => None,
        Harmony::Chord(chord) => Some((chord.root.to_string(), chord.bass.to_string())),
    }
}

#[test]
fn the_ten_lead_sheets_are_found_as_an_independent_reader_finds_them() {
    let expected = json("leadsheets.json");
    let found = json("music21.json");
    for sheet in expected.as_array().unwrap() {
        let name = sheet["tune"].as_str().unwrap();
        let imported = import(&format!("{name}.mxl"));
        let chart = &imported.chart;
        let theirs = &found[name];
        let count = |key: &str| sheet[key].as_u64().unwrap() as usize;
        // A pickup without a chord is in the melody alone.
        let melody_pickup = chart.pickup.is_none()
            && chart
                .melody
                .as_ref()
                .is_some_and(|one| !one.pickup.is_empty());
        let first = usize::from(melody_pickup);
        let bars = written_bars(chart);
        assert_eq!(bars.len() + first, count("measures"), "{name}: bars");
        assert_eq!(theirs["measures"], sheet["measures"], "{name}");
        // The key and the meter at the start.
        let fifths = sheet["fifths"].as_i64();
        assert_eq!(
            chart.key.map(|key| i64::from(key.fifths())),
            fifths,
            "{name}: key"
        );
        if let Some(time) = sheet["time"][0][1].as_str() {
            assert_eq!(chart.meter.to_string(), time, "{name}: time");
        }
        // Every chord in its bar, in order, at its place; those that stand at one place share the time.
        let mut ours: Vec<(usize, f64, &Harmony)> = Vec::new();
        for (index, bar) in bars.iter().enumerate() {
            for cell in &bar.cells {
                if let Some(harmony) = &cell.harmony {
                    ours.push((index + first, cell.at.quarters(), harmony));
                }
            }
        }
        let silences = sheet["expected"]["nc"].as_array().unwrap();
        // Before the first chord there is silence too.
        let opening = &theirs["chords"][0];
        let opens = opening[0].as_u64() == Some(0) && opening[1].as_f64() == Some(0.0);
        let leading = !opens && ours.first().is_some_and(|one| *one.2 == Harmony::Silence);
        let silent: Vec<(usize, f64)> = ours
            .iter()
            .skip(usize::from(leading))
            .filter(|one| *one.2 == Harmony::Silence)
            .map(|one| (one.0, one.1))
            .collect();
        let wanted: Vec<(usize, f64)> = silences
            .iter()
            .map(|one| {
                (
                    one[0].as_u64().unwrap() as usize,
                    one[1][0].as_f64().unwrap(),
                )
            })
            .collect();
        assert_eq!(silent, wanted, "{name}: N.C.");
        let chords: Vec<_> = ours
            .iter()
            .filter_map(|one| Some((one.0, one.1, described(one.2)?)))
            .collect();
        assert_eq!(chords.len(), count("chords"), "{name}: chords");
        let mut before = (usize::MAX, -1.0);
        for (chord, other) in chords.iter().zip(theirs["chords"].as_array().unwrap()) {
            let place = (
                other[0].as_u64().unwrap() as usize,
                other[1].as_f64().unwrap(),
            );
            assert_eq!(chord.0, place.0, "{name}: {chord:?} {other}");
            if place != before {
                assert!(
                    (chord.1 - place.1).abs() < 0.001,
                    "{name}: {chord:?} {other}"
                );
            } else {
                assert!(chord.1 > place.1, "{name}: {chord:?} {other}");
            }
            before = place;
            assert_eq!(chord.2.0, other[2].as_str().unwrap(), "{name}: {chord:?}");
            assert_eq!(chord.2.1, other[4].as_str().unwrap(), "{name}: {chord:?}");
        }
        // Slash basses and altered tones, counted.
        let slashes = chords.iter().filter(|one| one.2.0 != one.2.1).count() as u64;
        assert_eq!(
            Some(slashes),
            sheet["expected"]["slash_chords"].as_u64(),
            "{name}: slash chords"
        );
        assert_eq!(again(chart), *chart, "{name}");
    }
}

/// The kinds of music21 as the third, fifth and seventh over the root, where they name them.
const KINDS: [(&str, &str); 15] = [
    ("major", "3 5"),
    ("minor", "b3 5"),
    ("augmented", "3 #5"),
    ("diminished", "b3 b5"),
    ("dominant-seventh", "3 5 b7"),
    ("major-seventh", "3 5 7"),
    ("minor-seventh", "b3 5 b7"),
    ("half-diminished-seventh", "b3 b5 b7"),
    ("diminished-seventh", "b3 b5 bb7"),
    ("augmented-seventh", "3 #5 b7"),
    ("major-sixth", "3 5 6"),
    ("minor-sixth", "b3 5 6"),
    ("minor-major-seventh", "b3 5 7"),
    ("dominant-ninth", "3 5 b7 9"),
    ("minor-ninth", "b3 5 b7 9"),
];

#[test]
fn the_kinds_of_the_ten_lead_sheets_have_their_tones() {
    let found = json("music21.json");
    let (mut told, mut altered) = (0, 0);
    for sheet in json("leadsheets.json").as_array().unwrap() {
        let name = sheet["tune"].as_str().unwrap();
        let imported = import(&format!("{name}.mxl"));
        let bars = written_bars(&imported.chart);
        let cells = bars.iter().flat_map(|bar| &bar.cells);
        let chords = cells.filter_map(|cell| match &cell.harmony {
            Some(Harmony::Chord(chord)) => Some(chord),
            _ => None,
        });
        for (chord, other) in chords.zip(found[name]["chords"].as_array().unwrap()) {
            let kind = other[3].as_str().unwrap();
            let Some((_, tones)) = KINDS.iter().find(|(known, _)| *known == kind) else {
                continue;
            };
            told += 1;
            let ours: Vec<String> = chord.degrees[1..]
                .iter()
                .map(|one| one.to_string())
                .collect();
            // A chord with altered degrees differs from its kind, which is what music21 names.
            if ours.join(" ") != *tones {
                let text = &chord.text;
                assert!(
                    text.contains('b') || text.contains('#'),
                    "{name}: {text} {kind}"
                );
                altered += 1;
            }
        }
    }
    assert!(told > 700, "{told}");
    // The 18 degrees of the ten files, four of them the seventh of a suspended chord.
    assert_eq!(altered, 14);
}

/// The form as names, and each section with its endings.
fn shape(chart: &Chart) -> String {
    let names: Vec<&str> = chart
        .form
        .iter()
        .map(|index| chart.sections[*index].name.as_str())
        .collect();
    let section = |section: &Section| {
        let endings: Vec<String> = section
            .endings
            .iter()
            .map(|ending| format!(" +{}:{}", ending.pass, ending.bars.len()))
            .collect();
        format!(
            "{}={}{}",
            section.name,
            section.bars.len(),
            endings.concat()
        )
    };
    let sections: Vec<String> = chart.sections.iter().map(section).collect();
    format!("{} | {}", names.join(" "), sections.join(", "))
}

/// The chords as they are played, `bar:beat symbol` where they start.
fn played(chart: &Chart) -> String {
    let form = Form::unroll(chart);
    let chords = form.chords.iter().map(|chord| {
        let beat = chord.beat;
        format!("{}:{beat} {}", chord.form_bar + 1, chord.timed.harmony)
    });
    chords.collect::<Vec<_>>().join(", ")
}

#[test]
fn repeats_and_endings_of_the_ten_are_sections_and_endings() {
    // Read off the files by hand: repeat and ending signs, D.C. al Fine, D.S. al Coda.
    let cases = [
        ("178213326b27", "A B B C | A=19, B=36, C=2"),
        ("2b882d982675", "A B | A=8, B=160"),
        ("51363ae4bda7", "A B C B C B C | A=2, B=8, C=7 +3:1 +1:1"),
        ("759196e678e7", "A A B B A | A=15 +2:1 +1:1, B=15 +1:1 +2:1"),
        ("b8139fd6726a", "A B B C | A=7, B=63, C=1"),
        ("828bd02aeca6", "A B C B Coda | A=1, B=8, C=26, Coda=4"),
        (
            "b574adc68cfe",
            "A B B C D D E | A=4, B=4 +1:4 +2:1, C=19, D=4 +1:4 +2:1, E=2",
        ),
        ("c45730fc485c", "A B B C | A=1, B=30 +1:2 +2:1, C=1"),
        ("d28dd828873c", "A B C D | A=8, B=8, C=8, D=8"),
        ("d3098d2cbf02", "A B B | A=1, B=24 +1:2 +2:2"),
    ];
    for (name, wanted) in cases {
        assert_eq!(
            shape(&import(&format!("{name}.mxl")).chart),
            wanted,
            "{name}"
        );
    }
}

#[test]
fn our_own_sheets_are_played_as_they_are_written() {
    // name, shape, what is played: MusicXML 4.0 and Standard MIDI Files 1.0, worked out by hand
    let cases = [
        (
            "own/da-capo.musicxml",
            "A B B C D A B C | A=2, B=1, C=1, D=2",
            "1:1 Cmaj7, 2:1 Am7, 3:1 Dm7, 4:1 Dm7, 5:1 G7, 6:1 Em7b5, 6:3 A7b9, 7:1 D7, 8:1 Cmaj7, 9:1 Am7, \
             10:1 Dm7, 11:1 G7",
        ),
        (
            "own/dal-segno.musicxml",
            "A B C B Coda | A=1, B=2, C=2, Coda=2",
            "1:1 Bb, 2:1 Cm7, 3:1 F7, 4:1 Bbmaj7, 5:1 G7, 6:1 Cm7, 7:1 F7, 8:1 Ebmaj7, 9:1 Bb6",
        ),
        (
            "own/nested-endings.musicxml",
            "A B B C A B B C | A=1, B=1 +1:1 +3:1 +2:1, C=1 +1:1 +2:1",
            "1:1 G, 2:1 C, 3:1 D7, 4:1 C, 5:1 D9, 6:1 E, 7:1 Am, 8:1 G, 9:1 C, 10:1 D7, 11:1 C, 12:1 D9, 13:1 E, \
             14:1 G",
        ),
        (
            "own/key-and-meter.musicxml",
            "A B | A=2, B=3",
            "1:1 C6, 2:1 G7, 3:1 Amaj7, 4:1 F#m7, 4:3 Bm7, 5:1 Dm7, 5:4 G13",
        ),
        (
            "own/twelve-eight.musicxml",
            "A | A=4",
            "1:1 F, 1:7 F7, 2:1 Bb9, 2:10 Bdim7, 3:1 F, 3:2 Dm7, 4:1 F/A",
        ),
        (
            "own/transposing.musicxml",
            "A | A=4",
            "1:1 Cmaj7, 2:1 Am7, 3:1 Dm7/G, 4:1 G7b9",
        ),
        (
            "own/markers.mid",
            "A | A=5",
            "1:1 Gm6, 2:1 Am7b5, 2:3 D7b9, 3:1 Gm6, 4:1 Cm7, 4:3 F7, 5:1 Bbmaj7",
        ),
        (
            "own/texts.mid",
            "Verse Refrain | Verse=2, Refrain=1",
            "1:1 Gmaj7, 2:1 Cdim7, 3:1 Em7, 3:2.5 A7",
        ),
    ];
    for (name, wanted, chords) in cases {
        let chart = import(name).chart;
        assert_eq!(shape(&chart), wanted, "{name}");
        assert_eq!(played(&chart), chords, "{name}");
        assert_eq!(again(&chart), chart, "{name}");
    }
}

#[test]
fn keys_meters_and_pickups_hold_where_they_stand() {
    let chart = import("own/key-and-meter.musicxml").chart;
    let form = Form::unroll(&chart);
    let bars: Vec<String> = form
        .bars
        .iter()
        .map(|bar| {
            let key = bar.key.map(|key: KeyDeclaration| key.to_string());
            format!("{} {}", key.unwrap_or_default(), bar.meter)
        })
        .collect();
    let wanted = [
        "C major 4/4",
        "C major 4/4",
        "A major 3/4",
        "A major 3/4",
        "C major 5/4",
    ];
    assert_eq!(bars, wanted);

    let chart = import("own/twelve-eight.musicxml").chart;
    assert_eq!(chart.meter.to_string(), "12/8");
    let (_, pickup) = Form::unroll(&chart).pickup.unwrap();
    assert_eq!(pickup[0].timed.start, Tick::from_quarters(-1.5));
    assert_eq!(pickup[0].timed.harmony.to_string(), "C7");

    // A part in B flat: its signature of two sharps sounds as none, its notes a tone lower.
    let chart = import("own/transposing.musicxml").chart;
    assert_eq!(chart.key.unwrap().to_string(), "C major");
    let form = Form::unroll(&chart);
    let melody = chart.melody.as_ref().unwrap().play(&chart, &form);
    let keys: Vec<u8> = melody.iter().map(|note| note.midi).collect();
    assert_eq!(keys, [64, 72, 65, 68, 67]);
}

#[test]
fn melodies_stand_beside_their_chords() {
    let chart = import("own/twelve-eight.musicxml").chart;
    let form = Form::unroll(&chart);
    let melody = chart.melody.as_ref().unwrap().play(&chart, &form);
    let notes: Vec<(f64, f64, u8)> = melody
        .iter()
        .map(|note| (note.start.quarters(), note.len.quarters(), note.midi))
        .collect();
    let wanted = [
        (-1.5, 1.5, 60),
        (0.0, 3.0, 69),
        (3.0, 3.0, 72),
        (6.0, 4.5, 74),
        (10.5, 1.5, 74),
        (12.0, 6.0, 72),
        (18.0, 4.5, 65),
    ];
    assert_eq!(notes, wanted);
    // The ten files' notes: as many as an XML reader counts in the first voice, ties joined, repeats played.
    for name in ["d28dd828873c", "828bd02aeca6"] {
        let chart = import(&format!("{name}.mxl")).chart;
        let form = Form::unroll(&chart);
        let melody = chart.melody.as_ref().unwrap().play(&chart, &form);
        assert!(melody.len() > 60, "{name}: {}", melody.len());
        let ends = melody
            .windows(2)
            .all(|two| two[0].start + two[0].len <= two[1].start);
        assert!(ends, "{name}");
    }
}

#[test]
fn what_cannot_be_taken_over_is_told_with_its_bar() {
    let score = |bars: &str| {
        format!("<score-partwise><part-list/><part id=\"P1\">{bars}</part></score-partwise>")
    };
    let head = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
    let bar = |inside: &str| {
        score(&format!(
            "<measure number=\"7\">{head}<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>{inside}<note><rest/><duration>4</duration></note></measure>"
        ))
    };
    let chord = |inside: &str| {
        format!(
            "<forward><duration>2</duration></forward><harmony>{inside}</harmony><backup><duration>2</duration></backup>"
        )
    };
    let cases = [
        (
            bar(&chord("<function>V</function><kind>major</kind>")),
            "bar 7: a chord by function has no root",
        ),
        (
            bar(&chord(
                "<root><root-step>D</root-step></root><kind>minorish</kind>",
            )),
            "bar 7: \"minorish\" is no kind of chord: read as \"m\"",
        ),
        (
            bar(&chord(
                "<root><root-step>A</root-step></root><kind>German</kind>",
            )),
            "bar 7: the kind \"German\" has no chord symbol",
        ),
        (
            bar(&chord(
                "<root><root-step></root-step></root><kind>major</kind>",
            )),
            "bar 7: \"\" is no root",
        ),
        (
            bar(&chord(
                "<root><root-step>D</root-step></root><kind>minor</kind><root><root-step>G</root-step></root><kind>major</kind>",
            )),
            "bar 7: 2 chords stand one upon the other",
        ),
        (
            bar(
                "<harmony type=\"alternate\"><root><root-step>D</root-step></root><kind>minor</kind></harmony>",
            ),
            "bar 7: an alternate chord is left out",
        ),
        (
            bar("<direction><direction-type><words>D.S.</words></direction-type></direction>"),
            "bar 7: dal segno, but there is no segno",
        ),
        (
            bar("<sound tempo=\"90\"/><sound tempo=\"140\"/>"),
            "bar 7: the tempo changes to 140",
        ),
        (
            bar("<note><grace/><pitch><step>C</step><octave>4</octave></pitch></note>"),
            "bar 7: grace notes",
        ),
    ];
    for (score, wanted) in cases {
        let told = from_musicxml(score.as_bytes(), "t")
            .unwrap_or_else(|error| panic!("{wanted}: {error}"));
        let found = told
            .warnings
            .iter()
            .any(|one| one.to_string().starts_with(wanted));
        assert!(found, "{wanted}: {:?}", told.warnings);
    }
}

#[test]
fn charts_go_out_and_come_back_at_the_same_places() {
    for name in [
        "own/da-capo.musicxml",
        "own/key-and-meter.musicxml",
        "own/twelve-eight.musicxml",
        "own/texts.mid",
    ] {
        let chart = import(name).chart;
        let back = from_musicxml(to_musicxml(&chart).as_bytes(), "t").unwrap();
        assert_eq!(played(&back.chart), played(&chart), "{name}");
        assert_eq!(back.warnings, [], "{name}");
    }
}
