//! Chord symbols in scores: every kind of the schema, elements in any order, and what goes out and comes back.
// The table of symbols is a fixture.

use serde_json::Value;
use std::path::Path;
use underfoot::chart::{Chart, Form, written_lines};
use underfoot::fault::Source;
use underfoot::harmony::Harmony;
use underfoot::sheet::from_musicxml;
use underfoot::sheet::to_musicxml;

#[test]
fn every_kind_of_the_schema_is_read() {
    // The 33 values of kind-value in musicxml.xsd 4.0 with the chord that each describes; the thirteenths as players
    // mean them, without the eleventh; the last ones have no symbol of their own.
    let cases = [
        ("major", "C"),
        ("minor", "Cm"),
        ("augmented", "Caug"),
        ("diminished", "Cdim"),
        ("dominant", "C7"),
        ("major-seventh", "Cmaj7"),
        ("minor-seventh", "Cm7"),
        ("diminished-seventh", "Cdim7"),
        ("augmented-seventh", "C7#5"),
        ("half-diminished", "Cm7b5"),
        ("major-minor", "CmMaj7"),
        ("major-sixth", "C6"),
        ("minor-sixth", "Cm6"),
        ("dominant-ninth", "C9"),
        ("major-ninth", "Cmaj9"),
        ("minor-ninth", "Cm9"),
        ("dominant-11th", "C11"),
        ("major-11th", "Cmaj11"),
        ("minor-11th", "Cm11"),
        ("dominant-13th", "C13"),
        ("major-13th", "Cmaj13"),
        ("minor-13th", "Cm13"),
        ("suspended-second", "Csus2"),
        ("suspended-fourth", "Csus4"),
        ("pedal", "C(no3)(no5)"),
        ("power", "C5"),
        ("other", "C(no3)(no5)"),
        ("Neapolitan", "C"),
        ("Italian", "C7(no5)"),
        ("French", "C7b5"),
        ("German", "C7"),
        ("Tristan", "Cm7b5"),
        ("none", "N.C."),
    ];
    assert_eq!(cases.len(), 33);
    for (index, (kind, wanted)) in cases.into_iter().enumerate() {
        let chord = |kind: &str| {
            format!("<harmony><root><root-step>C</root-step></root><kind>{kind}</kind></harmony>")
        };
        let text = format!(
            "<score-partwise><part id=\"P1\"><measure number=\"1\"><attributes><divisions>1</divisions><time><beats>4\
             </beats><beat-type>4</beat-type></time></attributes>{}<note><rest/><duration>4</duration></note></measure>\
             </part></score-partwise>",
            chord(kind)
        );
        let imported = from_musicxml(text.as_bytes(), "t").unwrap();
        let cells = &imported.chart.sections[0].bars[0].cells;
        let read = cells[0].harmony.clone().unwrap().to_string();
        assert_eq!(read, wanted, "{kind}");
        // Those without a symbol are told.
        assert_eq!(
            !imported.warnings.is_empty(),
            (27..32).contains(&index),
            "{kind}"
        );
    }
}

#[test]
fn chords_are_read_whatever_the_order_of_their_elements() {
    let symbol = |inside: &str| {
        let text = format!(
            "<score-partwise><part id=\"P1\"><measure number=\"1\"><attributes><divisions>1</divisions><key><fifths>-3\
             </fifths><mode>minor</mode></key></attributes><harmony>{inside}</harmony><note><rest/><duration>4\
             </duration></note></measure></part></score-partwise>"
        );
        let imported = from_musicxml(text.as_bytes(), "t").unwrap();
        imported.chart.sections[0].bars[0].cells[0]
            .harmony
            .clone()
            .unwrap()
            .to_string()
    };
    let root = "<root><root-step> B </root-step><root-alter>-1</root-alter></root>";
    let degree = |value: u8, alter: i8, action: &str| {
        format!(
            "<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter><degree-type>{action}</degree-type></degree>"
        )
    };
    // MusicXML 4.0: kind and degree; the alteration of an added seventh counts from the minor one.
    let cases = [
        (format!("<bass><bass-step>D</bass-step></bass><kind> dominant </kind>{root}"), "Bb7/D"),
        (format!("{}<kind>dominant</kind>{root}", degree(9, -1, "add")), "Bb7b9"),
        (format!("{root}<kind>suspended-fourth</kind>{}", degree(7, 0, "add")), "Bb7sus4"),
        (format!("{root}<kind>major</kind>{}", degree(7, 1, "add")), "Bbmaj7"),
        (format!("{root}<kind>minor-seventh</kind>{}", degree(5, -1, "alter")), "Bbm7b5"),
        (format!("{root}<kind>major</kind>{}", degree(9, 0, "add")), "Bb(add9)"),
        (format!("{root}<kind>dominant</kind>{}", degree(5, 0, "subtract")), "Bb7(no5)"),
        (format!("{root}<kind>dominant-13th</kind>"), "Bb13"),
        (format!("{root}<kind>dominant-13th</kind>{}", degree(11, 1, "alter")), "Bb13#11"),
        (format!("{root}<kind>other</kind>{}{}", degree(3, 0, "add"), degree(5, 0, "add")), "Bb"),
        (format!("{root}<kind text=\"7#9\">min7</kind>"), "Bb7#9"),
        (format!("{root}<kind>major</kind><inversion>1</inversion>"), "Bb/D"),
        (format!("{root}<kind>dominant</kind><inversion>3</inversion>"), "Bb7/Ab"),
        ("<numeral><numeral-root>5</numeral-root></numeral><kind>dominant</kind>".to_string(), "G7"),
        ("<numeral><numeral-root>2</numeral-root><numeral-alter>-1</numeral-alter></numeral><kind>major</kind>".to_string(), "Db"),
        ("<root><root-step text=\"Eb\"></root-step></root><kind>power</kind>".to_string(), "Eb5"),
        ("<root><root-step text=\"\">C</root-step></root><kind>none</kind>".to_string(), "N.C."),
        (format!("{root}<kind>Tristan</kind>"), "Bbm7b5"),
        (format!("{root}<kind>pedal</kind>"), "Bb(no3)(no5)"),
    ];
    for (inside, wanted) in cases {
        // Silence alone makes no chart.
        if wanted != "N.C." {
            assert_eq!(symbol(&inside), wanted, "{inside}");
        }
    }
}

#[test]
fn what_the_symbols_say_goes_out_and_comes_back() {
    // Every symbol of the shared table (tests/fixtures/harmony/README.md) through MusicXML and back.
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/harmony/chord_symbols.json");
    let table: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let rows = table.as_array().or(table["symbols"].as_array()).unwrap();
    let symbols: Vec<&str> = rows
        .iter()
        .filter_map(|row| row["symbol"].as_str())
        .filter(|symbol| matches!(symbol.parse(), Ok(Harmony::Chord(_))))
        .collect();
    assert!(symbols.len() > 1000, "{}", symbols.len());
    let bars: Vec<String> = symbols
        .iter()
        .map(|symbol| format!("[[{}, 4]]", Value::from(*symbol)))
        .collect();
    let text = format!(
        "title = \"t\"\n[[section]]\nname = \"A\"\nbars = [{}]\n",
        bars.join(", ")
    );
    let source = Source {
        name: "t.toml",
        text: &text,
    };
    let chart = Chart::read(&source).unwrap();
    let back = from_musicxml(to_musicxml(&chart).as_bytes(), "t").unwrap();
    let of = |chart: &Chart| {
        let lines = written_lines(chart, &Form::unroll(chart));
        let chords = lines.into_iter().filter_map(|line| match line.harmony {
            Harmony::Chord(chord) => Some((chord.root, chord.bass, chord.degrees)),
            Harmony::Silence => None,
        });
        chords.collect::<Vec<_>>()
    };
    let (out, back) = (of(&chart), of(&back.chart));
    assert_eq!(out.len(), back.len());
    for ((symbol, out), back) in symbols.iter().zip(out).zip(back) {
        assert_eq!(out, back, "{symbol}");
    }
}
