//! What is told without being asked for: what a leader calls, the chords out of time, and lines of the event log that mean
//! the same whatever names the player likes.

use crate::support::practice::told::all_words;
use crate::support::practice::*;
use underfoot::display::{Large, Page};
use underfoot::drill::Names;
use underfoot::foot::Action;
use underfoot::practice::Settings;
use underfoot::practice::{EventKind, MusicChange, Recorded};
use underfoot::time::Tick;

/// Two stages that go on by themselves, each a pass and a breath long.
const BY_ITSELF: &str = "title = 'Two'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\npasses = 1\nadvance = 'passes'\n\
    cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 4 }\nhelp = { voice = 'off' }\n\
    [[stage]]\nname = 'thirds'\ndegrees = ['1', '3']\nhelp = { voice = 'off' }\n";
/// A stage out of time whose notes are spoken, and one that says nothing.
const HELD: &str = "title = 'Held'\n[[stage]]\nname = 'find the root'\ndegrees = ['1']\npulse = false\n\
    help = { drums = 'off', voice = 'always' }\n\
    [[stage]]\nname = 'find it alone'\ndegrees = ['1']\npulse = false\nhelp = { drums = 'off', voice = 'off' }\n";

/// Slowly enough that each chord stands alone.
fn slow_room(drill: &str, names: Names) -> Room {
    room_of(&CHART.replace("tempo = 240", "tempo = 120"), drill, names)
}

fn room(drill: &str, names: Names) -> Room {
    room_of(CHART, drill, names)
}

fn room_of(chart: &str, drill: &str, names: Names) -> Room {
    let settings = Settings {
        names,
        ..settings(2)
    };
    let mut room = Room::new(library(&[chart], drill), settings);
    room.handle(EventKind::Act(Action::Start));
    room
}

/// The words so far, with the quarter on which they began.
fn said(room: &Room) -> Vec<String> {
    room.said.iter().map(|(_, _, text)| text.clone()).collect()
}

/// The quarters from and up to which a text was said, each time.
fn says_of(room: &Room, wanted: &str) -> Vec<(f64, f64)> {
    let says = room.records.iter().filter_map(|record| match &record.what {
        Recorded::Say {
            text,
            end: Some(end),
            ..
        } if text == wanted => {
            let from = record.tick?.quarters();
            let quarter = f64::from(RATE) * 60.0 / room.core.status().qpm;
            Some((from, from + (end.0 - record.frame.0) as f64 / quarter))
        }
        _ => None,
    });
    says.collect()
}

/// The chords that began.
fn chords(room: &Room) -> Vec<String> {
    let told = room.records.iter().filter_map(|record| match &record.what {
        Recorded::Change(MusicChange::Chord(_, Some(chord))) => Some(chord.to_string()),
        _ => None,
    });
    told.collect()
}

#[test]
fn a_stage_that_comes_by_itself_is_named_once_in_the_breath() {
    let mut room = room(BY_ITSELF, Names::English);
    room.until(60.0);
    assert_eq!(said(&room), ["roots", "break", "thirds, listen", "now you"]);
    // The breath is from 16 to 32.
    assert!(
        matches!(says_of(&room, "thirds, listen")[..], [(from, to)] if from >= 16.0 && to < 31.0),
        "{:?}",
        says_of(&room, "thirds, listen")
    );
}

/// Places that turn, and bars that rest.
const TURNS: &str = "title = 'Turns'\n[[stage]]\nname = 'turns'\ndegrees = ['1']\nrotate = [['3'], ['2&'], ['before 1']]\n\
    cycle = { listen = 0, sing = 0, play = 1 }\nhelp = { voice = 'off' }\n";
const RESTS: &str = "title = 'Rests'\n[[stage]]\nname = 'rests'\ndegrees = ['1']\nplay_bars = 2\nrest_bars = 2\n\
    cycle = { listen = 0, sing = 0, play = 1 }\nhelp = { voice = 'off', page = 'symbol' }\n";

#[test]
fn where_the_notes_fall_is_said_before_it_turns_and_stands_on_the_page() {
    for (names, expected) in [
        (
            Names::English,
            ["turns, on three", "on two and", "push", "on three"],
        ),
        (
            Names::German,
            ["turns, auf drei", "auf zwei und", "vorgezogen", "auf drei"],
        ),
    ] {
        let mut room = slow_room(TURNS, names);
        room.until(60.0);
        room.said.sort();
        let words = said(&room);
        assert_eq!(words[..4], expected);
        // Said before the pass in which it counts, however late in the one before.
        let at = room.records.iter().filter_map(|record| match &record.what {
            Recorded::Say { text, .. } if text == expected[1] => record.tick.map(Tick::quarters),
            _ => None,
        });
        let at: Vec<f64> = at.collect();
        assert!(
            matches!(at[..], [at, ..] if (8.0..15.0).contains(&at)),
            "{at:?}"
        );
    }
    let mut room = slow_room(TURNS, Names::English);
    let mut on_page = |until: f64| {
        room.until(until);
        match room.page() {
            Page::Practice(page) => page.places.clone(),
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(
        [2.0, 18.0, 34.0].map(&mut on_page),
        ["on 3", "on 2&", "push (4&)"]
    );
}

#[test]
fn a_call_comes_though_its_stage_was_armed_late() {
    let drill = format!("{BY_ITSELF}{}", TURNS.split_once('\n').expect("a title").1);
    let drill = drill.replace("passes = 1\nadvance = 'passes'\n", "");
    let mut room = slow_room(&drill, Names::English);
    // Six beats before the section's end two stages on are armed; one is called off and asked for again.
    room.play("1 next stage; 10 next stage; 40");
    room.said.sort();
    let words = said(&room);
    let calls = words.iter().filter(|word| word.ends_with("on three"));
    assert_eq!(calls.count(), 1, "{words:?}");
    let mut room = slow_room(&drill, Names::English);
    room.play("1 next stage; 2 next stage; 12.5 stay here; 13 next stage; 13.1 next stage; 40");
    let words = said(&room);
    assert!(
        words.iter().any(|word| word.ends_with("on three")),
        "{words:?}"
    );
}

#[test]
fn a_bar_of_rest_says_so_where_else_the_symbol_stands() {
    let mut room = slow_room(RESTS, Names::English);
    let mut words = |until: f64| {
        room.until(until);
        match room.page() {
            Page::Practice(page) => [&page.now, &page.next].map(|set| all_words(set).join(" ")),
            other => panic!("{other:?}"),
        }
    };
    // Two bars to play, two to rest; then the rests have moved on.
    assert_eq!(words(1.0), ["", ""]);
    assert_eq!(words(7.0), ["", "rest"]);
    assert_eq!(words(9.0), ["rest", "rest"]);
}

#[test]
fn words_stand_in_the_bar_in_which_they_sound() {
    // Slowly enough for every note to be said.
    let slow = CHART.replace("tempo = 240", "tempo = 80");
    let mut room = Room::new(library(&[&slow], DRILL), settings(2));
    room.handle(EventKind::Act(Action::Start));
    room.until(30.0);
    let mut words = 0;
    for record in &room.records {
        if let (Recorded::Say { end: Some(_), .. }, Some(tick)) = (&record.what, record.tick) {
            // Four bars of four quarters go round.
            let bar = tick.quarters().div_euclid(4.0).rem_euclid(4.0) as u32 + 1;
            let counted = tick >= Tick(0);
            assert_eq!(record.bar, counted.then_some(bar), "{record:?}");
            words += 1;
        }
    }
    assert!(words > 4, "{words}");
}

#[test]
fn a_chord_out_of_time_is_named_when_it_comes_and_told_once() {
    let mut room = room(HELD, Names::English);
    room.seconds(6.0);
    assert_eq!(said(&room), ["find the root", "C"]);
    assert_eq!(chords(&room), ["Cmaj7"]);
    room.handle(EventKind::Act(Action::NextStage));
    room.seconds(6.0);
    assert_eq!(said(&room), ["find the root", "C", "D"]);
    assert_eq!(chords(&room), ["Cmaj7", "Dm7"]);
    // Round the four chords, and into a stage that is named and gives nothing away.
    for _ in 0..3 {
        room.handle(EventKind::Act(Action::NextStage));
        room.seconds(3.0);
    }
    let words = said(&room);
    assert_eq!(words[words.len() - 2..], ["F", "find it alone"]);
}

#[test]
fn the_page_of_a_chord_out_of_time_stands_still() {
    let mut room = room(HELD, Names::English);
    room.seconds(9.0);
    let Page::Practice(page) = room.page() else {
        panic!("{:?}", room.page());
    };
    assert_eq!(
        (&page.now.words[..], page.large),
        (&["C".to_string()][..], Large::Now)
    );
    assert_eq!(
        (page.chord_now.as_str(), page.chord_next.as_str()),
        ("Cmaj7", "")
    );
    assert!(all_words(&page.next).is_empty());
    // Nothing is counted down to, and there is no tempo.
    assert_eq!((page.beats_to_change, page.tempo_qpm), (0, 0));
    let turned = room.records.iter().filter(
        |record| matches!(&record.what, Recorded::Page { page, .. } if *page == "practice"),
    );
    // It turns where the chord begins, and not when it is struck again.
    let turned: Vec<_> = turned.map(|record| record.tick).collect();
    assert!(
        turned.iter().all(|tick| *tick <= Some(Tick(0))),
        "{turned:?}"
    );
}

#[test]
fn lines_name_notes_in_ascii_whatever_the_page_says() {
    let flats = CHART.replace("'Cmaj7', 'Dm7'", "'Ebmaj7', 'Bb7'");
    for names in [Names::English, Names::German, Names::Solfege] {
        let settings = Settings {
            names,
            ..settings(2)
        };
        let mut room = Room::new(library(&[&flats], DRILL), settings);
        room.handle(EventKind::Act(Action::Start));
        room.until(3.0);
        let sets = room.records.iter().filter_map(|record| match &record.what {
            Recorded::Page { page, next, .. } if *page == "practice" => Some(next.clone()),
            _ => None,
        });
        let first = sets.into_iter().next().expect("a page");
        assert_eq!(first, ["Eb", "Bb", "E", "F"], "{names:?}");
        assert_eq!(chords(&room), ["Ebmaj7"], "{names:?}");
    }
}

#[test]
fn another_key_is_told_where_it_begins() {
    let mut room = room(DRILL, Names::English);
    room.until(2.0);
    room.handle(EventKind::Act(Action::NextKey));
    room.until(20.0);
    let keys = room.records.iter().filter_map(|record| match &record.what {
        Recorded::Change(MusicChange::Key(Some(key))) => {
            Some((record.tick.map_or(0.0, Tick::quarters), key.to_string()))
        }
        _ => None,
    });
    assert_eq!(keys.collect::<Vec<_>>(), [(16.0, "F major".to_string())]);
}

/// One round of all there is to do, then another; names in the first pass that is played.
const ROUND: &str = "title = 'Round'\n[[stage]]\nname = 'round'\ndegrees = ['1']\nplaces = ['2']\n\
    cycle = { listen = 1, sing = 1, play = 1, breathe_bars = 2 }\n";

#[test]
fn a_leader_calls_what_to_do_and_names_the_notes_when_they_are_played() {
    for (names, called, notes) in [
        (
            Names::English,
            [
                "round, listen",
                "sing, on two",
                "now you",
                "break",
                "listen",
            ],
            ["C", "D", "E", "F"],
        ),
        (
            Names::German,
            [
                "round, zuhören",
                "singen, auf zwei",
                "jetzt du",
                "Pause",
                "zuhören",
            ],
            ["C", "D", "E", "F"],
        ),
        (
            Names::Solfege,
            [
                "round, listen",
                "sing, on two",
                "now you",
                "break",
                "listen",
            ],
            ["do", "re", "mi", "fa"],
        ),
    ] {
        let mut room = room_of(&CHART.replace("tempo = 240", "tempo = 120"), ROUND, names);
        room.until(64.0);
        room.said.sort();
        let (named, calls): (Vec<String>, Vec<String>) = said(&room)
            .into_iter()
            .partition(|text| notes.contains(&text.as_str()));
        assert_eq!(calls[..5], called);
        assert_eq!(named, notes);
        // From 32 on it is played.
        let first = says_of(&room, notes[0]);
        assert!(
            matches!(first[..], [(from, to)] if from > 24.0 && to < 32.0),
            "{first:?}"
        );
    }
}

#[test]
fn a_new_key_is_called_a_bar_ahead_and_its_notes_are_named_again() {
    let drill = "title = 'Keys'\n[[stage]]\nname = 'keys'\ndegrees = ['1']\n\
        cycle = { listen = 0, play = 1 }\n";
    let mut room = room_of(
        &CHART.replace("tempo = 240", "tempo = 110"),
        drill,
        Names::English,
    );
    room.play("40");
    assert_eq!(said(&room), ["keys", "C", "D", "E", "F"]);
    let mut room = room_of(
        &CHART.replace("tempo = 240", "tempo = 110"),
        drill,
        Names::English,
    );
    room.play("17 next key; 64");
    room.said.sort();
    assert_eq!(
        said(&room)[5..],
        ["in F", "F", "G", "A", "B flat"],
        "{:?}",
        said(&room)
    );
    let called = says_of(&room, "in F");
    assert!(matches!(called[..], [(_, to)] if to <= 28.0), "{called:?}");
}

#[test]
fn another_section_the_whole_form_and_the_last_time_are_called() {
    for (script, words) in [
        ("2 next section; 20", "section B next"),
        ("2 whole form; 20", "whole form"),
        ("2 last time; 16", "last time"),
        // Called off before it was said, or asked for twice.
        ("2 next section; 2.5 next section; 20", "section C next"),
    ] {
        let mut room = slow_room(DRILL, Names::English);
        room.play(script);
        let called = says_of(&room, words);
        assert!(
            matches!(called[..], [(_, to)] if to <= 15.0),
            "{script}: {:?}",
            said(&room)
        );
    }
    // The form goes on by itself: B is told, and C, and A again.
    let mut room = slow_room(DRILL, Names::English);
    room.play("2 whole form; 47");
    for section in ["B", "C", "A"] {
        let called = says_of(&room, &format!("section {section} next"));
        assert_eq!(called.len(), 1, "{section}: {:?}", said(&room));
    }
}

#[test]
fn bars_of_rest_are_called() {
    let mut room = slow_room(RESTS, Names::English);
    room.play("26");
    // In the second pass the rests have moved: it begins with them.
    assert_eq!(said(&room), ["rests", "rest", "now you"]);
    assert!(says_of(&room, "rest")[0].1 < 8.0);
    assert!((20.0..24.0).contains(&says_of(&room, "now you")[0].0));
}
