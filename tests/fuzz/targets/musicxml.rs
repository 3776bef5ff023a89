//! MusicXML: any bytes are refused, or make a chart that its own file and the score made of it tell again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::chart::{Chart, Form, MAX_BARS};
use underfoot::fault::Source;
use underfoot::sheet::{from_musicxml, to_musicxml};

fuzz_target!(|bytes: &[u8]| {
    let Ok(imported) = from_musicxml(bytes, "untitled") else {
        return;
    };
    let chart = imported.chart;
    assert!(Form::count_bars(&chart) <= MAX_BARS);
    let text = chart.to_toml();
    let source = Source {
        name: "-",
        text: &text,
    };
    assert_eq!(Chart::read(&source).as_ref(), Ok(&chart));
    let score = to_musicxml(&chart);
    assert!(from_musicxml(score.as_bytes(), "again").is_ok(), "{score}");
});
