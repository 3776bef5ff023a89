//! The foot menu with the real core in virtual time: what is shown and said, what goes on, what never happens by accident.

use super::actions::{gesture, in_state};
use crate::support::practice::*;
use underfoot::device::DeviceState;
use underfoot::display::Page;
use underfoot::drill::Names;
use underfoot::foot::{Action, FootMap, FootState, GestureKind, Occasion};
use underfoot::practice::EventKind;
use underfoot::speech::menu_phrases;

/// What the menu stands on; none where there is no menu.
fn chosen(room: &Room) -> Option<String> {
    match room.page() {
        Page::Menu { items, chosen, .. } => items.get(*chosen).cloned(),
        _ => None,
    }
}

/// Plays steps on one switch: `o` opens while playing, `O` at rest, `t` taps, `h` holds, `p` presses.
fn steps(room: &mut Room, steps: &str) {
    for step in steps.chars() {
        let kind = match step {
            'o' => GestureKind::Triple,
            'O' | 'h' => GestureKind::Hold,
            't' => GestureKind::Tap,
            'p' => GestureKind::Press,
            other => panic!("no step {other}"),
        };
        room.play(&gesture(1, kind));
    }
}

fn playing_one() -> Room {
    let mut room = Room::new(library(&[CHART, OTHER], DRILL), settings(1));
    room.seconds(0.1);
    room.play("+0 start; 1");
    room
}

#[rustfmt::skip]
#[test]
fn what_is_chosen_while_the_band_plays_comes_at_its_moment() {
    // The steps from beat 1 on (a triple takes a second, four beats), until when it is listened, what is heard (bars told by
    // the bass, as in the table of actions).
    for (what, way, until, heard) in [
        ("nothing",              "",         "31", "n n C D E F C D E F"),
        ("opened, moved, left",  "ott",      "63", "n n C D E F C D E F C D E F C D E F"),
        ("into a list and out",  "ohttttth", "47", "n n C D E F C D E F C D E F"),
        ("loop here",            "otth",     "47", "n n C D E F E F E F E F E F"),
        ("last time",            "otttth",   "48; +2", "n n C D E F C D E C ."),
        ("into a list and on",      "otttht",   "31", "n n C D E F C D E F"),
        ("a bar back",           "ohtthh",   "31", "n n C D E F C D D E"),
        ("the top is now",       "ohtthtthp", "+1", "n n C D E F C D E | C D"),
    ] {
        let mut room = playing_one();
        steps(&mut room, way);
        room.play(until);
        assert_eq!(room.heard(), heard, "{what}");
        assert_eq!(room.broken(), [""; 0], "{what}");
    }
}

#[test]
fn it_is_shown_and_said_and_what_to_play_stays_on_the_page() {
    let mut room = in_state(1, FootState::Playing);
    let from = room.at;
    let mut shown = Vec::new();
    for step in ["o", "t", "t", "t", "h", "t"] {
        steps(&mut room, step);
        shown.push(chosen(&room).expect("the menu"));
        let Page::Menu { below, .. } = room.page() else {
            panic!("no menu");
        };
        assert!(below.is_some(), "what to play goes on");
    }
    let words = [
        "more",
        "say again",
        "loop here",
        "tempo",
        "tempo down",
        "tempo up",
    ];
    assert_eq!(shown, words);
    let said: Vec<&str> = room
        .said
        .iter()
        .filter(|(at, _, text)| *at >= from && (words.contains(&text.as_str()) || text == "menu"))
        .map(|(_, _, text)| text.as_str())
        .collect();
    assert_eq!(said[0], "menu");
    assert_eq!(said[1..], words[1..]);
    // Turning pages go on below.
    let sets = |room: &Room| match room.page() {
        Page::Menu {
            below: Some(below), ..
        } => below.next.words.clone(),
        _ => Vec::new(),
    };
    let before = sets(&room);
    room.seconds(4.0);
    assert_ne!(sets(&room), before);
}

#[test]
fn say_again_is_said_while_the_band_plays() {
    let mut room = in_state(1, FootState::Playing);
    let mut own = settings(1);
    own.spoken = underfoot::practice::Spoken::Asked;
    room.settings = own;
    steps(&mut room, "ot");
    let from = room.at;
    steps(&mut room, "h");
    let said: Vec<&str> = room
        .said
        .iter()
        .filter(|(at, _, _)| *at >= from)
        .map(|(_, _, text)| text.as_str())
        .collect();
    assert!(!said.is_empty(), "{said:?}");
    assert_eq!(
        room.core.foot_state(),
        FootState::Playing,
        "the menu is left"
    );
}

#[test]
fn tempo_goes_up_step_by_step_while_the_band_plays() {
    let mut room = in_state(1, FootState::Playing);
    steps(&mut room, "ottthth");
    assert_eq!(room.core.status().qpm.round(), 64.0);
    let Page::Menu { told, .. } = room.page() else {
        panic!("the menu stays");
    };
    assert_eq!(told, "tempo up 64");
    steps(&mut room, "h");
    assert_eq!(room.core.status().qpm.round(), 68.0);
}

#[test]
fn a_tempo_is_tapped_in_after_its_choice() {
    let mut room = in_state(1, FootState::Playing);
    steps(&mut room, "ohtttth");
    assert_eq!(chosen(&room).as_deref(), Some("tap the tempo"));
    // Three presses at 66 a minute, near the 60 that play.
    let apart = 60.0 / 66.0 - 0.1;
    for _ in 0..3 {
        room.play(&format!("+0 edge 1 down; +0.1 edge 1 up; +{apart}"));
    }
    assert_eq!(room.core.status().qpm.round(), 66.0);
    assert_eq!(room.core.foot_state(), FootState::Menu, "more may follow");
    room.seconds(3.0);
    assert_eq!(room.core.foot_state(), FootState::Playing);
}

#[test]
fn no_stray_tap_and_no_stomp_chooses() {
    for (way, state) in [("O", FootState::Stopped), ("o", FootState::Playing)] {
        let mut room = in_state(1, state);
        steps(&mut room, way);
        let before = room.core.status();
        for _ in 0..14 {
            steps(&mut room, "t");
        }
        let after = room.core.status();
        let told = |status: &underfoot::practice::CoreStatus| {
            (status.stage.clone(), status.section.clone(), status.qpm)
        };
        assert_eq!(told(&after), told(&before));
        assert_eq!(room.core.foot_state(), FootState::Menu);
    }
    // Two switches at once, and held.
    let mut room = in_state(2, FootState::Playing);
    room.play(&gesture(2, GestureKind::Triple));
    assert_eq!(room.core.foot_state(), FootState::Menu);
    room.play("+0 edge 1 down; +0.03 edge 2 down; +1 edge 1 up; +0.01 edge 2 up; +0.3");
    assert_eq!(chosen(&room).as_deref(), Some("more"));
    // Who forgot the menu and holds to stop opens a list; after that and eight seconds a hold stops.
    let mut room = in_state(1, FootState::Playing);
    steps(&mut room, "oh");
    assert_eq!(chosen(&room).as_deref(), Some("band"));
    room.seconds(8.0);
    assert_eq!(room.core.foot_state(), FootState::Playing);
    steps(&mut room, "h");
    assert_eq!(room.core.foot_state(), FootState::Stopped);
}

#[test]
fn a_hold_begun_in_the_menu_is_the_menus_and_stops_nothing() {
    // Eight seconds after the last touch the menu leaves; the hold begins just before.
    for (after, state) in [(7.3, FootState::Menu), (8.1, FootState::Stopped)] {
        let mut room = in_state(1, FootState::Playing);
        steps(&mut room, "o");
        // The last edge of the triple was half a second ago.
        room.seconds(after - 0.4);
        steps(&mut room, "h");
        assert_eq!(room.core.foot_state(), state, "{after}");
    }
}

#[test]
fn a_menu_at_rest_takes_no_take_away() {
    let mut room = playing_one();
    room.play("15");
    steps(&mut room, "h");
    room.seconds(1.0);
    assert_eq!(room.core.foot_state(), FootState::Stopped);
    let stopped = room.at;
    // more, band, take (two taps), save take (one): the hold that opens begins a count.
    steps(&mut room, "Ohhtthth");
    let [(began, ended)] = room.keeps[..] else {
        panic!("{:?}", room.keeps);
    };
    assert!(
        ended.0 < stopped && ended.0 - began.0 > 4 * u64::from(RATE),
        "{began:?} {ended:?}"
    );
}

#[test]
fn the_menu_leaves_with_the_take() {
    let mut room = playing_one();
    room.play("+0 last time");
    steps(&mut room, "ot");
    room.seconds(4.0);
    assert_eq!(room.core.foot_state(), FootState::Stopped);
    // And the other way round: what starts the band closes the menu.
    let mut room = in_state(1, FootState::Stopped);
    steps(&mut room, "O");
    room.play("+0 start; +0.1");
    assert_eq!(room.core.foot_state(), FootState::CountingIn);
}

/// Stays, for what is asked for again and again; leaves by itself.
#[test]
fn the_menu_stays_for_what_is_repeated() {
    let mut room = in_state(1, FootState::Stopped);
    // more, key and chords (three taps), next key.
    steps(&mut room, "Ohttthh");
    let key = room.saved.as_ref().and_then(|saved| saved.key.clone());
    assert_eq!(key.as_deref(), Some("F major"));
    steps(&mut room, "h");
    let key = room.saved.as_ref().and_then(|saved| saved.key.clone());
    assert_eq!(key.as_deref(), Some("Bb major"));
    assert_eq!(chosen(&room).as_deref(), Some("next key"));
    room.seconds(7.0);
    assert_eq!(room.core.foot_state(), FootState::Menu);
    room.seconds(1.0);
    assert_eq!(room.core.foot_state(), FootState::Stopped);
    let mut room = in_state(2, FootState::Stopped);
    room.play(&gesture(2, GestureKind::Hold));
    room.play(&gesture(1, GestureKind::Tap));
    assert_eq!(room.core.foot_state(), FootState::Stopped);
}

/// An edge counts by its stamp: one that is handed over late does what it would have done in time.
#[test]
fn late_edges_do_the_same_in_the_menu() {
    use underfoot::pedal::Edge;
    use underfoot::time::Frame;
    let outcome = |late: f64| {
        let mut room = in_state(1, FootState::Playing);
        steps(&mut room, "ot");
        let pressed = room.at + u64::from(RATE);
        room.seconds(1.0 + late);
        for (after, down) in [(0, true), (u64::from(RATE) / 10, false)] {
            let at = Frame(pressed + after);
            let edge = Edge {
                switch: 1,
                down,
                at,
            };
            room.handle(EventKind::Edge(edge));
        }
        room.seconds(0.5);
        chosen(&room)
    };
    assert_eq!(outcome(0.0).as_deref(), Some("loop here"));
    assert_eq!(outcome(0.25), outcome(0.0));
}

#[test]
fn every_word_of_the_menu_is_said_in_german_too() {
    let same = ["band", "tempo"];
    for occasion in [Occasion::AtRest, Occasion::WhilePlaying] {
        for word in occasion.words() {
            let german = menu_phrases(word, Names::German).full;
            assert!(german != word || same.contains(&word), "{word}");
            assert_eq!(menu_phrases(word, Names::English).full, word);
        }
    }
}

/// A map of one's own without the menu says what is lost.
#[test]
fn check_tells_how_much_is_out_of_reach_without_the_menu() {
    let mut map = FootMap::standard(1);
    map.bind(
        FootState::Playing,
        1,
        GestureKind::Triple,
        Some(Action::SayAgain),
    );
    let cautions = map.cautions(&settings(1).switches);
    assert_eq!(cautions.len(), 1, "{cautions:?}");
    assert!(
        cautions[0].contains("out of reach while playing"),
        "{cautions:?}"
    );
}

#[test]
fn a_long_press_at_rest_says_where_one_is_and_what_is_amiss() {
    let mut room = Room::new(library(&[CHART, OTHER], DRILL), settings(4));
    room.seconds(0.1);
    for (missing, sentence) in [
        (None, "one, section A, tempo 240"),
        (
            Some("foot line"),
            "one, section A, tempo 240, foot line lost",
        ),
    ] {
        if let Some(name) = missing {
            let (name, state) = (name.to_string(), DeviceState::Retrying);
            room.handle(EventKind::Device { name, state });
        }
        let said = room.said.len();
        room.play(&gesture(2, GestureKind::Hold));
        room.seconds(1.0);
        assert_eq!(room.said.len(), said + 1, "{missing:?}");
        assert_eq!(room.said[said].2, sentence);
    }
}
