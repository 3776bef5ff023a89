//! A motif: degrees with a rhythm, in one line; and what is to be found out of time.

use super::Direction;
use super::figure::{DegreeWord, FigureNote, Place};
use super::words::words;
use crate::fault::{TableView, Text};

/// The most notes of a motif.
const MOTIF_NOTES: usize = 16;

/// Degrees and where they fall.
pub(super) struct Motif {
    pub figure: Vec<FigureNote>,
    pub places: Vec<Place>,
}

/// Reads `motif = "1:1 3:0.5 2:1.5"`: each degree with the beats until the next one.
pub(super) fn read_motif(view: &TableView<'_, '_>, degrees: &[DegreeWord]) -> Option<Motif> {
    let text = view.string("motif")?;
    for key in ["figure", "places", "rotate", "step", "order"] {
        if view.get(key).is_some() {
            let rule =
                format!("motif and {key} exclude each other: a motif has its own notes and places");
            view.fault(key, rule);
        }
    }
    let tokens: Vec<&str> = text.value.split_whitespace().collect();
    if !(1..=MOTIF_NOTES).contains(&tokens.len()) {
        let rule = format!("a motif has 1 to {MOTIF_NOTES} notes, not {}", tokens.len());
        view.reader.fault(text.span.start, rule);
        return None;
    }
    let mut motif = Motif {
        figure: Vec::new(),
        places: Vec::new(),
    };
    let mut twelfths = 0;
    for token in tokens {
        match note_of(token, degrees) {
            Ok((degree, lasts)) => {
                let within = (twelfths % 12) as i8;
                motif.figure.push(FigureNote::new(degree, Direction::Free));
                motif
                    .places
                    .push(Place::counted((twelfths / 12 + 1) as u8, within));
                twelfths += lasts;
            }
            Err(rule) => view.reader.fault(text.span.start, rule),
        }
    }
    Some(motif)
}

/// A degree and the twelfths of a beat that it lasts.
fn note_of(token: &str, degrees: &[DegreeWord]) -> Result<(DegreeWord, u32), String> {
    const RULE: &str = "a note of a motif is a degree and its beats (such as \"3:0.5\"), in quarters or thirds of a beat up to 16";
    let bad = || format!("\"{token}\": {RULE}");
    let (degree, beats) = token.split_once(':').ok_or_else(bad)?;
    let degree: DegreeWord = degree.parse().map_err(|_| bad())?;
    let beats: f64 = beats.parse().map_err(|_| bad())?;
    if !beats.is_finite() || !(0.2..=16.0).contains(&beats) {
        return Err(bad());
    }
    let twelfths = (beats * 12.0).round();
    // A third of a beat is written as 0.33.
    let is_near = (beats * 12.0 - twelfths).abs() <= 0.05;
    let twelfths = twelfths as u32;
    if !is_near || !(twelfths.is_multiple_of(3) || twelfths.is_multiple_of(4)) {
        return Err(bad());
    }
    if !degrees.contains(&degree) {
        let known: Vec<String> = degrees.iter().map(ToString::to_string).collect();
        let known = known.join(", ");
        return Err(format!(
            "the motif asks for {degree}, which is not among the degrees of the stage: {known}"
        ));
    }
    Ok((degree, twelfths))
}

/// Reads `rhythm` of a stage of open choice: where its notes are to fall.
pub(super) fn read_rhythm(view: &TableView<'_, '_>, is_open: bool) -> Option<Vec<Place>> {
    let texts: Vec<Text<'_>> = view.strings("rhythm")?;
    if !is_open {
        let rule = "rhythm is for open choice (figure = []); the notes of a figure fall on places";
        view.fault("rhythm", rule);
    }
    if texts.is_empty() {
        view.fault("rhythm", "rhythm names no place (such as \"1\" or \"2&\")");
    }
    Some(words(view, &texts))
}

/// Reads `find = { places = 5 }`: how often the note of a chord is to be found, each time elsewhere.
pub(super) fn read_find(view: &TableView<'_, '_>, figure: &[FigureNote]) -> Option<u32> {
    let table = view.table("find")?;
    let places = table.integer("places", 1..=24, "places");
    if table.get("places").is_none() {
        table.missing("places", "5");
    }
    table.finish();
    if figure.len() != 1 {
        let rule = format!("find is for a figure of one note, not of {}", figure.len());
        view.fault("find", rule);
    }
    for (key, rule) in [
        (
            "pulse",
            "find holds a chord out of time by itself: leave pulse out",
        ),
        ("passes", "find counts its places: leave passes out"),
        (
            "rotate",
            "find has no meaning with rotate: one chord is held out of time",
        ),
    ] {
        if view.get(key).is_some() {
            view.fault(key, rule);
        }
    }
    places
}
