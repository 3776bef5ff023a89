//! Reading what turns in a stage: places, strings, and the table of a rotation.

use super::KeyWalk;
use super::figure::{Direction, FigureNote, Place, Places, StringRule, StringSet};
use super::orders::Orders;
use super::range::Octave;
use super::rotation::{COMBINATIONS, Rotation};
use super::words::words;
use crate::fault::{TableView, Text, number_of};

const ROTATE: &str = "rotate must be a list of lists of places (such as [[\"1\"], [\"2&\"]]) or a table of what turns (such as { strings = [6, 5, 4] })";
/// The words for octaves.
pub(super) const OCTAVES: [(&str, Octave); 3] = [
    ("low", Octave::Low),
    ("middle", Octave::Middle),
    ("high", Octave::High),
];
/// The most notes of which every order turns: 24 orders.
const ORDERED_NOTES: usize = 4;

/// `rotate` as a table of what turns; `None` where it is none.
pub(super) fn read_rotation(
    view: &TableView<'_, '_>,
    figure: &[FigureNote],
    pulse: bool,
) -> Option<Rotation> {
    view.get("rotate")?.get_ref().as_table()?;
    let table = view.table("rotate")?;
    let has_places = table.get("places").is_some();
    let rotation = Rotation {
        places: if has_places {
            const RULE: &str =
                "places must be a list of lists of places (such as [[\"1\"], [\"2&\"]])";
            read_place_lists(&table, "places", RULE)
        } else {
            Vec::new()
        },
        orders: table.one_of("orders", &[("every", true)]).unwrap_or(false),
        strings: read_numbers(&table, "strings", 1..=16),
        positions: read_numbers(&table, "positions", 1..=12),
        octaves: read_words(&table, "octaves", &OCTAVES),
        sides: read_words(
            &table,
            "sides",
            &[("above", Direction::Above), ("below", Direction::Below)],
        ),
        keys: table.get("keys").map(|_| KeyWalk::read(&table)),
        crossed: table.boolean("crossed").unwrap_or(false),
        ..Rotation::default()
    };
    table.finish();
    clashes(view, &table);
    without_figure(&table, figure);
    if !pulse {
        view.fault(
            "rotate",
            "a table of rotate has no meaning in a stage out of time (pulse = false)",
        );
    }
    worked_out(view, rotation, figure)
}

/// What a rotation and the stage cannot both say.
fn clashes(view: &TableView<'_, '_>, table: &TableView<'_, '_>) {
    for (turning, fixed) in [
        ("places", "places"),
        ("orders", "order"),
        ("strings", "string"),
        ("positions", "position"),
        ("octaves", "octave"),
        ("keys", "keys"),
    ] {
        if table.get(turning).is_some() && view.get(fixed).is_some() {
            let rule =
                format!("{fixed} and rotate.{turning} exclude each other: what turns is not fixed");
            view.fault(fixed, rule);
        }
    }
    if table.get("strings").is_some() && table.get("positions").is_some() {
        let rule =
            "strings and positions exclude each other: one string in one position is one note";
        table.fault("positions", rule);
    }
}

/// What needs a figure, or one of another kind.
fn without_figure(table: &TableView<'_, '_>, figure: &[FigureNote]) {
    let is_sided =
        |note: &FigureNote| matches!(note.direction, Direction::Above | Direction::Below);
    if figure.is_empty() {
        for key in ["places", "orders", "octaves", "sides"] {
            if table.get(key).is_some() {
                let rule =
                    format!("{key} has no meaning without a figure (figure = [] is open choice)");
                table.fault(key, rule);
            }
        }
    } else if table.get("sides").is_some() && !figure.iter().any(is_sided) {
        let rule = "sides turns notes that lie above or below the root, but the figure has none (such as \"3 above\")";
        table.fault("sides", rule);
    }
    let notes = figure.len();
    if table.get("orders").is_some() && (notes == 1 || notes > ORDERED_NOTES) {
        let rule =
            format!("orders turns the notes of a figure of 2 to {ORDERED_NOTES}, not of {notes}");
        table.fault("orders", rule);
    }
}

/// The rotation with its rounds, if it is one.
fn worked_out(
    view: &TableView<'_, '_>,
    rotation: Rotation,
    figure: &[FigureNote],
) -> Option<Rotation> {
    let orders = match rotation.orders && figure.len() <= ORDERED_NOTES {
        true => Orders::of(figure, 0).all().len(),
        false => 1,
    };
    let levels = rotation.levels(orders);
    let turning = levels.iter().filter(|level| **level > 1).count();
    if turning == 0 {
        let rule = "rotate turns nothing: name at least two values of something";
        view.fault("rotate", rule);
        return None;
    }
    if rotation.crossed && turning < 2 {
        let rule = "crossed needs at least two things that turn";
        view.fault("rotate", rule);
        return None;
    }
    let all: usize = levels.iter().product();
    if rotation.crossed && all > COMBINATIONS {
        let rule =
            format!("rotate crosses {all} combinations, but at most {COMBINATIONS} come round");
        view.fault("rotate", rule);
        return None;
    }
    Some(rotation.worked_out(orders))
}

/// Whole numbers, each once.
fn read_numbers(
    view: &TableView<'_, '_>,
    key: &'static str,
    range: std::ops::RangeInclusive<u8>,
) -> Vec<u8> {
    let Some(value) = view.get(key) else {
        return Vec::new();
    };
    let rule = || {
        let (from, to) = (range.start(), range.end());
        format!("{key} must be a list of numbers from {from} to {to} (such as [5, 4, 3])")
    };
    let Some(list) = value.get_ref().as_array().filter(|list| !list.is_empty()) else {
        view.fault(key, rule());
        return Vec::new();
    };
    let mut numbers = Vec::new();
    for item in list.iter() {
        let number = number_of(item.get_ref()).filter(|number| number.fract() == 0.0);
        let number = number.filter(|number| (0.0..=255.0).contains(number));
        match number.map(|number| number as u8) {
            Some(number) if numbers.contains(&number) => {
                let rule = format!("{key} names {number} twice");
                view.reader.fault(item.span().start, rule);
            }
            Some(number) if range.contains(&number) => numbers.push(number),
            _ => view.reader.fault(item.span().start, rule()),
        }
    }
    numbers
}

/// Some of these words, each once.
fn read_words<T: Copy>(
    view: &TableView<'_, '_>,
    key: &'static str,
    known: &[(&'static str, T)],
) -> Vec<T> {
    if view.get(key).is_none() {
        return Vec::new();
    }
    let texts = view.strings(key).unwrap_or_default();
    let words = known.iter().map(|(word, _)| *word);
    let list: Vec<String> = words.clone().map(|word| format!("\"{word}\"")).collect();
    let mut found: Vec<(&str, T)> = Vec::new();
    for text in &texts {
        let of_text = known.iter().find(|(word, _)| *word == text.value);
        let rule = match of_text {
            Some((word, _)) if found.iter().any(|(other, _)| other == word) => {
                format!("{key} names \"{word}\" twice")
            }
            Some(word) => {
                found.push(*word);
                continue;
            }
            None => {
                let hint = crate::fault::nearest_hint(text.value, words.clone());
                let (known, text) = (list.join(", "), text.value);
                format!("{key} has \"{text}\", but knows {known}{hint}")
            }
        };
        view.reader.fault(text.span.start, rule);
    }
    found.into_iter().map(|(_, value)| value).collect()
}

/// Lists of places.
fn read_place_lists(
    view: &TableView<'_, '_>,
    key: &'static str,
    rule: &'static str,
) -> Vec<Vec<Place>> {
    let Some(list) = view.get(key).and_then(|value| value.get_ref().as_array()) else {
        view.fault(key, rule);
        return Vec::new();
    };
    if list.is_empty() {
        let rule = format!("{key} is empty: name at least one list of places");
        view.fault(key, rule);
    }
    let turns = list.iter().map(|turn| {
        let texts = turn.get_ref().as_array().and_then(|items| {
            let texts = items.iter().map(|item| {
                let value = item.get_ref().as_str()?;
                Some(Text {
                    value,
                    span: item.span(),
                })
            });
            texts.collect::<Option<Vec<Text<'_>>>>()
        });
        match texts {
            Some(texts) => read_place_list(view, key, turn.span().start, &texts),
            None => {
                view.reader.fault(turn.span().start, rule);
                Vec::new()
            }
        }
    });
    turns.collect()
}

/// `places`, or `rotate` as a list of them.
pub(super) fn read_places(view: &TableView<'_, '_>, open: bool) -> Places {
    // As a table it turns more than places.
    let rotate = view
        .get("rotate")
        .filter(|value| value.get_ref().as_table().is_none());
    let places = view.strings("places");
    if let (Some(rotate), Some(_)) = (rotate, &places) {
        let rule =
            "places and rotate exclude each other: all of the places, or alternatives in turn";
        view.reader.fault(rotate.span().start, rule);
    }
    if open {
        for key in ["places", "rotate"] {
            if view
                .get(key)
                .is_some_and(|value| value.get_ref().as_table().is_none())
            {
                let rule =
                    format!("{key} has no meaning without a figure (figure = [] is open choice)");
                view.fault(key, rule);
            }
        }
        return Places::All(Vec::new());
    }
    match (rotate, places) {
        (Some(_), told) => {
            // Not played, but looked over with the rest.
            let offset = view.offset("places");
            told.map(|texts| read_place_list(view, "places", offset, &texts));
            Places::Rotate(read_place_lists(view, "rotate", ROTATE))
        }
        (None, Some(texts)) => {
            let offset = view.offset("places");
            Places::All(read_place_list(view, "places", offset, &texts))
        }
        (None, None) => Places::All(vec![Place::counted(1, 0)]),
    }
}

fn read_place_list(
    view: &TableView<'_, '_>,
    key: &str,
    offset: usize,
    texts: &[Text<'_>],
) -> Vec<Place> {
    let places: Vec<Place> = words(view, texts);
    if texts.is_empty() {
        let rule = format!("{key} names no place (such as \"1\" or \"2&\")");
        view.reader.fault(offset, rule);
    }
    let when = |place: &Place| i32::from(place.beat) * 12 + i32::from(place.twelfths);
    if places.len() == texts.len() {
        for (pair, text) in places.windows(2).zip(texts.iter().skip(1)) {
            if when(&pair[1]) <= when(&pair[0]) {
                view.reader.fault(
                    text.span.start,
                    format!(
                        "places go forward in time, but \"{}\" comes after \"{}\"",
                        pair[1], pair[0]
                    ),
                );
            }
        }
    }
    places
}

/// `"free"`, `"same"`, `"every place"`, or a list of strings.
pub(super) fn read_string(view: &TableView<'_, '_>, figure: &[FigureNote]) -> StringRule {
    const RULE: &str = "string must be \"free\", \"same\", \"every place\" or a list of strings from 1, the highest, to 16 (such as [2, 3])";
    let list = view
        .get("string")
        .and_then(|value| value.get_ref().as_array());
    let Some(list) = list else {
        let words = [
            ("free", StringRule::Free),
            ("same", StringRule::Same),
            ("every place", StringRule::EveryPlace),
        ];
        let rule = view.one_of("string", &words).unwrap_or_default();
        if rule == StringRule::EveryPlace && figure.len() != 1 {
            let rule = format!(
                "string = \"every place\" is for a figure of one note, not of {}",
                figure.len()
            );
            view.fault("string", rule);
        }
        return rule;
    };
    let mut strings = Vec::new();
    for item in list.iter() {
        match number_of(item.get_ref()).filter(|number| number.fract() == 0.0) {
            Some(number) if (1.0..=16.0).contains(&number) => strings.push(number as u8),
            _ => view.reader.fault(item.span().start, RULE),
        }
    }
    if list.is_empty() {
        view.fault("string", RULE);
    }
    StringRule::On(StringSet::of(strings))
}
