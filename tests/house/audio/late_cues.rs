//! Cues that the player is handed too late are counted, and by how much; those in time are not.

use crate::support::rig::*;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use underfoot::audio::{Command, Cue, CueChoice, CueForm};
use underfoot::time::{Frame, Part, Tick};

/// At 120 and 48,000 frames a second: 24,000 frames a quarter.
const QPM: f64 = 120.0;
const BEGINS: u64 = 10_000;

/// How many were late, and the worst, in frames.
fn late(rig: &Rig) -> (u32, u32) {
    let counters = rig.end.counters();
    let worst_us = u64::from(counters.worst_late_cue_us.load(Ordering::Relaxed));
    let frames = (worst_us * u64::from(RATE)).div_ceil(1_000_000) as u32;
    (counters.late_cues.load(Ordering::Relaxed), frames)
}

/// A take of silent bars, at frame 34,000 + 64: its second quarter has begun.
fn in_the_second_quarter() -> Rig {
    let mut rig = Rig::new(prepared(false));
    rig.until(9_600, 64);
    rig.send(start(BEGINS, 0));
    rig.send(append((0..3).map(|index| bar(index, QPM, &[]))));
    rig.until(34_064, 64);
    assert_eq!(late(&rig), (0, 0));
    rig
}

/// Words of a tenth of a second that may begin on these quarters.
fn words(id: u32, starts: &[f64]) -> Command {
    let window = |start: &f64| {
        (
            Tick::from_quarters(*start),
            Tick::from_quarters(start + 1.0),
        )
    };
    let choice = CueChoice {
        form: CueForm::Full,
        samples: Arc::from(vec![0.5; 4_800]),
    };
    Command::Cue(Box::new(Cue {
        id,
        choices: [choice].into_iter().collect(),
        windows: starts.iter().map(window).collect(),
        now: starts.is_empty().then_some(Frame(0)),
    }))
}

#[test]
fn words_whose_last_start_has_passed_are_late() {
    // The second quarter began on frame 34,000; commands are taken on sub-blocks of 64 frames, the next one begins on 34,064.
    for (starts, expected) in [
        (&[1.0][..], (1, 64)),
        (&[0.0, 1.0], (1, 64)),
        (&[0.0], (1, 24_064)),
        // Another start is still to come.
        (&[1.0, 2.0], (0, 0)),
        (&[2.0], (0, 0)),
        // At once: whenever that is.
        (&[], (0, 0)),
    ] {
        let mut rig = in_the_second_quarter();
        rig.send(words(1, starts));
        rig.until(100_000, 64);
        assert_eq!(late(&rig), expected, "{starts:?}");
    }
    // Who is not wanted any more is not missed.
    let mut rig = in_the_second_quarter();
    rig.send(Command::HushCues {
        at: Frame(0),
        from: 0,
        below: 9,
    });
    rig.until(34_128, 64);
    rig.send(words(1, &[1.0]));
    rig.until(100_000, 64);
    assert_eq!(late(&rig), (0, 0));
}

#[test]
fn clicks_and_reference_notes_that_have_passed_are_late() {
    // Beat, part; how many are late and by how much, where the bar is written anew from its beginning on 34,064.
    for (notes, expected) in [
        (&[(1.0, Part::Click)][..], (1, 64)),
        (&[(0.0, Part::Click), (1.0, Part::Model)], (2, 24_064)),
        (&[(1.0, Part::Bass), (0.5, Part::Drums)], (0, 0)),
        (&[(1.01, Part::Model), (2.0, Part::Click)], (0, 0)),
    ] {
        let mut rig = in_the_second_quarter();
        let notes: Vec<_> = notes
            .iter()
            .map(|(at, part)| (*at, 0.5, *part, 76))
            .collect();
        rig.send(replace(0, [bar(0, QPM, &notes)]));
        rig.until(60_000, 64);
        assert_eq!(late(&rig), expected, "{notes:?}");
    }
}

#[test]
fn what_is_written_anew_behind_a_note_that_sounded_is_not_late() {
    let click = |key| {
        bar(
            0,
            QPM,
            &[(0.0, 0.1, Part::Click, key), (2.0, 0.1, Part::Click, key)],
        )
    };
    let mut rig = Rig::new(prepared(false));
    rig.send(start(BEGINS, 0));
    rig.send(append([click(76)]));
    rig.until(34_064, 64);
    rig.send(replace(0, [click(77)]));
    rig.until(100_000, 64);
    let struck: Vec<u8> = rig
        .tape
        .midi
        .iter()
        .filter(|(_, bytes)| bytes[0] & 0xf0 == 0x90)
        .map(|(_, bytes)| bytes[1])
        .collect();
    assert_eq!(struck, [76, 77]);
    assert_eq!(late(&rig), (0, 0));
}

#[test]
fn a_bar_that_comes_after_its_moment_is_late_by_what_it_missed() {
    let count = |index| {
        let clicks = [(0.0, 0.1, Part::Click, 76), (1.0, 0.1, Part::Click, 77)];
        bar(index, QPM, &clicks)
    };
    let mut rig = Rig::new(prepared(false));
    rig.send(start(BEGINS, 0));
    rig.send(append([count(0)]));
    // The second bar should have begun on 10,000 + 96,000; its first click is three sub-blocks late, the second is not.
    rig.until(106_192, 64);
    rig.send(append([count(1)]));
    rig.until(200_000, 64);
    assert_eq!(rig.starved(), 1);
    assert_eq!(late(&rig), (1, 192));
}
