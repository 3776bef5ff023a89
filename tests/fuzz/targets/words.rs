//! Pitches, degrees and meters: what can be read is written so that it is read as the same again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::fmt::{Debug, Display};
use std::str::FromStr;
use underfoot::harmony::{Degree, Pitch};
use underfoot::time::Meter;

fn reads_back<T: FromStr + Display + PartialEq + Debug>(text: &str) {
    if let Ok(read) = text.parse::<T>() {
        let written = read.to_string();
        assert_eq!(
            written.parse::<T>().ok(),
            Some(read),
            "{text:?} -> {written:?}"
        );
    }
}

fuzz_target!(|text: &str| {
    reads_back::<Pitch>(text);
    reads_back::<Degree>(text);
    reads_back::<Meter>(text);
});
