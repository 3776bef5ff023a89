//! Compressed MusicXML: any archive is refused, or makes a chart.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::sheet::from_musicxml;

fuzz_target!(|bytes: &[u8]| {
    let mut archive = b"PK".to_vec();
    archive.extend_from_slice(bytes.strip_prefix(b"PK").unwrap_or(bytes));
    if let Ok(imported) = from_musicxml(&archive, "untitled") {
        assert!(!imported.chart.sections.is_empty());
    }
});
