//! Standard MIDI Files: any bytes are refused, or make a chart that its own file tells again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::chart::Chart;
use underfoot::fault::Source;
use underfoot::sheet::from_midi;

fuzz_target!(|bytes: &[u8]| {
    let Ok(imported) = from_midi(bytes, "untitled") else {
        return;
    };
    let text = imported.chart.to_toml();
    let source = Source {
        name: "-",
        text: &text,
    };
    assert_eq!(Chart::read(&source), Ok(imported.chart));
});
