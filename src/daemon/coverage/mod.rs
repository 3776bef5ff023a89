//! What a drill asks for, as text, for programs, and as a picture.

mod labels;
mod picture;

pub use picture::picture;

use crate::plan::coverage::{Counts, Coverage, Places};
use labels::{EIGHTHS, KEYS, figures_of};
use serde_json::{Value, json};
use std::fmt::Display;

/// Positions of the hand.
const POSITIONS: std::ops::RangeInclusive<u8> = 1..=12;

/// How often each of a list was asked for: "1 12, 1& 0".
fn list<T: Ord, W: Display>(counts: &Counts<T>, all: impl IntoIterator<Item = (T, W)>) -> String {
    let told = all.into_iter().map(|(key, word)| {
        let count = counts.get(&key).copied().unwrap_or(0);
        format!("{word} {count}")
    });
    told.collect::<Vec<String>>().join(", ")
}

fn eighths() -> impl Iterator<Item = (String, &'static str)> {
    EIGHTHS.iter().map(|place| (place.to_string(), *place))
}

fn keys() -> impl Iterator<Item = (u8, &'static str)> {
    (0u8..).zip(KEYS)
}

fn had<T: Ord>(counts: &Counts<T>, all: impl Iterator<Item = T>) -> (usize, usize) {
    let had: Vec<bool> = all.map(|key| counts.contains_key(&key)).collect();
    (had.iter().filter(|had| **had).count(), had.len())
}

fn of((part, whole): (usize, usize)) -> String {
    format!("{part} of {whole}")
}

fn factorial(notes: usize) -> usize {
    (1..=notes).product()
}

/// A line of the table.
fn line(what: &str, told: impl Display) -> String {
    format!("{what:<30}{told}")
}

/// How much of a list was had, and how often each of it.
fn share<T: Ord + Copy, W: Display>(counts: &Counts<T>, all: &[(T, W)]) -> String {
    let whole = of(had(counts, all.iter().map(|(key, _)| *key)));
    let told = list(counts, all.iter().map(|(key, word)| (*key, word)));
    format!("{whole} ({told})")
}

/// A table for readers.
pub fn text(coverage: &Coverage, title: &str, strings: u8) -> String {
    let mut lines = vec![format!(
        "{title}: {} stages, {} passes, {} notes",
        coverage.stages, coverage.passes, coverage.notes
    )];
    lines.extend(figures(coverage));
    let all_strings: Vec<(u8, u8)> = (1..=strings).map(|string| (string, string)).collect();
    let positions: Vec<(u8, u8)> = POSITIONS.map(|fret| (fret, fret)).collect();
    let keys: Vec<(u8, &str)> = keys().collect();
    let octaves = coverage.octaves.keys().map(|octave| (*octave, octave));
    let up_to = |places: &Places| format!("{} up to the twelfth fret", of(places.visited()));
    lines.extend([
        line("octaves", list(&coverage.octaves, octaves)),
        line("strings", share(&coverage.strings, &all_strings)),
        line(
            "lowest fret of a figure",
            share(&coverage.positions, &positions),
        ),
        line("keys", share(&coverage.keys, &keys)),
        line("places of the root", up_to(&coverage.roots)),
        line("places of the third", up_to(&coverage.thirds)),
    ]);
    let degrees = ["1", "2", "3", "4", "5", "6", "7"].map(|degree| format!("{degree:>7}"));
    lines.push(line("degrees by kind of chord", degrees.concat()));
    for (quality, degrees) in &coverage.degrees {
        let counts = degrees.map(|count| format!("{count:>7}"));
        lines.push(line(&format!("  {quality}"), counts.concat()));
    }
    let never = never(coverage, strings);
    match never.is_empty() {
        true => lines.push("nothing of this never occurs".to_string()),
        false => {
            lines.push("never:".to_string());
            lines.extend(never.into_iter().map(|line| format!("  {line}")));
        }
    }
    lines.join("\n") + "\n"
}

/// Orders, and where figures begin.
fn figures(coverage: &Coverage) -> Vec<String> {
    let mut lines = Vec::new();
    for (set, orders) in &coverage.orders {
        let all = factorial(set.split(' ').count());
        let told = orders
            .iter()
            .map(|(order, count)| format!("{order}: {count}"));
        let told: Vec<String> = told.collect();
        let told = match told.len() {
            0..=6 => format!(" ({})", told.join(", ")),
            _ => String::new(),
        };
        let whole = of((orders.len(), all));
        lines.push(line(&format!("orders of {set}"), format!("{whole}{told}")));
    }
    for (notes, starts) in &coverage.starts {
        let whole = of(had(starts, eighths().map(|(place, _)| place)));
        let told = format!("{whole} eighths ({})", list(starts, eighths()));
        lines.push(line(&format!("starts of {}", figures_of(*notes)), told));
    }
    lines
}

/// What never occurs.
pub(super) fn never(coverage: &Coverage, strings: u8) -> Vec<String> {
    let mut never = Vec::new();
    let lacks = |what: String, missing: Vec<String>| {
        (!missing.is_empty()).then(|| format!("{what}: {}", missing.join(", ")))
    };
    let three = coverage.orders.get("1 2 3");
    let orders = ["1 2 3", "1 3 2", "2 1 3", "2 3 1", "3 1 2", "3 2 1"];
    let missing = orders
        .iter()
        .filter(|order| !three.is_some_and(|had| had.contains_key(**order)));
    never.extend(lacks(
        "orders of 1 2 3".to_string(),
        missing.map(ToString::to_string).collect(),
    ));
    for notes in [1, 2, 3] {
        let starts = coverage.starts.get(&notes);
        let missing = EIGHTHS
            .iter()
            .filter(|place| !starts.is_some_and(|had| had.contains_key(**place)));
        never.extend(lacks(
            format!("starts of {}", figures_of(notes)),
            missing.map(ToString::to_string).collect(),
        ));
    }
    let missing = (1..=strings).filter(|string| !coverage.strings.contains_key(string));
    never.extend(lacks(
        "strings".to_string(),
        missing.map(|string| string.to_string()).collect(),
    ));
    let missing = POSITIONS.filter(|position| !coverage.positions.contains_key(position));
    never.extend(lacks(
        "lowest frets of a figure".to_string(),
        missing.map(|fret| fret.to_string()).collect(),
    ));
    let missing = keys().filter(|(class, _)| !coverage.keys.contains_key(class));
    never.extend(lacks(
        "keys".to_string(),
        missing.map(|(_, key)| key.to_string()).collect(),
    ));
    for (what, places) in [("root", &coverage.roots), ("third", &coverage.thirds)] {
        never.extend(lacks(
            format!("places of the {what} (note: string/fret)"),
            unvisited(places),
        ));
    }
    for (quality, degrees) in &coverage.degrees {
        let missing = (1..).zip(degrees).filter(|(_, count)| **count == 0);
        never.extend(lacks(
            format!("degrees over {quality}"),
            missing.map(|(degree, _)| degree.to_string()).collect(),
        ));
    }
    never
}

/// Places that were never asked for, as many as a line holds.
fn unvisited(places: &Places) -> Vec<String> {
    const MOST: usize = 8;
    let missing = places.of_notes.iter().filter(|(_, count)| **count == 0);
    let told = missing.map(|((class, string, fret), _)| {
        format!("{}: {string}/{fret}", KEYS[usize::from(*class) % 12])
    });
    let mut told: Vec<String> = told.collect();
    if told.len() > MOST {
        let more = told.len() - MOST;
        told.truncate(MOST);
        told.push(format!("and {more} more"));
    }
    told
}

/// The same for programs: one object.
pub fn object(coverage: &Coverage, strings: u8) -> Value {
    let counts = |counts: &Counts<String>| json!(counts);
    let orders: serde_json::Map<String, Value> = coverage
        .orders
        .iter()
        .map(|(set, had)| (set.clone(), counts(had)))
        .collect();
    let starts: serde_json::Map<String, Value> = coverage
        .starts
        .iter()
        .map(|(notes, had)| (notes.to_string(), counts(had)))
        .collect();
    let numbers = |counts: Vec<(String, u64)>| {
        Value::Object(
            counts
                .into_iter()
                .map(|(key, count)| (key, json!(count)))
                .collect(),
        )
    };
    let places = |places: &Places| {
        let (visited, of) = places.visited();
        let asked = places
            .asked
            .iter()
            .map(|((string, fret), count)| json!({"string": string, "fret": fret, "count": count}));
        json!({"visited": visited, "of": of, "asked": asked.collect::<Vec<Value>>()})
    };
    json!({
        "stages": coverage.stages,
        "passes": coverage.passes,
        "notes": coverage.notes,
        "orders": orders,
        "starts": starts,
        "octaves": numbers(coverage.octaves.iter().map(|(key, count)| (key.to_string(), *count)).collect()),
        "strings": numbers(coverage.strings.iter().map(|(key, count)| (key.to_string(), *count)).collect()),
        "positions": numbers(coverage.positions.iter().map(|(key, count)| (key.to_string(), *count)).collect()),
        "keys": numbers(keys().map(|(class, key)| (key.to_string(), coverage.keys.get(&class).copied().unwrap_or(0))).collect()),
        "roots": places(&coverage.roots),
        "thirds": places(&coverage.thirds),
        "degrees": coverage.degrees,
        "never": never(coverage, strings),
    })
}
