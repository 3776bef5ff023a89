//! Words of a set in lines: as large as they fit, none broken and none cut.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, LEAST_CAP_PX, Type};

/// Columns between words of small print, and where they are scarce.
const SMALL_GAPS: [i32; 2] = [5, 2];

/// Columns between words.
pub(super) fn word_gap(kind: Type) -> i32 {
    match kind {
        Type::Large(cap) => (cap * 9 / 20).max(5),
        Type::Small => SMALL_GAPS[0],
    }
}

/// Where words stand: their type and their lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Flow {
    pub kind: Type,
    /// How many words each line takes.
    lines: Vec<usize>,
    gap: i32,
    height: i32,
}

impl Flow {
    /// How many lines there are.
    pub fn line_count(&self) -> usize {
        self.lines.len()
    }
}

/// `words` as large as they fit, capitals at most `most` pixels, in one line if that costs little. `None`: not even
/// small print has room for all of them.
pub(super) fn flow(words: &[String], w: i32, h: i32, most: i32) -> Option<Flow> {
    let sizes = || {
        let large = (LEAST_CAP_PX..=most.min(h)).rev().map(Type::Large);
        let large = large.map(|kind| (kind, word_gap(kind)));
        large.chain(SMALL_GAPS.map(|gap| (Type::Small, gap)))
    };
    let find = |lines| sizes().find_map(|(kind, gap)| flow_at(words, w, h, (kind, gap), lines));
    let (one_line, lines) = (find(1), find(words.len()));
    // One line reads more easily, unless its letters are much smaller.
    match (&one_line, &lines) {
        (Some(one), Some(more)) if 2 * more.kind.cap() < 3 * one.kind.cap() => one_line,
        _ => lines,
    }
}

fn flow_at(
    words: &[String],
    w: i32,
    h: i32,
    (kind, gap): (Type, i32),
    most_lines: usize,
) -> Option<Flow> {
    let mut lines: Vec<usize> = Vec::new();
    let mut used = 0;
    for word in words {
        let wide = kind.width(word);
        if wide > w {
            return None;
        }
        match lines.last_mut() {
            Some(count) if used + gap + wide <= w => {
                *count += 1;
                used += gap + wide;
            }
            _ => {
                lines.push(1);
                used = wide;
            }
        }
    }
    let first_of_last = words.len() - lines.last().copied().unwrap_or(0);
    let lowest = words[first_of_last..].iter().map(|word| rows(kind, word));
    let height = kind.line() * (lines.len() as i32 - 1).max(0) + lowest.max().unwrap_or(0);
    (lines.len() <= most_lines.max(1) && height <= h).then_some(Flow {
        kind,
        lines,
        gap,
        height,
    })
}

/// Rows that a word lights: small print keeps its last one for letters that go below the line.
fn rows(kind: Type, word: &str) -> i32 {
    match kind {
        Type::Small if !word.contains(|c| "gjpqy,;()/".contains(c)) => kind.height(word) - 1,
        _ => kind.height(word),
    }
}

/// Draws the words as `flow` has laid them out, in the middle of the height.
pub(super) fn draw_flow(
    bitmap: &mut Bitmap,
    words: &[String],
    flow: &Flow,
    area: Area,
    align: Align,
) {
    let mut y = area.y + (area.h - flow.height).max(0) / 2;
    let mut rest = words;
    for count in &flow.lines {
        let (line, after) = rest.split_at(*count);
        rest = after;
        let wide: i32 = line.iter().map(|word| flow.kind.width(word)).sum();
        let spare = area.w - wide - flow.gap * (*count as i32 - 1);
        let mut x = area.x
            + match align {
                Align::Left => 0,
                Align::Middle => spare / 2,
                Align::Right => spare,
            };
        for word in line {
            flow.kind.draw(bitmap, word, x, y, true);
            x += flow.kind.width(word) + flow.gap;
        }
        y += flow.kind.line();
    }
}

/// Draws `words` in `area`, all of them if they fit; else as many whole ones as do, and a + for the others. Whether
/// all stand there.
pub(super) fn draw_words(
    bitmap: &mut Bitmap,
    words: &[String],
    area: Area,
    most: i32,
    align: Align,
) -> bool {
    if let Some(flow) = flow(words, area.w, area.h, most) {
        draw_flow(bitmap, words, &flow, area, align);
        return true;
    }
    for kept in (0..words.len()).rev() {
        let mut some = words[..kept].to_vec();
        some.push("+".to_string());
        if let Some(flow) = flow(&some, area.w, area.h, most) {
            draw_flow(bitmap, &some, &flow, area, align);
            break;
        }
    }
    false
}

/// The least columns in which all words stand in small print on `h` rows.
pub(super) fn least_width(words: &[String], h: i32) -> i32 {
    let widest = words.iter().map(|word| Type::Small.width(word)).max();
    let all: i32 = words
        .iter()
        .map(|word| Type::Small.width(word) + SMALL_GAPS[1])
        .sum();
    let least = widest.unwrap_or(0);
    (least..=all.max(least))
        .find(|w| flow_at(words, *w, h, (Type::Small, SMALL_GAPS[1]), words.len()).is_some())
        .unwrap_or(all)
}

/// How much of its sets a page lets the player read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PageWords {
    /// Every word stands there.
    Whole,
    /// Every word of the chords that are shown; of a group the last chords are left for later.
    FewerChords,
    /// A + stands for words that have no room.
    Cut,
}

impl PageWords {
    pub(super) fn of(is_whole: bool) -> PageWords {
        if is_whole {
            PageWords::Whole
        } else {
            PageWords::Cut
        }
    }
}

/// The words with an arrow for their mark, where no room is left for the mark below.
pub(super) fn with_arrows(words: &[String], marks: &[String]) -> Vec<String> {
    let arrow = |place: usize| match marks.get(place).map(String::as_str) {
        Some("above") => "↑",
        Some("below") => "↓",
        _ => "",
    };
    let words = words.iter().enumerate();
    words
        .map(|(place, word)| format!("{}{word}", arrow(place)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_laid_out_whole() {
        let cases: [(&str, i32, i32, Option<&[usize]>); 5] = [
            ("D F♯ A", 124, 32, Some(&[3])),
            ("root second third", 59, 16, Some(&[2, 1])),
            ("G♭ A♭ B♭ C♭ D♭", 59, 7, Some(&[5])),
            ("root second third", 59, 8, None),
            ("seventh", 30, 40, None),
        ];
        for (text, w, h, lines) in cases {
            let words: Vec<String> = text.split(' ').map(str::to_string).collect();
            let found = flow(&words, w, h, h).map(|flow| flow.lines);
            assert_eq!(found.as_deref(), lines, "{text}");
        }
    }

    #[test]
    fn what_does_not_fit_is_told_by_a_plus() {
        let words: Vec<String> = ["root", "second"].map(str::to_string).to_vec();
        let area = Area::new(0, 0, 30, 8);
        let mut drawn = Bitmap::new(30, 8);
        assert!(!draw_words(&mut drawn, &words, area, 8, Align::Left));
        let mut expected = Bitmap::new(30, 8);
        Type::Small.draw(&mut expected, "root", 0, 0, true);
        Type::Small.draw(&mut expected, "+", 25, 0, true);
        assert_eq!(drawn.art(), expected.art());
        assert_eq!(least_width(&words, 8), 52);
        assert_eq!(least_width(&words, 16), 30);
    }
}
