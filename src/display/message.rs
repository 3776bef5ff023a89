//! What of a message stands on a page: whole words, in lines that fit, and no more of them than are turned through in a
//! while that anybody waits. The rest is in the log, and the last line says so.

use super::glyphs::{Type, shorten, wrap};
use super::layout::{Panel, print};

/// Empty columns at both sides of running text.
pub(super) const MARGIN: i32 = 2;
/// The most parts that a message is turned through.
const MOST_PARTS: usize = 3;
/// The last line of a message that is longer.
pub const MORE: &str = "more in the log";

/// The lines of a message as they stand on `panel`, all its parts.
pub fn message_text(lines: &[String], panel: Panel) -> Vec<String> {
    let (kind, w) = (print(panel), panel.width as i32 - 2 * MARGIN);
    let rows = message_rows(panel);
    // Each part but the last gives its last row away, which says how much is to come.
    let most = rows + (MOST_PARTS - 1) * rows.saturating_sub(1).max(1);
    in_rows(lines, most, &|line| wrap(line, kind, w))
}

/// How many lines a message has on `panel`.
pub fn message_lines(lines: &[String], panel: Panel) -> usize {
    message_text(lines, panel).len()
}

/// How many lines of a message stand on `panel` at a time.
pub fn message_rows(panel: Panel) -> usize {
    let line = print(panel).line();
    ((panel.height as i32 - line - 2) / line).max(1) as usize
}

/// A title in a line of `w` columns: as many whole words as fit, with … for the others.
pub(super) fn title_words(title: &str, kind: Type, w: i32) -> String {
    let words: Vec<&str> = title.split_whitespace().collect();
    let whole = words.join(" ");
    if kind.width(&whole) <= w {
        return whole;
    }
    let fewer = (1..words.len())
        .rev()
        .map(|count| words[..count].join(" ") + " …");
    let fits = fewer.into_iter().find(|text| kind.width(text) <= w);
    fits.unwrap_or_else(|| shorten(&whole, kind, w))
}

/// Texts in at most `most` lines as `wrap` breaks them; where there are more, the last one says so. A word is cut only
/// where it is longer than a line.
pub(super) fn in_rows(
    texts: &[String],
    most: usize,
    wrap: &dyn Fn(&str) -> Vec<String>,
) -> Vec<String> {
    let mut rows: Vec<(String, bool)> = Vec::new();
    for text in texts {
        let mut left: Vec<usize> = text.split_whitespace().map(letters).collect();
        left.reverse();
        for row in wrap(text) {
            let ends_word = passes(&mut left, letters(&row));
            rows.push((row, ends_word));
        }
    }
    if rows.len() <= most {
        return rows.into_iter().map(|(row, _)| row).collect();
    }
    let room = most.saturating_sub(1);
    let whole = rows[..room].iter().rposition(|(_, ends_word)| *ends_word);
    rows.truncate(whole.map_or(room, |last| last + 1));
    let rows = rows.into_iter().map(|(row, _)| row);
    rows.chain([MORE.to_string()]).collect()
}

fn letters(text: &str) -> usize {
    text.chars().filter(|c| !c.is_whitespace()).count()
}

/// Takes so many letters off the words that are left (the next one last); whether the last of them ended its word.
fn passes(left: &mut Vec<usize>, mut count: usize) -> bool {
    while count > 0 {
        let Some(word) = left.last_mut() else {
            return true;
        };
        let taken = count.min(*word);
        *word -= taken;
        count -= taken;
        if *word > 0 {
            return false;
        }
        left.pop();
    }
    true
}

/// `text` in lines of at most `columns` letters, broken between words, and within a word only where it is longer than
/// a line: for screens of letters.
pub(super) fn wrap_letters(text: &str, columns: usize) -> Vec<String> {
    let columns = columns.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0;
    for word in text.split_whitespace() {
        let count = word.chars().count();
        if used > 0 && used + 1 + count > columns {
            lines.push(std::mem::take(&mut line));
            used = 0;
        }
        if used > 0 {
            line.push(' ');
            used += 1;
        }
        for letter in word.chars() {
            if used == columns {
                lines.push(std::mem::take(&mut line));
                used = 0;
            }
            line.push(letter);
            used += 1;
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_ends_with_a_whole_word_and_says_that_there_is_more() {
        let texts = |lines: &[&str]| lines.iter().map(ToString::to_string).collect::<Vec<_>>();
        let cases: &[(&[&str], usize, &[&str])] = &[
            (&["one two", "three"], 3, &["one two", "three"]),
            (&["one two", "three"], 2, &["one two", "three"]),
            (&["one two", "three", "four"], 2, &["one two", MORE]),
            // A long word goes over lines, but is not left in the middle.
            (
                &["in abcdefghijklmnop q"],
                4,
                &["in", "abcdefgh", "ijklmnop", "q"],
            ),
            (&["in abcdefghijklmnop q"], 3, &["in", MORE]),
            // Unless there is nothing else.
            (
                &["abcdefghijklmnopqrstuvwxyz"],
                3,
                &["abcdefgh", "ijklmnop", MORE],
            ),
            (&["  ", ""], 2, &[]),
        ];
        for (lines, most, shown) in cases {
            let rows = in_rows(&texts(lines), *most, &|line| wrap_letters(line, 8));
            assert_eq!(rows, texts(shown), "{lines:?} in {most}");
        }
    }
}
