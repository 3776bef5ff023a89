//! A set gone through by foot, by song select and by itself: one line a case, in virtual time. What each should do is common
//! practice of bandleaders, no source.

use crate::support::practice::*;
use crate::support::program::root;
use underfoot::daemon::set_list;
use underfoot::display::{Page, Panel, drawn_texts};
use underfoot::foot::FootState;
use underfoot::practice::{Leads, Library, Recorded};

fn eight() -> Library {
    set_list::load(&root("tests/fixtures/sets/eight/set.toml"), None).expect("a set")
}

fn room() -> Room {
    Room::new(eight(), settings(2))
}

/// The first letters of the tunes that were on, one after the other; `'` where it began to sound while another did.
fn tunes(room: &Room) -> String {
    let tune = |record: &underfoot::practice::Record| match &record.what {
        Recorded::Tune { title, .. } => {
            let letters: String = title
                .split(' ')
                .filter_map(|word| word.chars().next())
                .collect();
            let sounds = if record.tick.is_some() { "'" } else { "" };
            Some(format!("{letters}{sounds}"))
        }
        _ => None,
    };
    let mut words: Vec<String> = room.records.iter().filter_map(tune).collect();
    // A take tells once more which tune it is.
    words.dedup_by(|two, one| two.trim_end_matches('\'') == one.trim_end_matches('\''));
    words.join(" ")
}

#[rustfmt::skip]
const WALKED: &[(&str, &str, &str, &str)] = &[
    ("a tune goes round as a whole",               "+0.1 start; 40",                                "TK",               "n C D F G C D F G C D"),
    ("at rest the foot moves on and back",         "+0.1 next chart; +0.1 next chart; +0.1 previous chart; +0.1 start; 7", "TK CR WL CR", "n A B"),
    ("round the ends of the list",                 "+0.1 previous chart; +0.1 next chart",          "TK LL TK",         ""),
    ("a song select chooses at rest",              "+0.1 song 5; +0.1 song 40; +0.1 song 1",        "TK GS SG CR",      ""),
    ("a number of no tune chooses nothing",        "+0.1 song 6; +0.1 song 99",                     "TK",               ""),
    ("a tune that is over is followed by the next", "+0.1 start; 1 last time; +5; +0.1 start; 3",   "TK CR",            "n C D F C . | n A"),
    ("one that is stopped is not",                 "+0.1 start; 6 stop; +1; +0.1 start; 3",         "TK",               "n C D . | n C"),
    ("the next one, at the section's end",         "+0.1 start; 1 next chart; 17",                  "TK CR'",           "n C D A B A"),
    ("a song, at the section's end",               "+0.1 start; 1 song 2; 17",                      "TK WL'",           "n C D Bb G C"),
    ("of two songs the last",                      "+0.1 start; 1 song 2; 2 song 1; 17",            "TK CR'",           "n C D A B A"),
    ("stay here calls a song off",                 "+0.1 start; 1 song 2; 2 stay here; 17",         "TK",               "n C D F G C"),
    ("a segue leads on without a stop",            "+0.1 song 2; +0.1 start; 1 last time; 23",      "TK WL CH'",        "n n Bb G C F F D G"),
    ("its own last time ends",                     "+0.1 song 2; +0.1 start; 1 last time; 17 last time; +6", "TK WL CH' FB", "n n Bb G C F F D G F ."),
    ("the last tune stays",                        "+0.1 song 7; +0.1 start; 1 last time; +7; ",    "TK LL",            "n n Eb C F Eb ."),
    ("no count-in",                                "+0.1 song 40; +0.1 start; 7",                   "TK SG",            "A D A"),
];

#[test]
fn a_set_is_gone_through() {
    let mut wrong = Vec::new();
    for (what, script, expected, heard) in WALKED {
        let mut room = room();
        room.play(script);
        let told = (tunes(&room), room.heard());
        if told != (expected.to_string(), heard.to_string()) {
            wrong.push(format!(
                "{what}: {script}\n    {told:?}\n    ({expected:?}, {heard:?})"
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        WALKED.len(),
        wrong.join("\n")
    );
}

/// What the page says of the set: title and notes at rest, what is armed while it plays.
fn page(room: &Room) -> String {
    match room.core.page() {
        Page::Ready { title, notes, .. } => format!("{title}: {}", notes.join(", ")),
        Page::Practice(page) => page.armed.clone().map_or(String::new(), |armed| armed.what),
        other => other.kind().to_string(),
    }
}

#[test]
fn the_page_shows_what_is_on_and_what_comes() {
    let cases = [
        ("+0.1", "Tin Kettle: next Copper Roofs, 1 of 8"),
        (
            "+0.1 song 4; +0.1",
            "Ferry Bell: next Gravel Shuffle, 5 of 8, follows clock",
        ),
        ("+0.1 song 7; +0.1", "Last Lamp: 8 of 8"),
        ("+0.1 start; 1 next chart; 1.2", "next Copper Roofs"),
        (
            "+0.1 start; 1 next chart; 1.2 next chart; 1.4",
            "next Wet Ledger",
        ),
        ("+0.1 start; 1 song 40; 1.2", "next Six Gates"),
        ("+0.1 start; 1 last time; 1.2", "last time"),
        (
            "+0.1 song 2; +0.1 start; 1 last time; 1.2",
            "last time, next Corner Hat",
        ),
    ];
    for (script, expected) in cases {
        let mut room = room();
        room.play(script);
        assert_eq!(page(&room), expected, "{script}");
    }
}

#[test]
fn the_clock_is_led_by_whom_the_tune_says() {
    let mut room = room();
    room.play("+0.1 song 4; +0.1 song 5; +0.1 song 6; +0.1 song 0");
    let (we, they) = (Some(Leads::We), Some(Leads::They));
    // Number 6 is no tune: it changes nothing.
    assert_eq!(room.leads, [they, we, None]);
}

#[test]
fn a_restart_comes_back_to_the_tune_even_where_one_stands_twice_in_the_set() {
    let mut library = eight();
    // The first tune again at the end, in its other key.
    let set = library.set.as_mut().expect("a set");
    set.tunes.push(set.tunes[0].clone());
    library.charts.push(library.charts[0].clone());
    for place in [0, 3, 8] {
        let mut before = Room::new(library.clone(), settings(2));
        for _ in 0..place {
            before.play("+0.1 next chart");
        }
        before.play("+0.1 start; 1 stop; +0.1");
        let saved = before.saved.clone().expect("a place");
        assert_eq!(saved.chart, place);
        let mut again = Room::begun_again(library.clone(), settings(2), Some(&saved));
        again.play("+0.1");
        let told = again.records.iter().find_map(|record| match &record.what {
            Recorded::Tune { place, .. } => Some(*place),
            _ => None,
        });
        assert_eq!(told, Some(place));
        assert_eq!(again.core.foot_state(), FootState::Stopped);
    }
}

#[test]
fn a_tune_has_its_own_drill() {
    let mut room = room();
    room.play("+0.1 song 5; +0.1 start; 3");
    assert_eq!(room.core.practised(), ("Gravel Shuffle", "Root and third"));
    let mut room = self::room();
    room.play("+0.1 start; 3");
    // Without one the stage is named by the tune.
    assert_eq!(room.core.status().stage.as_deref(), Some("Tin Kettle"));
}

#[test]
fn title_and_what_comes_next_are_whole_on_every_panel() {
    for (script, title, next) in [
        ("+0.1", "Tin Kettle", "next Copper Roofs"),
        ("+0.1 song 4; +0.1", "Ferry Bell", "next Gravel Shuffle"),
    ] {
        let mut room = room();
        room.play(script);
        for (width, height) in [(128, 32), (128, 64), (256, 64), (320, 240), (800, 480)] {
            let drawn = drawn_texts(&room.core.page(), Panel::new(width, height));
            let texts: Vec<String> = drawn.into_iter().map(|drawn| drawn.text).collect();
            assert!(
                texts.iter().any(|text| text == title),
                "{width}x{height}: {texts:?}"
            );
            assert!(
                texts.iter().any(|text| text.starts_with(next)),
                "{width}x{height}: {texts:?}"
            );
        }
    }
}
