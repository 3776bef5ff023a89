//! The proposal of the day: what stands there, how a foot takes or skips it, and who is never bothered by it. And the short
//! report.

use super::actions::gesture;
use crate::support::practice::*;
use underfoot::display::Page;
use underfoot::foot::GestureKind::{self, Hold, Press, Tap};
use underfoot::practice::{EventKind, Proposal, ProposedSkill, Settings, ShortReport};

const WEAK: &str = "title = 'weak spots'\n[[stage]]\nname = 'b3 over half-diminished'\ndegrees = ['3']\nplaces = ['1']\n\
    cycle = { listen = 0, play = 1 }\n";

fn skill() -> ProposedSkill {
    ProposedSkill {
        degree: "b3".parse().expect("a degree"),
        quality: "half-diminished".to_string(),
    }
}

fn proposal() -> EventKind {
    EventKind::Proposal(Box::new(Proposal {
        skill: skill(),
        nights: Some(1),
        more: 0,
        drill: Box::new(drill(WEAK)),
    }))
}

fn room(settings: Settings) -> Room {
    Room::new(library(&[CHART, OTHER], DRILL), settings)
}

/// The message that stands.
fn message(room: &Room) -> Option<String> {
    match room.core.page() {
        Page::Message { title, lines } => Some(format!("{title} {}", lines.join("; "))),
        _ => None,
    }
}

fn proposed(hint: &str) -> Option<String> {
    let told = "10 minutes? yesterday: third over half-diminished";
    Some(format!("{told}; {hint}"))
}

#[test]
fn a_foot_takes_it_or_plays_without_it() {
    // Switches, what stands, the press; the drill then, skipped.
    type Case = (usize, &'static str, (u8, GestureKind), &'static str, u32);
    #[rustfmt::skip]
    let cases: [Case; 7] = [
        (1, "hold: yes, tap: play",     (1, Hold), "weak spots",  0),
        (1, "hold: yes, tap: play",     (1, Tap),  "Plain drill", 1),
        (2, "hold 2: yes, tap 1: play", (2, Hold), "weak spots",  0),
        (2, "hold 2: yes, tap 1: play", (1, Tap),  "Plain drill", 1),
        (2, "hold 2: yes, tap 1: play", (2, Tap),  "Plain drill", 1),
        (4, "hold 3: yes, tap 1: play", (3, Hold), "weak spots",  0),
        (4, "hold 3: yes, tap 1: play", (1, Tap),  "Plain drill", 1),
    ];
    for (switches, hint, (switch, kind), title, skipped) in cases {
        let mut room = room(settings(switches));
        room.handle(proposal());
        assert_eq!(message(&room), proposed(hint), "{switches}");
        assert_eq!(room.core.status().state, "menu");
        room.play(&gesture(switch, kind));
        assert_eq!((message(&room), room.skipped), (None, skipped));
        assert_eq!(room.core.practised().1, title, "{switches} {kind:?}");
        // The switch that starts plays what is there; with another one nothing plays yet.
        if (switch, kind) == (1, Tap) {
            room.seconds(1.0);
            assert_eq!(room.takes(), 1, "{switches}");
            continue;
        }
        assert_eq!(room.takes(), 0, "{switches} {kind:?}");
        assert_eq!(room.core.status().state, "stopped");
        // The next press is the player's own again.
        room.play(&gesture(1, Press));
        room.seconds(1.0);
        assert_eq!(room.takes(), 1, "{switches} {kind:?}");
    }
}

#[test]
fn who_has_begun_is_not_asked() {
    let mut playing = room(settings(1));
    playing.act("start");
    playing.until(5.0);
    playing.handle(proposal());
    assert_eq!(playing.core.status().state, "playing");
    playing.act("stop");
    playing.seconds(1.0);
    playing.handle(proposal());
    assert_eq!((message(&playing), playing.skipped), (None, 0));
    // A take that begins by other means (a key, a clock) is the answer.
    let mut begun = room(settings(1));
    begun.handle(proposal());
    begun.act("start");
    begun.until(5.0);
    begun.act("stop");
    begun.seconds(1.0);
    assert_eq!((message(&begun), begun.skipped), (None, 0));
    // Whose foot cannot say yes.
    let mut footless = room(settings(0));
    footless.handle(proposal());
    assert_eq!(message(&footless), None);
}

#[test]
fn a_message_goes_first() {
    let stands = |switches| {
        let mut room = room(settings(switches));
        room.handle(proposal());
        let (title, lines) = ("no band sound".to_string(), vec!["it is gone".to_string()]);
        room.handle(EventKind::Message { title, lines });
        assert_eq!(message(&room).as_deref(), Some("no band sound it is gone"));
        room
    };
    // A press that starts plays: nobody saw the proposal, so nobody skipped it.
    let mut one = stands(1);
    one.play(&gesture(1, Press));
    one.seconds(1.0);
    assert_eq!((message(&one), one.takes(), one.skipped), (None, 1, 0));
    // Another one clears the message.
    let mut two = stands(2);
    two.play(&gesture(2, Hold));
    assert_eq!(message(&two), proposed("hold 2: yes, tap 1: play"));
    two.play(&gesture(2, Hold));
    assert_eq!(two.core.practised().1, "weak spots");
}

#[test]
fn a_report_stands_at_rest_and_is_said_at_once() {
    for (told, stands) in [
        (
            Some((5, 12)),
            Some("report this week: 45 min; automatic: 5 of 12; next: third over half-diminished"),
        ),
        (None, None),
    ] {
        let report = told.map(|automatic| ShortReport {
            week_minutes: 45,
            automatic,
            next: Some(skill()),
        });
        for plays in [false, true] {
            let mut room = room(settings(2));
            if plays {
                room.act("start");
                room.until(5.0);
            }
            room.act("report");
            room.handle(EventKind::Report(report.clone()));
            room.seconds(2.0);
            if plays {
                assert_eq!(room.core.status().state, "playing");
                room.act("stop");
                room.seconds(0.5);
            }
            assert_eq!(message(&room).as_deref(), stands);
            let said = "this week 45 minutes, 5 of 12 automatic, next: third over half-diminished";
            let is_said = room.said.iter().any(|(_, _, text)| text == said);
            assert_eq!(is_said, stands.is_some(), "{plays}");
        }
    }
}
