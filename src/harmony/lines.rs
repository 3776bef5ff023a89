//! Chord symbols as lines that programs read.

use super::{Harmony, Pitch};
use serde_json::json;

fn names(pitches: &[Pitch]) -> Vec<String> {
    pitches.iter().map(Pitch::to_string).collect()
}

/// One symbol as one line of JSON: what it is made of, or what is wrong with it and where, with the line's number from 0.
/// Never ends in a line break.
pub fn symbols_line(index: usize, text: &str) -> String {
    let value = match text.parse::<Harmony>() {
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
    };
    value.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    #[test]
    fn a_symbol_is_a_line() {
        let line: Value = serde_json::from_str(&symbols_line(0, "C7b9")).unwrap();
        let expected = json!({"symbol":"C7b9","root":"C","bass":"C","degrees":["1","3","5","b7","b9"],
            "tones":["C","E","G","Bb","Db"],"pcs":[0,1,4,7,10]});
        assert_eq!(line, expected);
        let line: Value = serde_json::from_str(&symbols_line(0, "Am7/D")).unwrap();
        assert_eq!(line["pcs"], json!([0, 2, 4, 7, 9]));
        let line: Value = serde_json::from_str(&symbols_line(0, "n.c.")).unwrap();
        assert_eq!((&line["root"], &line["pcs"]), (&Value::Null, &json!([])));
        let line: Value = serde_json::from_str(&symbols_line(0, "  Cmaj7?")).unwrap();
        assert_eq!(
            (&line["column"], &line["nearest"]),
            (&json!(8), &json!("Cmaj7"))
        );
        assert!(!symbols_line(0, "C\nD").contains('\n'));
        let line: Value = serde_json::from_str(&symbols_line(3, "?")).unwrap();
        assert_eq!((&line["index"], &line["column"]), (&json!(3), &json!(1)));
    }
}
