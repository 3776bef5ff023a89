//! What of a page is to be played first, and what after it.

use super::super::page::{Large, PageCell, PracticePage, SetOnPage};

/// The set that is to be played first.
pub(super) fn first(page: &PracticePage) -> SetOnPage {
    match page.large {
        Large::Next => shown(&page.next, &page.chord_next),
        Large::Now | Large::Both => shown(&page.now, &page.chord_now),
    }
}

/// The set that is to be played after it, where the page has it: none of its cells is marked.
pub(super) fn after(page: &PracticePage) -> Option<SetOnPage> {
    let unmarked = SetOnPage {
        current: None,
        ..page.next.clone()
    };
    let is_there = unmarked != SetOnPage::default() || !page.chord_next.is_empty();
    (page.large != Large::Next && is_there).then_some(unmarked)
}

/// Groups have no room one above the other: all that is still to be played in one row of cells, the first one marked.
pub(super) fn in_a_row(page: &PracticePage, first: &SetOnPage, after: &SetOnPage) -> SetOnPage {
    let cells = |set: &SetOnPage, chord: &str| match set.cells.is_empty() {
        // What is known by its chord alone is told once.
        true if set.words == [chord] => vec![PageCell {
            chord: chord.to_string(),
            ..PageCell::default()
        }],
        true => vec![PageCell {
            chord: chord.to_string(),
            words: set.words.clone(),
            marks: set.marks.clone(),
        }],
        false => set.cells.clone(),
    };
    let mut row = cells(first, &page.chord_now);
    let played = first.current.unwrap_or(0).min(row.len());
    row.drain(..played);
    row.extend(cells(after, &page.chord_next));
    SetOnPage {
        cells: row,
        current: Some(0),
        ..SetOnPage::default()
    }
}

fn shown(set: &SetOnPage, chord: &str) -> SetOnPage {
    if set.words.is_empty() && set.cells.is_empty() && !chord.is_empty() {
        // Where the stage gives no notes away, what to play next is known by its chord alone.
        SetOnPage {
            words: vec![chord.to_string()],
            ..SetOnPage::default()
        }
    } else {
        set.clone()
    }
}
