//! A naive reader: it knows how a page is arranged and its grammar (the head of `display`), and nothing of what is played.
//!
//! It gets the texts that were drawn, each with its box, its height and whether it stands dark on light, and tells what
//! it would play, in order, over which chords, and what it was told to do.

use underfoot::display::{Area, Arrangement, DrawnText, Panel};

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

const VERBS: [&str; 7] = ["listen", "sing", "play", "answer", "break", "find", "then"];
const DEGREES: [&str; 8] = [
    "root", "second", "third", "fourth", "fifth", "sixth", "seventh", "rest",
];

fn is_note(text: &str) -> bool {
    let signs = ['♭', '♯', '𝄫', '𝄪'];
    let mut letters = text.chars();
    letters
        .next()
        .is_some_and(|first| ('A'..='G').contains(&first))
        && letters.all(|sign| signs.contains(&sign))
}

/// A note or a degree, with what stands before it: higher or lower than the root, bent.
fn is_word(text: &str) -> bool {
    let plain = text.trim_start_matches(['↑', '↓']);
    is_note(plain) || DEGREES.contains(&plain.trim_start_matches(['♭', '♯', '𝄫', '𝄪']))
}

/// What stands below a word: above or below the root.
fn is_mark(text: &str) -> bool {
    ["above", "below"].contains(&text)
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

/// Where the chords stand that a row is over: the upper one, the lower one.
fn tab_of(text: &DrawnText, panel: Panel) -> Option<usize> {
    let (w, h) = (panel.width as i32, panel.height as i32);
    let area = text.area;
    let (top, bottom) = (area.y < h / 5, area.bottom() > h - 7);
    let middle = area.y + area.h / 2;
    match panel.arrangement() {
        // The chord of the first row stands below it, that of the second at its end.
        Arrangement::OnlyTheSet if bottom && text.inverted.is_some() => Some(0),
        Arrangement::OnlyTheSet
            if area.right() > w - 3 && text.inverted.is_none() && text.cap < 9 && area.y > 7 =>
        {
            Some(1)
        }
        Arrangement::Corners if top && area.x < 5 => Some(0),
        Arrangement::Corners if area.right() > w - 5 && (middle - (h - 8)).abs() < 3 => Some(1),
        Arrangement::Wide if area.x > w * 2 / 3 && top => Some(0),
        Arrangement::Wide
            if (w * 2 / 3 + 6..w * 2 / 3 + 13).contains(&area.x)
                && (middle - (h - 8)).abs() < 3 =>
        {
            Some(1)
        }
        Arrangement::Tall if top && area.x < 12 => Some(0),
        Arrangement::Tall if area.right() > w - 16 && (middle - (h - 51)).abs() < 4 => Some(1),
        _ => None,
    }
}

/// Small print that says where it stands: section, bar, stage, tempo.
fn is_status(text: &DrawnText, panel: Panel) -> bool {
    let (w, h) = (panel.width as i32, panel.height as i32);
    match panel.arrangement() {
        Arrangement::OnlyTheSet => false,
        Arrangement::Corners => {
            text.cap < 9 && text.area.x < 2 && text.area.y >= h - 16 && !is_word(&text.text)
        }
        Arrangement::Wide => text.area.y >= h - 9 && text.area.x < w * 2 / 3,
        Arrangement::Tall => {
            let is_target = is_word(&text.text) || is_mark(&text.text);
            text.area.y >= h - 24 || text.area.x < 6 && text.area.y > h - 60 && !is_target
        }
    }
}

/// Reads a page.
pub fn read(texts: &[DrawnText], panel: Panel) -> Reading {
    let cut = texts
        .iter()
        .find(|text| text.text.contains('…') || text.text == "+");
    let verb = |text: &&DrawnText| VERBS.iter().any(|verb| text.text.starts_with(verb));
    let task = texts.iter().find(verb);
    // It goes on in the lines below.
    let mut lines: Vec<&DrawnText> = Vec::new();
    for text in texts {
        let goes_on = |line: &&DrawnText| {
            let rows = (line.area.y, line.area.bottom() + 1 + line.cap / 3);
            let columns = (line.area.x - 12, line.area.right() + 12);
            text.cap == line.cap
                && text.inverted.is_some() == line.inverted.is_some()
                && overlap((text.area.y, text.area.y + 1), rows)
                && overlap((text.area.x, text.area.right()), columns)
        };
        if task.is_some_and(|task| std::ptr::eq(task, text)) || lines.iter().any(goes_on) {
            lines.push(text);
        }
    }
    let is_task = |text: &DrawnText| lines.iter().any(|line| std::ptr::eq(*line, text));
    let told = lines.iter();
    let told: Vec<&str> = told.map(|text| text.text.as_str()).collect();
    let body = texts
        .iter()
        .filter(|text| !is_aside(&text.text) && !is_task(text) && !is_status(text, panel));
    let body: Vec<&DrawnText> = body.collect();
    let in_cells: Vec<&DrawnText> = body
        .iter()
        .filter(|text| text.cell.is_some())
        .copied()
        .collect();
    let alone: Vec<&DrawnText> = body
        .iter()
        .filter(|text| text.cell.is_none())
        .copied()
        .collect();
    let light = in_cells.iter().find(|text| text.inverted.is_some());
    let mut rows = match light {
        Some(_) => Vec::new(),
        None => {
            let mut rows = large(&alone, panel);
            rows.truncate(1);
            rows
        }
    };
    rows.extend(cells(&in_cells, &alone, panel));
    rows.extend(after(&alone, &rows, panel));
    Reading {
        rows,
        task: told.join(" "),
        cut: cut.map(|text| text.text.clone()),
    }
}

/// The words in the largest letters; a single one that has words beside it is their root, and they are the order.
fn large(body: &[&DrawnText], panel: Panel) -> Vec<Row> {
    // While it is counted in, its chord stands below the first set.
    let is_chord = |text: &&&DrawnText| match body.iter().any(|text| text.inverted.is_some()) {
        true => text.inverted.is_some() && tab_of(text, panel).is_some(),
        false => !is_word(&text.text) && !is_mark(&text.text) && tab_of(text, panel) != Some(1),
    };
    let chord = body.iter().find(is_chord);
    let chord = chord.map_or(String::new(), |text| text.text.clone());
    let end = body
        .iter()
        .find(|text| tab_of(text, panel) == Some(1) && text.inverted.is_none());
    let is_after = |text: &DrawnText| end.is_some_and(|end| is_beside(text, end, panel));
    let free = |text: &&&DrawnText| {
        !is_after(text) && tab_of(text, panel).is_none()
            || is_word(&text.text) && text.inverted.is_none() && !is_after(text)
    };
    let words: Vec<&DrawnText> = body.iter().filter(free).copied().collect();
    let Some(cap) = words.iter().map(|text| text.cap).max() else {
        return Vec::new();
    };
    let largest: Vec<&DrawnText> = words
        .iter()
        .filter(|text| text.cap == cap)
        .copied()
        .collect();
    let beside = |text: &&&DrawnText| {
        text.cap < cap && is_word(&text.text) && text.area.x >= largest[0].area.right()
    };
    let order: Vec<&DrawnText> = words.iter().filter(beside).copied().collect();
    let told = if largest.len() == 1 && order.len() >= 3 {
        order
    } else {
        largest
    };
    vec![Row {
        words: told.iter().map(|text| marked(text, body)).collect(),
        chord,
    }]
}

/// A word with the mark that stands below it.
fn marked(word: &DrawnText, body: &[&DrawnText]) -> String {
    let middle = |text: &DrawnText| text.area.x + text.area.w / 2;
    let below = body.iter().find(|text| {
        is_mark(&text.text)
            && (0..10).contains(&(text.area.y - word.area.bottom()))
            && (middle(text) - middle(word)).abs() <= 2
    });
    match below.map(|text| text.text.as_str()) {
        Some("below") => format!("↓{}", word.text),
        Some(_) => format!("↑{}", word.text),
        None => word.text.clone(),
    }
}

/// The cells, from the light one on. The chord stands below the words of each, in smaller letters where it could be one of them.
fn cells(body: &[&DrawnText], alone: &[&DrawnText], panel: Panel) -> Vec<Row> {
    let mut by_cell: Vec<(Area, Vec<&DrawnText>)> = Vec::new();
    for text in body {
        let cell = text.cell.expect("a cell");
        match by_cell.iter_mut().find(|(known, _)| *known == cell) {
            Some((_, texts)) => texts.push(text),
            None => by_cell.push((cell, vec![text])),
        }
    }
    by_cell.sort_by_key(|(cell, _)| (cell.y, cell.x));
    let is_light = |(_, texts): &(Area, Vec<&DrawnText>)| texts[0].inverted.is_some();
    let first = by_cell.iter().position(is_light).unwrap_or(0);
    by_cell.drain(..first);
    // Words that all have in common stand above the row of the chords.
    let shared = |cell: Area| {
        let above = alone.iter().filter(|text| {
            let below_px = cell.y - text.area.bottom();
            is_word(&text.text) && tab_of(text, panel).is_none() && (-2..20).contains(&below_px)
        });
        above.map(|text| text.text.clone()).collect::<Vec<_>>()
    };
    let row = |(cell, mut texts): (Area, Vec<&DrawnText>)| {
        texts.sort_by_key(|text| (text.area.bottom(), text.area.x));
        let cap = texts.iter().map(|text| text.cap).max().unwrap_or(0);
        let has_degrees = texts
            .iter()
            .any(|text| DEGREES.iter().any(|degree| text.text.ends_with(degree)));
        let is_chord = |text: &DrawnText| {
            let is_smaller = text.cap * 4 <= cap * 3;
            !is_word(&text.text) || is_note(&text.text) && (has_degrees || is_smaller)
        };
        let chord: String = texts
            .iter()
            .filter(|text| is_chord(text))
            .map(|text| text.text.clone())
            .collect();
        let words: Vec<String> = texts
            .iter()
            .filter(|text| !is_chord(text))
            .map(|text| marked(text, &texts))
            .collect();
        match (words.is_empty(), shared(cell)) {
            (false, _) if chord.is_empty() && words.len() == 1 && !shared(cell).is_empty() => Row {
                chord: words[0].clone(),
                words: shared(cell),
            },
            (false, _) => Row { words, chord },
            (true, shared) if shared.is_empty() => Row {
                words: vec![chord.clone()],
                chord,
            },
            (true, words) => Row { words, chord },
        }
    };
    by_cell.into_iter().map(row).collect()
}

/// Whether a text stands with the chord of what comes after: left of it in as many lines as it takes, or above it.
fn is_beside(text: &DrawnText, chord: &DrawnText, panel: Panel) -> bool {
    match panel.arrangement() {
        Arrangement::Wide => {
            text.area.x > chord.area.x - 4
                && text.area.bottom() <= chord.area.y + 2
                && text.area.y > chord.area.y - 34
        }
        _ => {
            text.inverted.is_none()
                && text.area.bottom() > chord.area.y
                && text.area.right() <= chord.area.right()
        }
    }
}

/// What comes after: the words on the line of the chord that is not inverted.
fn after(body: &[&DrawnText], before: &[Row], panel: Panel) -> Option<Row> {
    let chord = body
        .iter()
        .find(|text| tab_of(text, panel) == Some(1) && text.inverted.is_none())?;
    let is_mine = |text: &&&DrawnText| {
        is_beside(text, chord, panel) && is_word(&text.text) && !std::ptr::eq(**text, *chord)
    };
    let words: Vec<String> = body
        .iter()
        .filter(is_mine)
        .map(|text| marked(text, body))
        .collect();
    let chord = chord.text.clone();
    let words = if words.is_empty() && !before.is_empty() {
        vec![chord.clone()]
    } else {
        words
    };
    Some(Row { words, chord })
}
