//! What stands on the page is what the log says stands there: the page changes its chords only where a page line
//! tells of it, through seams, new plans and what the player has forgotten. (A law of ours: the log is read as
//! the page.)

use crate::support::demo::{CHARTS, DRILLS, read};
use crate::support::practice::told::all_words;
use crate::support::practice::*;
use std::collections::BTreeMap;
use underfoot::display::{
    Bitmap, Page, PageWords, Panel, PracticePage, degree_word, draw, reading,
};
use underfoot::drill::PageHelp;
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
        let stood = (all_words(&page.now), all_words(&page.next));
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
            "10; +0 loop here; 28; +0 loop here; 50",
        ),
        (
            "tram-to-the-salt-pans",
            "guide-tones",
            280.0,
            "30; +0 tempo up; 44; +0 back a bar; 70",
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

/// Where an ellipsis of small print stands: three dots alone in a letter's box.
fn ellipses(bitmap: &Bitmap) -> usize {
    let (w, h) = (bitmap.width() as i32, bitmap.height() as i32);
    let is_box = |left: i32, top: i32| {
        let dots = |lit: bool| {
            (0..8).all(|y| {
                (0..5).all(|x| bitmap.get(left + x, top + y) == (lit ^ (y == 5 && x % 2 == 0)))
            })
        };
        // A row of dots that goes on is a string of the neck.
        let goes_on = bitmap.get(left - 2, top + 5) || bitmap.get(left + 6, top + 5);
        (dots(false) && !goes_on) || dots(true)
    };
    let tops = (0..h - 7).flat_map(|top| (0..w - 4).map(move |left| (left, top)));
    tops.filter(|(left, top)| is_box(*left, *top)).count()
}

/// What a page says besides its sets, taken away: names may be shortened.
fn only_sets(page: &PracticePage) -> Page {
    Page::Practice(Box::new(PracticePage {
        stage: String::new(),
        section: String::new(),
        note: String::new(),
        bar: 1,
        beats_to_change: 4,
        ..page.clone()
    }))
}

/// Every shipped drill over every shipped chart: no target note is lost. (Our own rule.)
#[test]
fn no_set_is_cut_on_any_page() {
    let panels = [
        Panel {
            panel_mm: Some(61.5),
            ..Panel::new(128, 64)
        },
        Panel {
            panel_mm: Some(24.4),
            ..Panel::new(128, 64)
        },
        Panel::new(128, 32),
        Panel::new(256, 64),
        Panel::new(320, 240),
    ];
    // The longer tier plays whole passes, and all of them with degrees as well.
    let thorough = std::env::var("UNDERFOOT_ALL_STAGES").is_ok();
    let script = if thorough { "34" } else { "8" };
    let mut seen: BTreeMap<String, Page> = BTreeMap::new();
    for chart in CHARTS {
        for drill in DRILLS {
            let library = library(&[&read("charts", chart)], &read("drills", drill));
            let stages = library.drill.stages.len();
            for (stage, page) in
                (0..stages).flat_map(|stage| [(stage, None), (stage, Some(PageHelp::Degrees))])
            {
                if page.is_some() && drill == "ladder" && !thorough {
                    continue;
                }
                let mut library = library.clone();
                let help = &mut library.drill.stages[stage].help;
                help.page = page.unwrap_or(help.page);
                let mut room = Room::new(library, settings(2));
                room.core.stand(stage, false);
                room.core.set_start_tempo(280.0);
                for (_, page) in room.started(script).pages {
                    if let Page::Practice(page) = page {
                        let told = format!(
                            "{:?} {:?} {:?} {} {}",
                            page.now, page.next, page.large, page.chord_now, page.chord_next
                        );
                        seen.entry(told).or_insert_with(|| only_sets(&page));
                    }
                }
            }
        }
    }
    let mut readings: BTreeMap<(usize, PageWords), usize> = BTreeMap::new();
    let mut faults = Vec::new();
    for (told, page) in &seen {
        for (at, panel) in panels.iter().enumerate() {
            let reading = reading(page, *panel);
            *readings.entry((at, reading)).or_default() += 1;
            if reading == PageWords::Cut || ellipses(&draw(page, *panel)) > 0 {
                faults.push(format!("{panel:?}: {reading:?} {told}"));
            }
        }
    }
    println!("{} pages: {readings:?}", seen.len());
    assert!(
        seen.len() > 500,
        "{} pages are too few to judge by",
        seen.len()
    );
    assert!(
        faults.is_empty(),
        "{} faults, first {}",
        faults.len(),
        faults.join("\n")
    );
}
