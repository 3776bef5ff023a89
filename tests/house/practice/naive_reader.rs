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

const VERBS: [&str; 5] = ["listen", "sing", "play", "break", "find"];
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
    let (top, bottom) = (area.y < h / 5, area.bottom() > h - 7);
    let middle = area.y + area.h / 2;
    match panel.arrangement() {
        // The chord of the first row stands below it, that of the second at its end.
        Arrangement::OnlyTheSet if bottom && text.inverted.is_some() => Some(0),
        Arrangement::OnlyTheSet
            if area.right() > w - 3
                && text.inverted.is_none()
                && text.cap < 9
                && area.y > h / 3 =>
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
            text.area.y >= h - 24 || text.area.x < 6 && text.area.y > h - 60 && !is_word(&text.text)
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
    let is_task = |text: &DrawnText| {
        task.is_some_and(|task| {
            let rows = (task.area.y, task.area.bottom() + 1 + task.cap / 3);
            text.cap == task.cap
                && text.inverted.is_some() == task.inverted.is_some()
                && overlap((text.area.y, text.area.y + 1), rows)
                && overlap(
                    (text.area.x, text.area.right()),
                    (task.area.x - 12, task.area.right() + 12),
                )
        })
    };
    let told = texts.iter().filter(|text| is_task(text));
    let told: Vec<&str> = told.map(|text| text.text.as_str()).collect();
    let is_tab = |text: &DrawnText| !is_aside(&text.text) && tab_of(text, panel).is_some();
    let body = texts
        .iter()
        .filter(|text| !is_aside(&text.text) && !is_task(text) && !is_status(text, panel));
    let body: Vec<&DrawnText> = body.collect();
    let marked = body
        .iter()
        .find(|text| text.inverted.is_some() && !is_tab(text));
    let mut rows = match marked.and_then(|text| text.inverted) {
        Some(cell) => {
            // What comes after has its chord in its corner, or is a group with smaller cells.
            let is_end =
                |text: &DrawnText| tab_of(text, panel) == Some(1) && text.inverted.is_none();
            let is_group = !body.iter().any(|text| is_end(text));
            let lower = |text: &&&DrawnText| is_lower(text, texts, panel);
            let is_cell = |text: &&&DrawnText| !lower(text);
            let mut rows = cells(
                &body.iter().filter(is_cell).copied().collect::<Vec<_>>(),
                cell,
            );
            let lower: Vec<&DrawnText> = body.iter().filter(lower).copied().collect();
            if is_group {
                rows.extend(lower_cells(&lower));
            }
            rows
        }
        None => {
            let mut rows = large(&body, panel);
            rows.truncate(1);
            rows
        }
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
    // While it is counted in, its chord stands below the first set.
    let is_chord = |text: &&&DrawnText| match body.iter().any(|text| text.inverted.is_some()) {
        true => text.inverted.is_some() && tab_of(text, panel).is_some(),
        false => !is_word(&text.text) && tab_of(text, panel) != Some(1),
    };
    let chord = body.iter().find(is_chord);
    let chord = chord.map_or(String::new(), |text| text.text.clone());
    let end = body
        .iter()
        .find(|text| tab_of(text, panel) == Some(1) && text.inverted.is_none());
    let is_after = |text: &DrawnText| {
        let below = panel.arrangement() == Arrangement::OnlyTheSet;
        end.is_some_and(|end| same_line(end, text) || below && text.area.y >= end.area.y - 2)
    };
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
        ["above", "below"].contains(&text.text.as_str())
            && text.area.y >= word.area.bottom()
            && (middle(text) - middle(word)).abs() <= 2
    });
    match below.map(|text| text.text.as_str()) {
        Some("below") => format!("↓{}", word.text),
        Some(_) => format!("↑{}", word.text),
        None => word.text.clone(),
    }
}

/// Whether a text is of the smaller cells of the group to come.
fn is_lower(text: &DrawnText, texts: &[DrawnText], panel: Panel) -> bool {
    let (w, h) = (panel.width as i32, panel.height as i32);
    // Where the distance stands in the corner, nothing comes after.
    let last = |text: &DrawnText| {
        text.text.ends_with("beats") && text.area.x < w / 20 && text.area.bottom() > h - 36
    };
    let alone = texts.iter().any(last)
        || texts
            .iter()
            .any(|text| text.text == "1 beat" && text.area.x < w / 20);
    match panel.arrangement() {
        Arrangement::OnlyTheSet => false,
        Arrangement::Corners => !alone && text.area.y >= h - 23,
        Arrangement::Wide => text.area.x > w * 2 / 3,
        Arrangement::Tall => !alone && text.area.y >= h - 75,
    }
}

/// Cells in the rows and columns that the light one shows, from that on: words, and a chord on the last line of each.
fn cells(body: &[&DrawnText], light: Area) -> Vec<Row> {
    let place = |text: &DrawnText| {
        let (x, y) = (text.area.x + text.area.w / 2, text.area.y + text.area.h / 2);
        (
            (y - light.y).div_euclid(light.h + 1),
            (x - light.x).div_euclid(light.w + 1),
        )
    };
    // Chords that are written like notes stand alone on the last line of every cell.
    let on_last = |text: &&DrawnText| {
        let mine: Vec<&&DrawnText> = body
            .iter()
            .filter(|other| place(other) == place(text))
            .collect();
        let last = mine.iter().max_by_key(|text| text.area.y);
        let above = mine.iter().map(|text| text.cap).max();
        let count = mine
            .iter()
            .filter(|text| Some(text.area.y) == last.map(|last| last.area.y))
            .count();
        count == 1 && last.map(|last| last.cap * 4) < above.map(|above| above * 3)
    };
    let has_degrees = body
        .iter()
        .any(|text| is_word(&text.text) && text.text.len() > 8);
    let has_chords =
        has_degrees || body.iter().any(|text| !is_word(&text.text)) || body.iter().all(on_last);
    let in_box = |text: &&&DrawnText| place(text) == (0, 0);
    let is_shared = body.iter().filter(in_box).count() == 1
        && body
            .iter()
            .any(|text| is_word(&text.text) && place(text).0 < 0)
        && has_chords;
    let mut by_place: std::collections::BTreeMap<(i32, i32), Vec<&DrawnText>> = Default::default();
    for text in body {
        by_place.entry(place(text)).or_default().push(text);
    }
    let shared: Vec<String> = body
        .iter()
        .filter(|text| place(text).0 < 0)
        .map(|text| text.text.clone())
        .collect();
    let row = |texts: Vec<&DrawnText>| {
        let last = texts.iter().map(|text| text.area.y).max();
        let is_chord = |text: &DrawnText| has_chords && Some(text.area.y) == last;
        let words = texts
            .iter()
            .filter(|text| !is_chord(text))
            .map(|text| text.text.clone());
        let chord = texts
            .iter()
            .filter(|text| is_chord(text))
            .map(|text| text.text.clone());
        let chord: String = chord.collect();
        let words: Vec<String> = words.collect();
        let words = match (words.is_empty(), is_shared) {
            (_, true) => shared.clone(),
            (true, _) => vec![chord.clone()],
            _ => words,
        };
        Row { words, chord }
    };
    let from = by_place.into_iter().filter(|(place, _)| *place >= (0, 0));
    from.map(|(_, texts)| row(texts)).collect()
}

/// Smaller cells without a light one: lines of words, and below them a line of chords in smaller type, or words alone.
fn lower_cells(body: &[&DrawnText]) -> Vec<Row> {
    let middle = |text: &DrawnText| text.area.x + text.area.w / 2;
    let mut lines: Vec<Vec<&DrawnText>> = Vec::new();
    let mut sorted = body.to_vec();
    sorted.sort_by_key(|text| text.area.bottom());
    for text in sorted {
        match lines.last_mut() {
            Some(line) if text.area.bottom() - line[0].area.bottom() < 4 => line.push(text),
            _ => lines.push(vec![text]),
        }
    }
    let (mut rows, mut words): (Vec<Row>, Vec<&DrawnText>) = Default::default();
    for mut line in lines {
        line.sort_by_key(|text| text.area.x);
        let smaller = words
            .iter()
            .any(|word| line.iter().all(|text| text.cap * 4 < word.cap * 3));
        if !smaller && line.iter().all(|text| is_word(&text.text)) {
            words.extend(line);
            continue;
        }
        let over = std::mem::take(&mut words);
        for chord in &line {
            let nearest = |text: &&&DrawnText| {
                let best = line
                    .iter()
                    .min_by_key(|other| (middle(other) - middle(text)).abs());
                best.is_some_and(|best| std::ptr::eq(*best, *chord))
            };
            let mine: Vec<String> = over
                .iter()
                .filter(nearest)
                .map(|text| text.text.clone())
                .collect();
            let words = if mine.is_empty() {
                vec![chord.text.clone()]
            } else {
                mine
            };
            rows.push(Row {
                words,
                chord: chord.text.clone(),
            });
        }
    }
    // What stands without chords is read in the order of the cells.
    let alone = body
        .iter()
        .filter(|text| words.iter().any(|word| std::ptr::eq(*word, **text)));
    rows.extend(alone.map(|text| Row {
        words: vec![text.text.clone()],
        chord: String::new(),
    }));
    rows
}

/// What comes after: the words on the line of the chord that is not inverted.
fn after(body: &[&DrawnText], before: &[Row], panel: Panel) -> Option<Row> {
    let chord = body
        .iter()
        .find(|text| tab_of(text, panel) == Some(1) && text.inverted.is_none())?;
    let wide = panel.arrangement() == Arrangement::Wide;
    let is_mine = |text: &&&DrawnText| {
        let near = if wide {
            text.area.x > chord.area.x - 4
                && text.area.bottom() <= chord.area.y + 2
                && text.area.y > chord.area.y - 30
        } else {
            same_line(chord, text)
                || panel.arrangement() == Arrangement::OnlyTheSet && text.area.y >= chord.area.y - 2
        };
        near && is_word(&text.text) && !std::ptr::eq(**text, *chord)
    };
    let words: Vec<String> = body
        .iter()
        .filter(is_mine)
        .map(|text| text.text.clone())
        .collect();
    let chord = chord.text.clone();
    let words = if words.is_empty() && !before.is_empty() {
        vec![chord.clone()]
    } else {
        words
    };
    Some(Row { words, chord })
}
