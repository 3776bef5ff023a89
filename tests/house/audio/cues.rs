//! When a cue sounds, in which length, and when not.

use crate::support::rig::*;
use std::sync::Arc;
use underfoot::audio::{Command, Cue, CueChoice, CueForm, Notice};
use underfoot::time::{Frame, PPQ, Part, Tick};

/// A cue of constant samples: lengths in frames (full, short), windows in quarters from the take's start.
fn cue(id: u32, full: usize, short: usize, windows: &[(f64, f64)]) -> Command {
    let choice = |form, frames: usize, level: f32| CueChoice {
        form,
        samples: Arc::from(vec![level; frames]),
    };
    Command::Cue(Box::new(Cue {
        id,
        choices: [
            choice(CueForm::Full, full, 0.5),
            choice(CueForm::Short, short, 0.25),
        ]
        .into_iter()
        .collect(),
        windows: windows
            .iter()
            .map(|(start, end)| (Tick::from_quarters(*start), Tick::from_quarters(*end)))
            .collect(),
        now: windows.is_empty().then_some(Frame(0)),
    }))
}

/// A take at 120 (24,000 frames a quarter) of silent bars.
fn silent_take() -> Rig {
    let mut rig = Rig::new(prepared(false));
    rig.until(9_600, 64);
    rig.send(start(10_000, 0));
    rig.send(append((0..4).map(|index| bar(index, 120.0, &[]))));
    rig
}

/// The frames in which the cue bus is not silent, as stretches with their level.
fn heard(rig: &Rig) -> Vec<(usize, usize, f32)> {
    let mut found: Vec<(usize, usize, f32)> = Vec::new();
    for (at, level) in rig
        .cue
        .iter()
        .enumerate()
        .filter(|(_, level)| **level != 0.0)
    {
        match found.last_mut() {
            Some((_, end, before)) if *end == at && *before == *level => *end = at + 1,
            _ => found.push((at, at + 1, *level)),
        }
    }
    found
}

fn cue_notices(rig: &mut Rig) -> Vec<Notice> {
    let of_cue = |notice: &Notice| {
        matches!(
            notice,
            Notice::CueStarted { .. } | Notice::CueSkipped { .. }
        )
    };
    rig.notices().into_iter().filter(of_cue).collect()
}

#[test]
fn the_fullest_length_that_fits_starts_at_the_latest_start_it_fits() {
    // frames: full, short; windows in quarters; expected: start frame, level (0.5 full, 0.25 short)
    type Case<'a> = (usize, usize, &'a [(f64, f64)], Option<(usize, f32)>);
    let cases: [Case; 7] = [
        (20_000, 9_000, &[(1.0, 2.0)], Some((34_000, 0.5))),
        (24_000, 9_000, &[(1.0, 2.0)], Some((34_000, 0.5))),
        (24_001, 9_000, &[(1.0, 2.0)], Some((34_000, 0.25))),
        (
            20_000,
            9_000,
            &[(1.0, 3.0), (2.0, 3.0)],
            Some((58_000, 0.5)),
        ),
        (
            30_000,
            9_000,
            &[(1.0, 3.0), (2.0, 3.0)],
            Some((34_000, 0.5)),
        ),
        (30_000, 25_000, &[(1.0, 2.0)], None),
        (
            20_000,
            9_000,
            &[(-2.0, -1.0), (5.0, 6.0)],
            Some((130_000, 0.5)),
        ),
    ];
    for (full, short, windows, expected) in cases {
        let mut rig = silent_take();
        rig.send(cue(7, full, short, windows));
        rig.until(200_000, 100);
        let length = |level: f32| if level == 0.5 { full } else { short };
        let stretches: Vec<_> = expected
            .map(|(start, level)| (start, start + length(level), level))
            .into_iter()
            .collect();
        assert_eq!(heard(&rig), stretches, "{full} {short} {windows:?}");
        let notice = match expected {
            Some((start, level)) => Notice::CueStarted {
                cue: 7,
                form: if level == 0.5 {
                    CueForm::Full
                } else {
                    CueForm::Short
                },
                frame: Frame(start as u64),
                end: Frame((start + length(level)) as u64),
            },
            None => Notice::CueSkipped {
                cue: 7,
                frame: Frame(10_000),
            },
        };
        assert_eq!(
            cue_notices(&mut rig),
            [notice],
            "{full} {short} {windows:?}"
        );
    }
}

#[test]
fn a_window_that_has_passed_is_no_window() {
    let mut rig = silent_take();
    rig.until(40_000, 64);
    rig.send(cue(1, 5_000, 100, &[(1.0, 4.0)]));
    rig.until(80_000, 64);
    assert!(heard(&rig).is_empty());
    assert!(matches!(
        cue_notices(&mut rig)[..],
        [Notice::CueSkipped { cue: 1, .. }]
    ));
}

#[test]
fn two_cues_do_not_talk_over_each_other() {
    let mut rig = silent_take();
    rig.send(cue(1, 30_000, 9_000, &[(1.0, 3.0)]));
    rig.send(cue(2, 30_000, 9_000, &[(2.0, 4.0), (3.0, 4.0)]));
    rig.until(150_000, 64);
    // The second would start at 2 in full, but the first still speaks; its short form starts at 3.
    assert_eq!(heard(&rig), [(34_000, 64_000, 0.5), (82_000, 91_000, 0.25)]);
}

#[test]
fn a_change_of_tempo_moves_a_cue_or_shortens_it() {
    let mut rig = silent_take();
    rig.send(cue(1, 20_000, 9_000, &[(5.0, 6.0)]));
    rig.until(20_000, 64);
    // The second bar now runs at 240: a beat has 12,000 frames.
    rig.send(replace(4 * PPQ, [bar(1, 240.0, &[])]));
    rig.until(160_000, 64);
    let start = 10_000 + 96_000 + 12_000;
    assert_eq!(heard(&rig), [(start, start + 9_000, 0.25)]);
    assert_eq!(cue_notices(&mut rig).len(), 2);
}

#[test]
fn now_sounds_at_once_outside_a_take_too() {
    let mut rig = Rig::new(prepared(false));
    rig.until(6_400, 64);
    rig.send(cue(3, 1_000, 10, &[]));
    rig.until(12_800, 64);
    assert_eq!(heard(&rig), [(6_400, 7_400, 0.5)]);
}

#[test]
fn hush_fades_in_ten_milliseconds_and_drops_what_waits() {
    let mut rig = silent_take();
    rig.send(cue(1, 20_000, 9_000, &[(1.0, 2.0)]));
    rig.send(cue(2, 20_000, 9_000, &[(3.0, 4.0)]));
    rig.until(40_000, 64);
    rig.send(Command::HushCues {
        at: Frame(0),
        from: 0,
        below: u32::MAX,
    });
    rig.until(150_000, 64);
    let at = (10_000..)
        .step_by(64)
        .find(|at| *at >= 40_000)
        .expect("a grid");
    assert_eq!(rig.cue[at - 1], 0.5);
    assert!(rig.cue[at + 480..].iter().all(|s| *s == 0.0));
    assert!(
        rig.cue[at..at + 480]
            .windows(2)
            .all(|pair| pair[0] >= pair[1] && pair[0] - pair[1] < 0.002)
    );
    assert!(matches!(
        cue_notices(&mut rig)[..],
        [.., Notice::CueSkipped { cue: 2, .. }]
    ));
    rig.end.collect_garbage();
    rig.send(Command::Panic);
    rig.until(151_000, 64);
    rig.end.collect_garbage();
    assert_eq!(rig.end.boxes_out(), 0);
}

#[test]
fn a_stop_drops_the_cues_of_the_take_but_not_of_the_next() {
    let mut rig = silent_take();
    rig.send(cue(1, 1_000, 100, &[(3.0, 4.0)]));
    rig.until(20_000, 64);
    rig.send(stop(30_000));
    rig.send(start(40_000, 0));
    rig.send(append([bar(0, 120.0, &[(0.0, 1.0, Part::Bass, 40)])]));
    rig.send(cue(2, 1_000, 100, &[(1.0, 2.0)]));
    rig.until(100_000, 64);
    assert_eq!(heard(&rig), [(64_000, 65_000, 0.5)]);
}

#[test]
fn a_cue_is_hushed_on_its_frame_wherever_blocks_begin() {
    // Where the take begins against the grid of before, and where in a block the word is broken off.
    for (begins, hushed) in [
        (10_000, 40_000),
        (10_000, 40_001),
        (10_013, 40_063),
        (10_063, 40_031),
    ] {
        let mut rig = Rig::new(prepared(false));
        rig.until(9_600, 64);
        rig.send(start(begins, 0));
        rig.send(append((0..4).map(|index| bar(index, 120.0, &[]))));
        rig.send(cue(1, 20_000, 9_000, &[(1.0, 2.0)]));
        rig.until(38_000, 64);
        rig.send(Command::HushCues {
            at: Frame(hushed),
            from: 0,
            below: u32::MAX,
        });
        rig.until(60_000, 64);
        let at = hushed as usize;
        assert_eq!(rig.cue[at - 1], 0.5, "{begins} {hushed}");
        assert!(rig.cue[at] < 0.5 && rig.cue[at] > 0.49, "{begins} {hushed}");
        assert_eq!(rig.cue[at + 480], 0.0, "{begins} {hushed}");
    }
}
