//! The page of the input: by itself once, where an input is heard for the first time, and whenever a foot asks.

use super::actions::gesture;
use crate::support::practice::*;
use underfoot::device::{Hum, InputReport, Strings};
use underfoot::display::Page;
use underfoot::drill::Names;
use underfoot::foot::GestureKind::Press;
use underfoot::judging::EarEvent;
use underfoot::practice::{EventKind, Settings};

/// A guitar as it should be.
fn well() -> InputReport {
    InputReport {
        listened_s: 6.0,
        peak_db: -6.0,
        level_db: Some(-18.0),
        noise_db: Some(-70.0),
        hum: None,
        clipped: 0,
        notes: 8,
        tuning_cents: Some(-12.0),
        strings: Some(Strings::Guitar),
        is_sure: true,
    }
}

fn room(settings: Settings) -> Room {
    Room::new(library(&[CHART, OTHER], DRILL), settings)
}

fn told(room: &mut Room, report: InputReport) {
    room.handle(EventKind::Heard(EarEvent::Input(report)));
}

/// Title and lines of the page.
fn page(room: &Room) -> Option<(String, String)> {
    match room.core.page() {
        Page::Message { title, lines } => Some((title, lines.join("; "))),
        _ => None,
    }
}

#[test]
fn what_is_the_matter_stands_first_then_what_to_do_then_what_was_found() {
    let hum = |level_db| {
        Some(Hum {
            mains_hz: 50,
            level_db,
        })
    };
    let silent = InputReport::nothing();
    #[rustfmt::skip]
    let cases = [
        (well(), "I hear you", "level -18 dB, peak -6 dB; noise -70 dB; 12 cents low; guitar"),
        (InputReport { is_sure: false, ..well() }, "listening", "level -18 dB, peak -6 dB; noise -70 dB; 12 cents low; guitar"),
        (InputReport { level_db: Some(-52.0), noise_db: Some(-90.0), tuning_cents: None, ..well() }, "too soft",
            "turn the input up; level -52 dB, peak -6 dB; noise -90 dB; guitar"),
        (InputReport { clipped: 20, peak_db: 0.0, tuning_cents: Some(3.0), ..well() }, "clipping",
            "turn the input down; level -18 dB, peak 0 dB; noise -70 dB; in tune; guitar"),
        (InputReport { hum: hum(-50.0), noise_db: Some(-50.0), strings: Some(Strings::Bass), ..well() }, "hum",
            "same outlet for amp and box; away from chargers and lamps; level -18 dB, peak -6 dB; noise -50 dB; hum 50 Hz, 32 dB under you; 12 cents low; bass"),
        (InputReport { noise_db: Some(-40.0), ..well() }, "noise", "guitar louder, input lower; level -18 dB, peak -6 dB; noise -40 dB; 12 cents low; guitar"),
        (silent, "I hear nothing", "check cable, volume and input"),
        (InputReport { hum: hum(-40.0), noise_db: Some(-40.0), ..silent }, "I hear nothing", "check cable, volume and input; and hum; noise -40 dB; hum 50 Hz"),
        (InputReport { clipped: 9, level_db: Some(-50.0), ..well() }, "clipping", "turn the input down; and too soft, noise; level -50 dB, peak -6 dB; noise -70 dB; 12 cents low; guitar"),
    ];
    for (report, title, lines) in cases {
        let mut room = room(settings(1));
        room.act("input");
        assert_eq!(
            page(&room),
            Some(("play a few notes".into(), String::new()))
        );
        assert!(room.core.checks_input());
        told(&mut room, report);
        assert_eq!(page(&room), Some((title.into(), lines.into())));
    }
}

#[test]
fn an_input_that_is_new_tells_once_by_itself_and_the_first_press_plays() {
    let mut room = room(settings(1));
    room.seconds(1.0);
    told(&mut room, well());
    assert_eq!(
        page(&room).map(|page| page.0).as_deref(),
        Some("I hear you")
    );
    room.play(&gesture(1, Press));
    room.seconds(1.0);
    assert_eq!(room.takes(), 1);
    // Neither while it plays nor after the take.
    told(&mut room, well());
    assert_eq!(page(&room), None);
    room.act("stop");
    room.seconds(2.0);
    told(&mut room, well());
    assert_eq!(page(&room), None);
    assert!(!room.core.checks_input());
}

#[test]
fn a_press_leads_back_from_where_a_foot_asked_and_does_no_more_after_a_take() {
    let mut room = room(settings(1)).started("3; +0 stop; +2");
    room.act("input");
    told(&mut room, well());
    assert_eq!(
        page(&room).map(|page| page.0).as_deref(),
        Some("I hear you")
    );
    let takes = room.takes();
    room.play(&gesture(1, Press));
    room.seconds(1.0);
    assert_eq!((page(&room), room.takes()), (None, takes));
    // The tuner takes its place, and it the tuner's.
    room.act("input");
    room.act("tuner");
    assert!(room.core.is_tuning() && !room.core.checks_input());
    room.act("input");
    assert!(!room.core.is_tuning() && room.core.checks_input());
}

#[test]
fn it_is_said_once_in_the_voices_language() {
    for (names, report, said) in [
        (Names::English, well(), "I hear you"),
        (Names::German, well(), "ich höre dich"),
        (
            Names::English,
            InputReport {
                clipped: 9,
                ..well()
            },
            "clipping, turn the input down",
        ),
        (
            Names::German,
            InputReport {
                clipped: 9,
                ..well()
            },
            "übersteuert, Eingang leiser",
        ),
    ] {
        let settings = Settings {
            names,
            ..settings(1)
        };
        let mut room = room(settings);
        for n in 0..4 {
            told(
                &mut room,
                InputReport {
                    notes: 8 + n,
                    ..report
                },
            );
            room.seconds(0.5);
        }
        let texts: Vec<&str> = room.said.iter().map(|(_, _, text)| &text[..]).collect();
        assert_eq!(texts, [said]);
    }
}
