//! A message takes the whole page and the next press (but for the one that begins the first take), so it waits while anything plays and while the menu is open.

use crate::support::practice::*;
use underfoot::device::DeviceState;
use underfoot::display::Page;
use underfoot::foot::FootState;
use underfoot::practice::EventKind;

fn tell(room: &mut Room, title: &str) {
    room.handle(EventKind::Message {
        title: title.into(),
        lines: vec!["no space is left".into()],
    });
}

/// The title of the message that stands.
fn stands(room: &Room) -> Option<String> {
    match room.core.page() {
        Page::Message { title, .. } => Some(title),
        _ => None,
    }
}

/// Presses a switch for so many seconds, and waits until it is clear what that was.
fn press(room: &mut Room, switch: u8, seconds: f64) {
    room.act(&format!("edge {switch} down"));
    room.seconds(seconds);
    room.act(&format!("edge {switch} up"));
    room.seconds(0.6);
}

#[test]
fn while_playing_it_covers_no_note_and_eats_no_press() {
    let mut room = Room::plain();
    room.act("start");
    room.until(5.0);
    tell(&mut room, "practice journal");
    assert_eq!(stands(&room), None);
    let covered = room
        .pages
        .iter()
        .any(|(_, page)| matches!(page, Page::Message { .. }));
    assert!(!covered);
    // Held, the first switch stops, message or not; then it stands, and a press leads back.
    press(&mut room, 1, 1.0);
    assert_eq!(room.core.foot_state(), FootState::Stopped);
    assert_eq!(stands(&room).as_deref(), Some("practice journal"));
    let shown = room.pages.last().expect("a page");
    assert!(matches!(shown.1, Page::Message { .. }), "{:?}", shown.1);
    press(&mut room, 1, 0.1);
    assert_eq!(
        (stands(&room), room.core.foot_state()),
        (None, FootState::Stopped)
    );
}

#[test]
fn the_first_press_after_a_start_plays_whatever_stands() {
    let mut room = Room::plain();
    for title in ["one", "other"] {
        tell(&mut room, title);
    }
    // Another switch only leads back from the first.
    press(&mut room, 2, 1.0);
    assert_eq!(
        (stands(&room).as_deref(), room.core.foot_state()),
        (Some("other"), FootState::Stopped)
    );
    press(&mut room, 1, 0.1);
    assert_ne!(room.core.foot_state(), FootState::Stopped);
    assert_eq!((stands(&room), room.takes()), (None, 1));
    room.act("stop");
    room.seconds(1.0);
    assert_eq!(stands(&room), None);
}

#[test]
fn at_rest_each_stands_once_one_after_the_other() {
    let mut room = Room::plain();
    room.act("start");
    room.until(5.0);
    room.act("stop");
    room.seconds(1.0);
    for title in ["one", "other", "one"] {
        tell(&mut room, title);
    }
    let mut stood = Vec::new();
    while let Some(title) = stands(&room) {
        stood.push(title);
        press(&mut room, 1, 0.1);
    }
    assert_eq!(stood, ["one", "other"]);
    assert_eq!(room.core.foot_state(), FootState::Stopped);
}

#[test]
fn a_long_press_tells_how_it_is_and_leaves_the_menu_and_the_next_press_plays() {
    for (switches, switch, opens) in [(1, 1, true), (2, 2, true), (4, 2, false)] {
        let mut room = Room::new(library(&[CHART, OTHER], DRILL), settings(switches));
        let (name, state) = ("footswitch".to_string(), DeviceState::Retrying);
        room.handle(EventKind::Device { name, state });
        room.act(&format!("edge {switch} down"));
        room.seconds(1.0);
        let is_open = room.core.foot_state() == FootState::Menu;
        assert_eq!(is_open, opens, "{switches}: by then it is a hold");
        room.seconds(1.4);
        room.act(&format!("edge {switch} up"));
        room.seconds(1.0);
        let sentence = "one, section A, tempo 240, footswitch lost";
        let said = room.said.iter().filter(|(_, _, text)| text == sentence);
        assert_eq!(said.count(), 1, "{switches}: {:?}", room.said);
        assert_eq!(room.core.foot_state(), FootState::Stopped);
        let takes = room.takes();
        press(&mut room, 1, 0.1);
        assert_ne!(room.core.foot_state(), FootState::Stopped, "{switches}");
        assert_eq!(room.takes(), takes + 1);
    }
}

#[test]
fn the_menu_is_left_alone() {
    let mut room = Room::plain();
    press(&mut room, 2, 1.0);
    assert_eq!(room.core.foot_state(), FootState::Menu);
    tell(&mut room, "practice journal");
    assert_eq!(stands(&room), None);
    // It leaves by itself.
    room.seconds(9.0);
    assert_eq!(stands(&room).as_deref(), Some("practice journal"));
}
