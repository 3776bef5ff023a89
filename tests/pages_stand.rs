//! What stands on the page is what the log says stands there: the page changes its chords only where a page line
//! tells of it, through seams, new plans and what the player has forgotten. (A law of ours: the log is read as
//! the page.)

#[path = "support/demo.rs"]
mod demo;
mod practice_support;

use demo::read;
use practice_support::*;
use underfoot::display::{Page, degree_word};
use underfoot::harmony::Degree;
use underfoot::practice::Recorded;

/// The words of the upper and the lower set.
type Sets = (Vec<String>, Vec<String>);

/// Notes and degrees of a line as the page writes them.
fn on_page(words: &[String]) -> Vec<String> {
    let word = |word: &String| match word.parse::<Degree>() {
        Ok(degree) => degree_word(degree).to_string(),
        Err(_) => word.replace('b', "♭").replace('#', "♯"),
    };
    words.iter().map(word).collect()
}

/// Practice pages whose sets differ from what the last page line told: when, what stood there, what was told.
fn untold(room: &Room) -> Vec<(u64, Sets, Sets)> {
    let told = room.records.iter().filter_map(|record| match &record.what {
        Recorded::Page { now, next, .. } => Some((record.frame.0, (now.clone(), next.clone()))),
        _ => None,
    });
    let told: Vec<(u64, Sets)> = told.collect();
    let mut untold = Vec::new();
    for (index, (at, page)) in room.pages.iter().enumerate() {
        // Of several pages at one time only the last can be seen.
        let newer = room.pages.get(index + 1);
        if newer.is_some_and(|(next, _)| next == at) {
            continue;
        }
        let Page::Practice(page) = page else { continue };
        let stood = (page.now.all_words(), page.next.all_words());
        let last = told.iter().rfind(|(frame, _)| frame <= at);
        let told = last.map(|(_, sets)| sets.clone()).unwrap_or_default();
        let told = (on_page(&told.0), on_page(&told.1));
        if stood != told {
            untold.push((*at, stood, told));
        }
    }
    untold
}

#[test]
fn the_page_changes_only_where_a_line_tells_of_it() {
    let mut pages = 0;
    for (chart, drill, qpm, script) in [
        ("ferry-at-six", "first-evening", 280.0, "90"),
        ("gasworks-corner", "roots", 280.0, "60"),
        (
            "gasworks-corner",
            "three-notes",
            280.0,
            "40; +0 next stage; 80",
        ),
        (
            "nine-lanterns",
            "three-notes",
            240.0,
            "20; +0 next section; 30; +0 next stage; 80",
        ),
        (
            "nine-lanterns",
            "three-notes",
            120.0,
            "10; +0 this spot; 28; +0 this spot; 50",
        ),
        (
            "tram-to-the-salt-pans",
            "guide-tones",
            280.0,
            "30; +0 tempo up; 44; +0 bar back; 70",
        ),
    ] {
        let library = library(&[&read("charts", chart)], &read("drills", drill));
        let mut room = Room::new(library, settings(2));
        room.core.set_start_tempo(qpm);
        let room = room.started(script);
        let faults = untold(&room);
        assert!(
            faults.is_empty(),
            "{chart}, {drill} at {qpm}: {} pages, first {:?}",
            faults.len(),
            faults[0]
        );
        pages += room.pages.len();
    }
    assert!(pages > 500, "{pages} pages are too few to judge by");
}
