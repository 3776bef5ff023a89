//! What a drill asks for, as text, for programs, and as a picture.

mod picture;

pub use picture::picture;

use crate::plan::coverage::{Counts, Coverage, Places};
use serde_json::{Value, json};
use std::fmt::Display;

/// The eight eighths of a bar of four.
pub(super) const EIGHTHS: [&str; 8] = ["1", "1&", "2", "2&", "3", "3&", "4", "4&"];
/// The keys by their tonics.
pub(super) const KEYS: [&str; 12] = [
    "C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B",
];
/// Positions of the hand.
const POSITIONS: std::ops::RangeInclusive<u8> = 1..=12;

/// How many figures there are of each length, in words.
pub(super) fn figures_of(notes: usize) -> &'static str {
    match notes {
        1 => "one note",
        2 => "two notes",
        3 => "three notes",
        _ => "four notes and more",
    }
}

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

/// A table for readers.
pub fn text(coverage: &Coverage, title: &str, strings: u8) -> String {
    let mut lines = vec![format!(
        "{title}: {} stages, {} passes, {} notes",
        coverage.stages, coverage.passes, coverage.notes
    )];
    let mut add = |what: &str, told: String| lines.push(format!("{what:<28}{told}"));
    for (set, orders) in &coverage.orders {
        let all = factorial(set.split(' ').count());
        let told: Vec<String> = orders
            .iter()
            .map(|(order, count)| format!("{order}: {count}"))
            .collect();
        let told = if told.len() > 6 {
            String::new()
        } else {
            format!(" ({})", told.join(", "))
        };
        add(
            &format!("orders of {set}"),
            format!("{}{told}", of((orders.len(), all))),
        );
    }
    for (notes, starts) in &coverage.starts {
        let whole = of(had(starts, eighths().map(|(place, _)| place)));
        add(
            &format!("starts of {}", figures_of(*notes)),
            format!("{whole} eighths ({})", list(starts, eighths())),
        );
    }
    let octaves = coverage.octaves.keys().map(|octave| (*octave, octave));
    add("octaves", list(&coverage.octaves, octaves));
    let all_strings = (1..=strings).map(|string| (string, string));
    add(
        "strings",
        format!(
            "{} ({})",
            of(had(&coverage.strings, 1..=strings)),
            list(&coverage.strings, all_strings)
        ),
    );
    let positions = POSITIONS.map(|position| (position, position));
    add(
        "lowest fret of a figure",
        format!(
            "{} ({})",
            of(had(&coverage.positions, POSITIONS)),
            list(&coverage.positions, positions)
        ),
    );
    add(
        "keys",
        format!(
            "{} ({})",
            of(had(&coverage.keys, 0..12)),
            list(&coverage.keys, keys())
        ),
    );
    add(
        "places of the root",
        format!("{} up to the twelfth fret", of(coverage.roots.visited())),
    );
    add(
        "places of the third",
        format!("{} up to the twelfth fret", of(coverage.thirds.visited())),
    );
    lines.push(format!(
        "{:<28}{}",
        "degrees by kind of chord",
        ["1", "2", "3", "4", "5", "6", "7"]
            .map(|degree| format!("{degree:>7}"))
            .concat()
    ));
    for (quality, degrees) in &coverage.degrees {
        lines.push(format!(
            "  {quality:<26}{}",
            degrees.map(|count| format!("{count:>7}")).concat()
        ));
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
