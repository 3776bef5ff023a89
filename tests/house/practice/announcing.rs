//! What is told without being asked for: the name of a stage that comes by itself, the chords out of time, and lines of
//! the event log that mean the same whatever names the player likes.

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
    assert_eq!(said(&room), ["roots", "thirds"]);
    // The breath is from 16 to 32; its last two and a half seconds are the next notes'.
    let says = room.records.iter().filter_map(|record| match &record.what {
        Recorded::Say { text, .. } if text == "thirds" => record.tick.map(Tick::quarters),
        _ => None,
    });
    let says: Vec<f64> = says.collect();
    assert!(
        matches!(says[..], [at] if (16.0..22.0).contains(&at)),
        "{says:?}"
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
            ["on three", "on two and", "before one", "on three"],
        ),
        (
            Names::German,
            ["auf drei", "auf zwei und", "vor eins", "auf drei"],
        ),
    ] {
        let mut room = slow_room(TURNS, names);
        room.until(60.0);
        room.said.sort();
        let words = said(&room);
        assert_eq!(words[0], "turns");
        assert_eq!(words[1..5], expected);
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
    assert_eq!(
        words.iter().filter(|word| *word == "on three").count(),
        1,
        "{words:?}"
    );
    let mut room = slow_room(&drill, Names::English);
    room.play("1 next stage; 2 next stage; 12.5 stay here; 13 next stage; 13.1 next stage; 40");
    let words = said(&room);
    assert!(words.iter().any(|word| word == "on three"), "{words:?}");
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
