//! What tests of harmony share: the tables, and chords in context.

use serde_json::Value;
use underfoot::harmony::{ChordInContext, Habits, KeyDeclaration, TimedChord, in_context};
use underfoot::time::Tick;

pub fn fixture(name: &str) -> Value {
    let path = format!(
        "{}/tests/fixtures/harmony/{name}",
        env!("CARGO_MANIFEST_DIR")
    );
    #[allow(clippy::disallowed_methods, reason = "a test reads its fixture")]
    let text = std::fs::read_to_string(path).unwrap();
    serde_json::from_str(&text).unwrap()
}

pub fn list(value: &Value) -> Vec<Value> {
    value.as_array().cloned().unwrap_or_default()
}

/// Semitones from the root to the second note of the scale.
pub fn second_semitones(chord: &ChordInContext) -> Option<u8> {
    Some(chord.root()?.up_to(chord.degrees.get(1)?.pitch))
}

/// Chords of a whole note each, in a declared key or none.
pub fn analysed(
    symbols: &[&str],
    key: Option<KeyDeclaration>,
    habits: &Habits,
) -> Vec<ChordInContext> {
    let chords: Vec<TimedChord> = symbols
        .iter()
        .enumerate()
        .map(|(at, symbol)| TimedChord {
            start: Tick(at as i64 * 3840),
            len: Tick(3840),
            harmony: symbol.parse().unwrap(),
            declared: key,
            hint: None,
        })
        .collect();
    in_context(&chords, habits)
}
