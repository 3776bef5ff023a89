//! Harmony against tables and open data outside the program.

use serde_json::Value;
use std::collections::BTreeSet;
use underfoot::harmony::symbols_line;

fn fixture(name: &str) -> Value {
    let path = format!(
        "{}/tests/fixtures/harmony/{name}",
        env!("CARGO_MANIFEST_DIR")
    );
    #[allow(clippy::disallowed_methods, reason = "a test reads its fixture")]
    let text = std::fs::read_to_string(path).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn list(value: &Value) -> Vec<Value> {
    value.as_array().cloned().unwrap_or_default()
}

fn names(value: &Value) -> BTreeSet<String> {
    list(value)
        .iter()
        .map(|name| name.as_str().unwrap().to_string())
        .collect()
}

/// Source of the rows: where music21 10.5.1 and pychord 1.4.1 agree, that; else common practice, no source.
/// Rows without notes (triple accidentals) and readings among a row's alternatives have no listed spelling:
/// there the pitch classes count, and the degrees.
#[test]
fn chord_symbols_have_their_tones_and_spelling() {
    let rows = list(&fixture("chord_symbols.json"));
    let mut wrong = Vec::new();
    let mut exact = 0;
    for row in &rows {
        let line: Value =
            serde_json::from_str(&symbols_line(row["symbol"].as_str().unwrap())).unwrap();
        let mut sounding = names(&line["tones"]);
        sounding.extend(line["bass"].as_str().map(str::to_string));
        let wanted = names(&row["notes"]);
        let spelled =
            row["notes"].is_null() || wanted == sounding || wanted == names(&line["tones"]);
        if line["pcs"] == row["pcs"] && spelled {
            exact += 1;
        } else if !list(&row["alternatives"]).contains(&line["pcs"]) {
            wrong.push(format!("{line}\n  wanted {row}"));
        }
    }
    println!(
        "chord symbols: {exact} of {} exact, {} by an alternative, {} wrong",
        rows.len(),
        rows.len() - exact - wrong.len(),
        wrong.len()
    );
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
