//! Chord symbols as lines that programs read.

use super::{Harmony, Pitch};
use serde_json::{Value, json};

fn names(pitches: &[Pitch]) -> Vec<String> {
    pitches.iter().map(Pitch::to_string).collect()
}

/// One symbol as one line of JSON: what it is made of, or what is wrong with it and where. Never ends in a
/// line break.
pub fn symbols_line(text: &str) -> String {
    symbols_value(text, Value::Null).to_string()
}

/// The same with the line's number, from 0, as the `index` of an error.
pub fn numbered_symbols_line(index: usize, text: &str) -> String {
    symbols_value(text, json!(index)).to_string()
}

fn symbols_value(text: &str, index: Value) -> Value {
    match text.parse::<Harmony>() {
        Ok(Harmony::Chord(chord)) => json!({
            "symbol": text,
            "root": chord.root.to_string(),
            "bass": chord.bass.to_string(),
            "degrees": chord.degrees.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "tones": names(&chord.tones()),
            "pcs": chord.classes(),
        }),
        Ok(Harmony::Silence) => json!({
            "symbol": text,
            "root": null,
            "bass": null,
            "degrees": [],
            "tones": [],
            "pcs": [],
        }),
        Err(error) => {
            let indent = text.chars().take_while(|sign| sign.is_whitespace()).count();
            json!({
                "index": index,
                "symbol": text,
                "error": error.rule,
                "column": error.column + indent,
                "nearest": error.nearest,
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_symbol_is_a_line() {
        let line: Value = serde_json::from_str(&symbols_line("C7b9")).unwrap();
        let expected = json!({"symbol":"C7b9","root":"C","bass":"C","degrees":["1","3","5","b7","b9"],
            "tones":["C","E","G","Bb","Db"],"pcs":[0,1,4,7,10]});
        assert_eq!(line, expected);
        let line: Value = serde_json::from_str(&symbols_line("Am7/D")).unwrap();
        assert_eq!(line["pcs"], json!([0, 2, 4, 7, 9]));
        let line: Value = serde_json::from_str(&symbols_line("n.c.")).unwrap();
        assert_eq!((&line["root"], &line["pcs"]), (&Value::Null, &json!([])));
        let line: Value = serde_json::from_str(&symbols_line("  Cmaj7?")).unwrap();
        assert_eq!(
            (&line["column"], &line["nearest"]),
            (&json!(8), &json!("Cmaj7"))
        );
        assert!(!symbols_line("C\nD").contains('\n'));
        let line: Value = serde_json::from_str(&numbered_symbols_line(3, "?")).unwrap();
        assert_eq!((&line["index"], &line["column"]), (&json!(3), &json!(1)));
    }
}
