//! Chord symbols, keys and scale names. A symbol that can be read is told in one line of JSON; a key and a
//! scale are written so that they are read as the same again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::harmony::{ChordSymbol, KeyDeclaration, ScaleName, symbols_line};

fuzz_target!(|text: &str| {
    assert!(!symbols_line(0, text).contains('\n'));
    if let Ok(chord) = text.parse::<ChordSymbol>() {
        assert!(!chord.degrees.is_empty());
        assert!(chord.classes().iter().all(|class| *class < 12));
    }
    if let Ok(key) = text.parse::<KeyDeclaration>() {
        assert_eq!(key.to_string().parse::<KeyDeclaration>().ok(), Some(key));
    }
    if let Ok(scale) = text.parse::<ScaleName>() {
        assert_eq!(scale.to_string().parse::<ScaleName>().ok(), Some(scale));
    }
});
