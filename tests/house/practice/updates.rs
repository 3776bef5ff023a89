//! Another version: offered on the page and by voice, installed when a foot chooses it, never while the band plays.

use super::actions::gesture;
use crate::support::practice::*;
use underfoot::display::Page;
use underfoot::drill::Names;
use underfoot::foot::GestureKind;
use underfoot::practice::{EventKind, Settings, UpdateNews, UpdateOffer};

fn offer() -> UpdateOffer {
    UpdateOffer {
        version: "0.2.0+202612010900".to_string(),
        on_stick: true,
    }
}

fn room(settings: Settings) -> Room {
    Room::new(library(&[CHART, OTHER], DRILL), settings)
}

fn told(room: &mut Room, news: UpdateNews) {
    room.handle(EventKind::Update(news));
    room.seconds(0.5);
}

/// Title and lines of the message that stands.
fn message(room: &Room) -> Option<String> {
    match room.core.page() {
        Page::Message { title, lines } => Some(format!("{title}: {}", lines.join("; "))),
        _ => None,
    }
}

fn said(room: &Room) -> Vec<&str> {
    room.said.iter().map(|(_, _, text)| &text[..]).collect()
}

#[test]
fn what_is_told_stands_on_the_page_and_is_said() {
    let refused = vec!["/run/media/stick/u.deb: signed by somebody else".to_string()];
    let done = |is_in| UpdateNews::Done {
        is_in,
        told: "0.2.0 does not run here: back to 0.1.0".to_string(),
    };
    let in_folder = UpdateOffer {
        on_stick: false,
        ..offer()
    };
    #[rustfmt::skip]
    let cases = [
        (UpdateNews::Offered(Some(offer())), Some("update 0.2.0: on the stick; menu: more, box, update"),
            Some("update 0.2.0 on the stick, menu, more, box, update"),
            Some("Aktualisierung 0.2.0 auf dem Stick, Menü, mehr, Gerät, Aktualisierung")),
        (UpdateNews::Offered(Some(in_folder)), Some("update 0.2.0: menu: more, box, update"),
            Some("update 0.2.0, menu, more, box, update"), Some("Aktualisierung 0.2.0, Menü, mehr, Gerät, Aktualisierung")),
        (UpdateNews::Offered(None), None, None, None),
        (UpdateNews::Begun(offer()), Some("update 0.2.0: installing; the box restarts by itself"),
            Some("update 0.2.0, installing"), Some("Aktualisierung 0.2.0, wird installiert")),
        (UpdateNews::Refused(refused), Some("no update: u.deb: signed by somebody else"),
            Some("no update, look at the page"), Some("keine Aktualisierung, siehe Anzeige")),
        (done(true), Some("update: 0.2.0 does not run here: back to 0.1.0"),
            Some("update installed"), Some("Aktualisierung installiert")),
        (done(false), Some("update: 0.2.0 does not run here: back to 0.1.0"),
            Some("no update, look at the page"), Some("keine Aktualisierung, siehe Anzeige")),
    ];
    for (news, page, english, german) in cases {
        for (names, sentence) in [(Names::English, english), (Names::German, german)] {
            let mut room = room(Settings {
                names,
                ..settings(1)
            });
            told(&mut room, news.clone());
            assert_eq!(message(&room).as_deref(), page);
            assert_eq!(said(&room), sentence.into_iter().collect::<Vec<_>>());
            // It is told once, and the first press plays whatever stands.
            told(&mut room, news.clone());
            room.play(&gesture(1, GestureKind::Press));
            room.seconds(1.0);
            assert_eq!((message(&room), room.takes()), (None, 1));
        }
    }
}

#[test]
fn what_is_out_of_date_does_not_stand() {
    let refused = || UpdateNews::Refused(vec!["u.deb: signed by somebody else".to_string()]);
    let failed = || UpdateNews::Done {
        is_in: false,
        told: "0.2.0 does not run here".to_string(),
    };
    let offered = || UpdateNews::Offered(Some(offer()));
    let gone = || UpdateNews::Offered(None);
    let is_offered = Some("update 0.2.0: on the stick; menu: more, box, update");
    let has_failed = Some("update: 0.2.0 does not run here");
    #[rustfmt::skip]
    let cases = [
        (vec![refused(), offered()], is_offered),
        (vec![offered(), gone()], None),
        (vec![offered(), refused()], Some("no update: u.deb: signed by somebody else")),
        // What came of an installation stands until it was read.
        (vec![failed(), offered()], has_failed),
        (vec![failed(), offered(), gone()], has_failed),
    ];
    for (news, page) in cases {
        let mut room = room(settings(2));
        news.into_iter().for_each(|news| told(&mut room, news));
        assert_eq!(message(&room).as_deref(), page);
        // One page at most stood above the other.
        room.play(&gesture(2, GestureKind::Hold));
        room.play(&gesture(2, GestureKind::Hold));
        assert!(message(&room).is_none());
    }
}

#[test]
fn a_foot_chooses_it_in_the_menu_where_nothing_plays() {
    // Switches: which one opens the menu, which moves and chooses; more, box (two taps), update (one).
    for (switches, opener, switch) in [(1, 1, 1), (2, 2, 2), (4, 4, 3)] {
        for is_offered in [true, false] {
            let mut room = room(settings(switches));
            if is_offered {
                told(&mut room, UpdateNews::Offered(Some(offer())));
                // A press leads back from the message: of a switch that does not start, its hold.
                room.play(&gesture(opener, GestureKind::Hold));
            }
            if message(&room).is_none() && room.core.status().state != "menu" {
                room.play(&gesture(opener, GestureKind::Hold));
            }
            assert_eq!(room.core.status().state, "menu", "{switches}");
            for step in "htthth".chars() {
                let kind = if step == 't' {
                    GestureKind::Tap
                } else {
                    GestureKind::Hold
                };
                room.play(&gesture(switch, kind));
            }
            assert_eq!(room.updates, u32::from(is_offered), "{switches}");
            assert_eq!(room.core.status().state, "stopped", "{switches}");
            let Page::Ready { notes, .. } = room.core.page() else {
                panic!("{:?}", room.core.page());
            };
            let note = if is_offered {
                "update looking"
            } else {
                "update none found"
            };
            assert_eq!(notes, [note]);
        }
    }
}

#[test]
fn while_the_band_plays_nothing_is_said_and_nothing_is_installed() {
    let mut room = room(settings(2));
    room.act("start");
    room.until(5.0);
    let before = room.said.len();
    told(&mut room, UpdateNews::Offered(Some(offer())));
    assert_eq!(message(&room), None);
    assert!(
        said(&room)[before..]
            .iter()
            .all(|text| !text.contains("update"))
    );
    // Whoever has it on a gesture of the standard maps' own.
    room.act("update");
    room.seconds(1.0);
    assert_eq!((room.updates, room.core.status().state), (0, "playing"));
    room.act("stop");
    room.seconds(1.0);
    assert_eq!(
        message(&room).as_deref(),
        Some("update 0.2.0: on the stick; menu: more, box, update")
    );
    // The stick is pulled out: there is nothing to install any more.
    room.act("update");
    assert_eq!(room.updates, 1);
    told(&mut room, UpdateNews::Offered(None));
    room.act("update");
    assert_eq!(room.updates, 1);
}

#[test]
fn without_a_foot_it_is_told_how_else() {
    let mut room = room(settings(0));
    told(&mut room, UpdateNews::Offered(Some(offer())));
    assert_eq!(
        message(&room).as_deref(),
        Some("update 0.2.0: on the stick; underfoot update FILE")
    );
}
