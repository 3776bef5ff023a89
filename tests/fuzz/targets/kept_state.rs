//! What the daemon keeps and answers: any text gives a place or a status that a reader is shown, or an error.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::daemon::{commands, state, status};

fuzz_target!(|text: &str| {
    if let Ok(saved) = state::parse(text) {
        assert!(saved.tempo_qpm.is_finite());
    }
    if let Ok(answer) = status::parse(text) {
        assert!(!commands::readable(&answer).is_empty());
    }
});
