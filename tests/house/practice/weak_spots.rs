//! "weak spots": what the page says until the answer comes, and how the drill takes over.

use crate::support::practice::*;
use underfoot::display::Page;
use underfoot::practice::EventKind;

const WEAK: &str = "title = 'weak spots'\n[[stage]]\nname = '3 over dominant'\ndegrees = ['3']\nplaces = ['1']\n\
    cycle = { listen = 0, play = 1 }\n[[stage]]\nname = '1 over dominant'\ndegrees = ['1']\nplaces = ['1']\n\
    cycle = { listen = 0, play = 1 }\n";

fn answer(room: &mut Room, found: Option<&str>) {
    let drill = found.map(|text| Box::new(drill(text)));
    room.handle(EventKind::WeakSpots(drill));
}

/// What the page tells of it.
fn told(room: &Room) -> String {
    match room.core.page() {
        Page::Practice(page) => page.armed.map(|line| line.words()).unwrap_or_default(),
        Page::Ready { notes, .. } => notes.join(", "),
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_page_says_that_it_looks_until_the_answer_comes() {
    for is_playing in [true, false] {
        for (found, expected) in [
            (None, "weak spots none found"),
            (Some(WEAK), "weak spots found"),
        ] {
            let mut room = Room::plain();
            if is_playing {
                room.act("start");
                room.until(5.0);
            }
            room.act("weak spots");
            assert_eq!(told(&room), "weak spots looking");
            room.seconds(2.5);
            assert_eq!(told(&room), "weak spots looking");
            answer(&mut room, found);
            assert_eq!(told(&room), expected);
            // A scale of bars at 240 is a second.
            room.seconds(3.2);
            assert_eq!(told(&room), "", "{is_playing} {expected}");
        }
    }
}

#[test]
fn the_drill_takes_over_with_its_first_stage_and_nothing_else_changes() {
    // At the section's end while something plays, at once where nothing does; from whatever stage.
    for is_playing in [true, false] {
        let mut room = Room::plain();
        if is_playing {
            room.act("start");
            room.until(5.0);
        }
        for action in ["louder", "next key", "next stage"] {
            room.act(action);
        }
        room.until(21.0);
        let before = room.core.status();
        assert_eq!(before.stage.as_deref(), Some("two"), "{is_playing}");
        answer(&mut room, Some(WEAK));
        if is_playing {
            assert_eq!(room.core.practised().1, "Plain drill");
            room.until(37.0);
        }
        assert_eq!(
            room.core.practised(),
            ("Plain", "weak spots"),
            "{is_playing}"
        );
        let after = room.core.status();
        assert_eq!(
            after.stage.as_deref(),
            Some("3 over dominant"),
            "{is_playing}"
        );
        assert_eq!(
            (after.chart, after.qpm, after.section),
            (before.chart, before.qpm, before.section)
        );
        assert_eq!(room.master_db, Some(-17.0));
        // The same again begins with its first stage, too.
        room.act("next stage");
        room.until(69.0);
        assert_eq!(room.core.status().stage.as_deref(), Some("1 over dominant"));
        answer(&mut room, Some(&WEAK.replace("title", "# Anew.\ntitle")));
        assert_eq!(room.starved, 0);
    }
}
