//! New settings while the band plays: each counts from its own moment, and nothing else changes.

use super::actions::SLOW;
use crate::support::practice::told::all_words;
use crate::support::practice::*;
use underfoot::display::Page;
use underfoot::drill::Names;
use underfoot::foot::{Action, FootState, GestureKind};
use underfoot::practice::{Settings, Spoken};

/// A room that plays, into which the same files and these settings come in bar 2.
fn changed(change: impl FnOnce(&mut Settings)) -> Room {
    let mut room = Room::plain();
    room.reload = Some(library(&[CHART, OTHER], DRILL));
    change(&mut room.settings);
    room
}

#[test]
fn what_goes_round_goes_on_where_it_is() {
    type Change = fn(&mut Settings);
    let cases: [(&str, Change, &str); 7] = [
        ("nothing", |_| (), "n n C D E F C D E F"),
        (
            "the level",
            |new| new.master_db = -6.0,
            "n n C D E F C D E F",
        ),
        (
            "names of notes",
            |new| new.names = Names::German,
            "n n C D E F C D E F",
        ),
        (
            "what is said",
            |new| new.spoken = Spoken::Asked,
            "n n C D E F C D E F",
        ),
        (
            "the tempo",
            |new| new.tempo_per_cent = 80.0,
            "n n C D E F C D E F",
        ),
        (
            "switches",
            |new| new.switches[0].hold_ms = 900.0,
            "n n C D E F C D E F",
        ),
        (
            "the neck: from the section's end",
            |new| new.neck.capo = 2,
            "n n C D E F C D E F",
        ),
    ];
    for (what, change, heard) in cases {
        let room = changed(change).started("5 reload; 31");
        assert_eq!(room.heard(), heard, "{what}");
        assert_eq!((room.starved, room.broken()), (0, Vec::new()), "{what}");
    }
}

#[test]
fn the_pass_is_not_begun_again_by_a_setting() {
    let passes = |room: Room, script: &str| {
        let room = room.started(script);
        let passes = room.records.iter().map(|record| record.pass);
        passes.max().unwrap_or(0)
    };
    let untouched = passes(Room::plain(), "47");
    assert!(untouched >= 3, "{untouched}");
    let reloaded = passes(changed(|new| new.master_db = -6.0), "5 reload; 47");
    assert_eq!(reloaded, untouched);
}

#[test]
fn a_chart_that_comes_before_the_one_that_plays_begins_nothing_again() {
    let passes = |room: &Room| {
        let passes = room.records.iter().map(|record| record.pass);
        passes.max().unwrap_or(0)
    };
    let untouched = passes(&Room::plain().started("47"));
    for charts in [&[OTHER, CHART][..], &[SLOW, OTHER, CHART], &[CHART]] {
        let mut room = Room::plain();
        room.reload = Some(library(charts, DRILL));
        let room = room.started("5 reload; 47");
        assert_eq!(room.heard(), Room::plain().started("47").heard());
        assert_eq!(passes(&room), untouched, "{}", charts.len());
    }
    // At rest the player stands where they stood, and the list goes on from where the chart is now.
    let mut room = Room::plain();
    room.reload = Some(library(&[SLOW, CHART, OTHER], DRILL));
    room.play("+0 next stage; +0.1 next section; +0.1 reload; +0.1");
    let told = |room: &Room| {
        let status = room.core.status();
        (status.stage, status.section)
    };
    assert_eq!(told(&room), (Some("two".into()), Some("B".into())));
    let title = room.core.practised().0.to_string();
    room.play("+0 next chart; +0.1");
    assert_ne!(room.core.practised().0, title);
    room.play("+0 previous chart; +0.1 previous chart; +0.1");
    assert_ne!(room.core.practised().0, title);
    room.play("+0 next chart; +0.1");
    assert_eq!(room.core.practised().0, title);
    // What is armed leads to the tune that comes next in the new list.
    let mut room = Room::plain();
    room.reload = Some(library(&[SLOW, CHART, OTHER], DRILL));
    let room = room.started("5 next chart; 7 reload; 31");
    let other = Room::plain().started("5 next chart; 31");
    assert_eq!(room.heard(), other.heard());
}

#[test]
fn each_setting_is_in_force() {
    // The level is sent, and kept.
    let room = changed(|new| new.master_db = -6.0).started("5 reload; 7");
    assert_eq!(room.master_db, Some(-6.0));
    // A level that the foot chose stays where the file says the same as before.
    let room = changed(|_| ()).started("5 louder; 6 reload; 9");
    assert_eq!(room.master_db, Some(-17.0));
    // The tempo: 80 per cent of the chart's 240.
    let room = changed(|new| new.tempo_per_cent = 80.0).started("5 reload; 12");
    assert!((room.core.status().qpm - 192.0).abs() < 0.01);
    // Names on the page.
    let room = changed(|new| new.names = Names::Solfege).started("5 reload; 9");
    let Page::Practice(page) = room.core.page() else {
        panic!("{:?}", room.core.page());
    };
    let notes = all_words(&page.now);
    assert!(notes.iter().any(|note| note == "mi"), "{notes:?}");
    // What a switch means.
    let room = changed(|new| {
        let hold = (FootState::Playing, 1, GestureKind::Hold);
        new.map.bind(hold.0, hold.1, hold.2, Some(Action::Panic));
        new.map
            .bind(hold.0, hold.1, GestureKind::Press, Some(Action::Stop));
    });
    let room = room.started("5 reload; 6 edge 1 down; 7");
    assert_eq!(room.core.foot_state(), FootState::Stopped);
    // What is said.
    let said = |change: fn(&mut Settings)| {
        // Slowly enough for names.
        let mut slow = settings(2);
        slow.tempo_per_cent = 35.0;
        let mut room = Room::new(library(&[CHART, OTHER], DRILL), slow);
        room.reload = Some(library(&[CHART, OTHER], DRILL));
        change(&mut room.settings);
        room.started("5 reload; 23").said.len()
    };
    let (all, asked) = (said(|_| ()), said(|new| new.spoken = Spoken::Asked));
    assert!(asked < all, "{asked} of {all} words");
}

#[test]
fn the_page_says_for_a_second_that_they_came() {
    let notes = |room: &Room| match room.core.page() {
        Page::Ready { notes, .. } => notes,
        page => panic!("{page:?}"),
    };
    let mut room = changed(|new| new.master_db = -6.0);
    room.play("+1 reload; +0.5 ");
    assert_eq!(notes(&room), ["new settings"]);
    let shown = room.pages.len();
    room.play("+1 ");
    assert_eq!(notes(&room), [""; 0]);
    assert!(room.pages.len() > shown, "a screen is told that it is over");
    let room = changed(|new| new.master_db = -6.0).started("5 reload; 5.5");
    let Page::Practice(page) = room.core.page() else {
        panic!("{:?}", room.core.page());
    };
    assert_eq!(
        page.armed.map(|armed| armed.what),
        Some("new settings".into())
    );
}
