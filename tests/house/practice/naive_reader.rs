//! A naive reader: it knows how a page is arranged and its grammar (the head of `display`), and nothing of what is played.
//!
//! It gets the texts that were drawn, each with its box, its height and whether it stands dark on light, and tells what
//! it would play, in order, over which chords, and what it was told to do.

use underfoot::display::{Arrangement, DrawnText, Panel};

/// Words of one chord in order.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Row {
    pub words: Vec<String>,
    /// Empty where none was found for it.
    pub chord: String,
}

/// What was read.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reading {
    /// What is to be played, the first thing first.
    pub rows: Vec<Row>,
    /// What to do.
    pub task: String,
    /// A text that is cut.
    pub cut: Option<String>,
}

const VERBS: [&str; 5] = ["listen", "sing", "play", "break", "find"];
const DEGREES: [&str; 8] = [
    "root", "second", "third", "fourth", "fifth", "sixth", "seventh", "rest",
];

fn is_note(text: &str) -> bool {
    let signs = ['♭', '♯', '𝄫', '𝄪'];
    let mut letters = text.chars();
    letters.next().is_some_and(|first| ('A'..='G').contains(&first))
        && letters.all(|sign| signs.contains(&sign))
}

/// A note or a degree, with what stands before it: higher or lower than the root, bent.
fn is_word(text: &str) -> bool {
    let plain = text.trim_start_matches(['↑', '↓']);
    is_note(plain) || DEGREES.contains(&plain.trim_start_matches(['♭', '♯', '𝄫', '𝄪']))
}

/// What is no note and no chord: beats, counts, places on the neck.
fn is_aside(text: &str) -> bool {
    text.ends_with(" beats")
        || text.ends_with(" beat")
        || text.chars().all(|c| c.is_ascii_digit() || " -".contains(c))
        || text.starts_with("string ")
        || text.starts_with("fret ")
        || text == "open"
        || text.chars().all(|c| "IVX".contains(c))
}

fn overlap(a: (i32, i32), b: (i32, i32)) -> bool {
    a.0 < b.1 && b.0 < a.1
}

fn same_line(a: &DrawnText, b: &DrawnText) -> bool {
    let middle = b.area.y + b.area.h / 2;
    (a.area.y..a.area.bottom()).contains(&middle)
}

/// Where the chords stand that a row is over: the upper one, the lower one.
fn tab_of(text: &DrawnText, panel: Panel) -> Option<usize> {
    let (w, h) = (panel.width as i32, panel.height as i32);
    let area = text.area;
    let (top, bottom) = (area.y < h / 5, area.bottom() > h - 3);
    match panel.arrangement() {
        // The chord of the first row stands below it, that of the second at its end.
        Arrangement::OnlyTheSet if bottom && text.inverted => Some(0),
        Arrangement::OnlyTheSet if area.right() > w - 3 && !text.inverted && !bottom => Some(1),
        Arrangement::Corners if top && area.x < 5 => Some(0),
        Arrangement::Corners if bottom && area.right() > w - 5 => Some(1),
        Arrangement::Wide if area.x > w * 2 / 3 && top => Some(0),
        Arrangement::Wide if area.x > w * 2 / 3 && bottom => Some(1),
        Arrangement::Tall if top && area.x < 12 => Some(0),
        Arrangement::Tall if area.y > h - 76 && area.right() > w - 16 && area.bottom() < h - 24 => {
            Some(1)
        }
        _ => None,
    }
}

/// Reads a page.
pub fn read(texts: &[DrawnText], panel: Panel) -> Reading {
    let cut = texts.iter().find(|text| text.text.contains('…') || text.text == "+");
    let verb = |text: &&DrawnText| VERBS.iter().any(|verb| text.text.starts_with(verb));
    let task = texts.iter().find(verb);
    let is_task = |text: &DrawnText| {
        task.is_some_and(|task| {
            let rows = (task.area.y, task.area.bottom() + task.cap * 2);
            text.cap == task.cap
                && overlap((text.area.y, text.area.y + 1), rows)
                && overlap((text.area.x, text.area.right()), (task.area.x - 12, task.area.right() + 12))
        })
    };
    let told = texts.iter().filter(|text| is_task(text) && !text.inverted);
    let told: Vec<&str> = told.map(|text| text.text.as_str()).collect();
    let is_tab = |text: &DrawnText| !is_aside(&text.text) && tab_of(text, panel).is_some();
    let body = texts.iter().filter(|text| !is_aside(&text.text) && !is_task(text));
    let body: Vec<&DrawnText> = body.collect();
    let mut rows = if body.iter().any(|text| text.inverted && !is_tab(text)) {
        let in_cells: Vec<&DrawnText> = body.iter().filter(|text| !is_tab(text)).copied().collect();
        cells(&in_cells)
    } else {
        large(&body, panel)
    };
    rows.extend(after(&body, &rows, panel));
    Reading {
        rows,
        task: told.join(" "),
        cut: cut.map(|text| text.text.clone()),
    }
}

/// The words in the largest letters; a single one that has words beside it is their root, and they are the order.
fn large(body: &[&DrawnText], panel: Panel) -> Vec<Row> {
    let chord = body.iter().find(|text| text.inverted && tab_of(text, panel).is_some());
    let chord = chord.map_or(String::new(), |text| text.text.clone());
    let free = |text: &&&DrawnText| tab_of(text, panel).is_none() || is_word(&text.text) && !text.inverted;
    let words: Vec<&DrawnText> = body.iter().filter(free).copied().collect();
    let Some(cap) = words.iter().map(|text| text.cap).max() else {
        return Vec::new();
    };
    let largest: Vec<&DrawnText> = words.iter().filter(|text| text.cap == cap).copied().collect();
    let beside = |text: &&&DrawnText| {
        text.cap < cap
            && is_word(&text.text)
            && text.area.x >= largest[0].area.right()
            && overlap((text.area.y, text.area.y + 2), (largest[0].area.y, largest[0].area.bottom()))
    };
    let order: Vec<&DrawnText> = words.iter().filter(beside).copied().collect();
    let told = if largest.len() == 1 && order.len() >= 3 { order } else { largest };
    vec![Row {
        words: told.iter().map(|text| marked(text, body)).collect(),
        chord,
    }]
}

/// A word with the mark that stands below it.
fn marked(word: &DrawnText, body: &[&DrawnText]) -> String {
    let below = body.iter().find(|text| {
        ["above", "below"].contains(&text.text.as_str())
            && text.area.y >= word.area.bottom()
            && overlap((text.area.x, text.area.right()), (word.area.x, word.area.right()))
    });
    match below.map(|text| text.text.as_str()) {
        Some("below") => format!("↓{}", word.text),
        Some(_) => format!("↑{}", word.text),
        None => word.text.clone(),
    }
}

/// Cells from the inverted one on: words with their chord below, or chords alone.
fn cells(body: &[&DrawnText]) -> Vec<Row> {
    let chords: Vec<&DrawnText> = body.iter().filter(|text| !is_word(&text.text)).copied().collect();
    let mut rows: Vec<(bool, Row)> = Vec::new();
    if body.iter().all(|text| !is_word(&text.text)) || chords.is_empty() {
        let alone = |text: &&DrawnText| match chords.is_empty() {
            true => (text.inverted, Row { words: vec![text.text.clone()], ..Row::default() }),
            false => (text.inverted, Row { words: vec![text.text.clone()], chord: text.text.clone() }),
        };
        rows.extend(body.iter().map(alone));
    }
    let alone = !rows.is_empty();
    for chord in chords.iter().filter(|_| !alone) {
        let middle = |text: &DrawnText| text.area.x + text.area.w / 2;
        let above = |text: &&&DrawnText| {
            let mine = |other: &&&DrawnText| same_line(chord, other);
            let nearest = chords.iter().filter(mine).min_by_key(|other| (middle(other) - middle(text)).abs());
            is_word(&text.text)
                && text.area.bottom() <= chord.area.y + 1
                && !chords.iter().any(|other| other.area.y < chord.area.y && text.area.bottom() <= other.area.y + 1)
                && nearest.is_some_and(|nearest| std::ptr::eq(*nearest, *chord))
        };
        let words = body.iter().filter(above).map(|text| text.text.clone()).collect();
        rows.push((chord.inverted, Row { words, chord: chord.text.clone() }));
    }
    let first = rows.iter().position(|(inverted, _)| *inverted).unwrap_or(0);
    rows.into_iter().skip(first).map(|(_, row)| row).collect()
}

/// What comes after: the words on the line of the chord that is not inverted.
fn after(body: &[&DrawnText], before: &[Row], panel: Panel) -> Option<Row> {
    let chord = body.iter().find(|text| tab_of(text, panel) == Some(1) && !text.inverted)?;
    let wide = panel.arrangement() == Arrangement::Wide;
    let is_mine = |text: &&&DrawnText| {
        let near = if wide { text.area.x > chord.area.x - 4 && text.area.bottom() <= chord.area.y + 2 && text.area.y > chord.area.y - 18 } else { same_line(chord, text) };
        near && is_word(&text.text) && !std::ptr::eq(**text, *chord)
    };
    let words: Vec<String> = body.iter().filter(is_mine).map(|text| text.text.clone()).collect();
    let chord = chord.text.clone();
    let words = if words.is_empty() && !before.is_empty() { vec![chord.clone()] } else { words };
    Some(Row { words, chord })
}
