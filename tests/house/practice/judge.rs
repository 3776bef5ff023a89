//! Verdicts: cases a line each, and a player made of chance against the list of what it did.
//!
//! The windows are common practice, without a published source; the cases are worked out by hand from them.

use underfoot::harmony::{Degree, Pitch};
use underfoot::judging::{HeardNote, NoteName, Outcome, Rules, Timing, Verdict, Wanted, judge};

/// A target of C major, `at_ms` into the take, at a tempo.
fn want(chord: usize, midi: u8, at_ms: f64, beat_ms: f64, until_ms: f64) -> Wanted {
    const NAMES: [&str; 12] = [
        "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
    ];
    let names = NAMES.map(|name| {
        let pitch: Pitch = name.parse().expect("a note");
        let degree = Degree::of(pitch, "C".parse().expect("a note"));
        NoteName { degree, pitch }
    });
    Wanted {
        chord,
        name: names[usize::from(midi % 12)],
        midi,
        fixed: false,
        choice: false,
        at_ms,
        at_last_ms: at_ms,
        on_change: true,
        beat_ms,
        until_ms,
        set: 1 << (midi % 12),
        names,
    }
}

fn played(midi: u8, onset_ms: f64) -> HeardNote {
    HeardNote {
        onset_ms,
        off_ms: Some(onset_ms + 300.0),
        midi,
        cents: 0.0,
        confidence: 0.95,
        also: None,
        struck: true,
    }
}

/// Four bars at 120, a root on one in each: C, F, G, C.
fn four_bars() -> Vec<Wanted> {
    let roots = [48, 53, 55, 48];
    let bar = |(index, midi): (usize, &u8)| {
        let at = 2_000.0 * index as f64;
        want(index, *midi, at, 500.0, at + 2_000.0)
    };
    roots.iter().enumerate().map(bar).collect()
}

fn told(verdicts: &[Verdict]) -> Vec<(Outcome, Option<Timing>, bool)> {
    verdicts
        .iter()
        .map(|verdict| (verdict.outcome, verdict.timing, verdict.found))
        .collect()
}

#[test]
fn what_is_asked_for_is_right_in_doubt_and_what_is_not_is_told_only_surely() {
    use Outcome::*;
    // For the G at 4,000 ms: notes with what was struck beside, whether they were struck, and how sure the ear is.
    type Told = (u8, f64, Option<u8>, bool, f32);
    let cases: &[(&[Told], &[Outcome])] = &[
        (&[(55, 4_000.0, None, true, 0.5)], &[Right]),
        (&[(57, 4_000.0, None, true, 0.5)], &[NotJudged]),
        (&[(55, 4_000.0, None, true, 0.1)], &[NotJudged]),
        // Two strings at once: the asked one is one of them, or neither is.
        (&[(59, 4_000.0, Some(55), true, 0.95)], &[Right]),
        (&[(55, 4_000.0, Some(59), true, 0.95)], &[Right]),
        (&[(57, 4_000.0, Some(60), true, 0.95)], &[NotJudged]),
        // A bend, a slide: from the stroke on it is the note where it rests; how it got there is not told.
        (
            &[
                (53, 4_000.0, None, true, 0.95),
                (55, 4_300.0, None, false, 0.95),
            ],
            &[Right],
        ),
        (
            &[
                (53, 4_000.0, None, true, 0.95),
                (55, 4_300.0, None, true, 0.95),
            ],
            &[Wrong],
        ),
        (
            &[
                (55, 4_000.0, None, true, 0.95),
                (57, 4_300.0, None, false, 0.95),
            ],
            &[Right, Other],
        ),
        // A stroke long before is not where it came from.
        (
            &[
                (50, 3_000.0, None, true, 0.95),
                (55, 4_300.0, None, false, 0.95),
            ],
            &[Missed],
        ),
    ];
    for (notes, wanted) in cases {
        let mut all = vec![played(48, 0.0), played(53, 2_000.0)];
        all.extend(
            notes
                .iter()
                .map(|&(midi, at, also, struck, confidence)| HeardNote {
                    also,
                    struck,
                    confidence,
                    ..played(midi, at)
                }),
        );
        all.push(played(48, 6_000.0));
        let judged = judge(&four_bars(), &all, &Rules::default());
        let third: Vec<Outcome> = judged
            .verdicts
            .iter()
            .filter(|verdict| verdict.chord == 2)
            .map(|verdict| verdict.outcome)
            .collect();
        assert_eq!(third, *wanted, "{notes:?}");
    }
}

#[test]
fn one_note_in_the_third_bar_gets_its_verdict() {
    use Outcome::*;
    use Timing::*;
    // Notes played for the G at 4,000 ms, and what that is. At 120: early by 50, late by 70 ms.
    type Case<'a> = (&'a [(u8, f64)], &'a [(Outcome, Option<Timing>, bool)]);
    let cases: &[Case<'_>] = &[
        (&[(55, 4_000.0)], &[(Right, Some(InTime), false)]),
        (&[(67, 4_000.0)], &[(Right, Some(InTime), false)]),
        (&[(55, 3_951.0)], &[(Right, Some(InTime), false)]),
        (&[(55, 3_949.0)], &[(Right, Some(Early), false)]),
        (&[(55, 4_069.0)], &[(Right, Some(InTime), false)]),
        (&[(55, 4_071.0)], &[(Right, Some(Late), false)]),
        (&[(55, 4_139.0)], &[(Right, Some(Late), false)]),
        (&[(55, 4_141.0)], &[(Missed, None, false)]),
        (&[(55, 3_760.0)], &[(Right, Some(Pushed), false)]),
        (&[(55, 3_740.0)], &[(Missed, None, false)]),
        (&[], &[(Missed, None, false)]),
        (&[(57, 4_000.0)], &[(Wrong, Some(InTime), false)]),
        (
            &[(57, 4_010.0), (55, 4_400.0)],
            &[(Wrong, Some(InTime), true)],
        ),
        (
            &[(57, 4_010.0), (55, 4_600.0)],
            &[(Wrong, Some(InTime), false)],
        ),
        (
            &[(55, 4_000.0), (57, 5_000.0)],
            &[(Right, Some(InTime), false), (Other, None, false)],
        ),
        (
            &[(55, 4_000.0), (55, 5_000.0)],
            &[(Right, Some(InTime), false)],
        ),
        // The next chord's note in its last half beat is no stranger.
        (
            &[(55, 4_000.0), (48, 5_800.0)],
            &[(Right, Some(InTime), false)],
        ),
        // A grace note of 40 ms leads into the right one.
        (
            &[(54, 3_980.0), (55, 4_020.0)],
            &[(Right, Some(InTime), false)],
        ),
        // A strum is no note.
        (
            &[(43, 4_000.0), (50, 4_015.0), (55, 4_030.0)],
            &[(NotJudged, Some(InTime), false)],
        ),
    ];
    for (notes, wanted) in cases {
        let targets = four_bars();
        let mut all = vec![played(48, 0.0), played(53, 2_000.0)];
        all.extend(notes.iter().map(|&(midi, at)| played(midi, at)));
        if !notes.iter().any(|note| note.1 == 5_800.0) {
            all.push(played(48, 6_000.0));
        }
        let judged = judge(
            &targets,
            &all,
            &Rules {
                offset_ms: 0.0,
                ..Rules::default()
            },
        );
        let of_bar = |verdict: &&Verdict| verdict.chord == 2;
        let verdicts: Vec<Verdict> = judged.verdicts.iter().filter(of_bar).cloned().collect();
        assert_eq!(told(&verdicts), **wanted, "{notes:?}");
    }
}

#[test]
fn windows_follow_the_tempo() {
    // tempo, early, late in ms: the trade's table
    for (qpm, early, late) in [
        (60.0, 80.0, 112.0),
        (120.0, 50.0, 70.0),
        (160.0, 37.5, 52.5),
        (200.0, 35.0, 49.0),
        (300.0, 35.0, 49.0),
    ] {
        let (e, l) = Rules::default().window_ms(60_000.0 / qpm);
        assert!(
            (e - early).abs() < 1e-9 && (l - late).abs() < 1e-9,
            "{qpm}: {e} {l}"
        );
    }
}

#[test]
fn a_steady_offset_and_the_tuning_are_taken_out_and_told() {
    let targets: Vec<Wanted> = (0..12)
        .map(|index| {
            want(
                index,
                48 + (index as u8 % 5),
                1_000.0 * index as f64,
                500.0,
                1_000.0 * (index as f64 + 1.0),
            )
        })
        .collect();
    for (offset, cents) in [(25.0, 0.0), (-30.0, 20.0), (10.0, -35.0)] {
        let flat = |target: &Wanted| HeardNote {
            cents,
            ..played(target.midi, target.at_ms + offset)
        };
        let all: Vec<HeardNote> = targets.iter().map(flat).collect();
        let judged = judge(&targets, &all, &Rules::default());
        assert!(
            (judged.offset_ms - offset).abs() < 1e-6,
            "{}",
            judged.offset_ms
        );
        assert!(
            (judged.tuning_cents - cents).abs() < 1e-6,
            "{}",
            judged.tuning_cents
        );
        assert!(
            judged
                .verdicts
                .iter()
                .all(|verdict| verdict.outcome == Outcome::Right
                    && verdict.timing == Some(Timing::InTime))
        );
    }
}

#[test]
fn an_off_beat_is_right_from_straight_to_the_rides_place() {
    for (at, timing) in [
        (940.0, Timing::Early),
        (960.0, Timing::InTime),
        (1_000.0, Timing::InTime),
        (1_090.0, Timing::InTime),
        (1_150.0, Timing::InTime),
        (1_175.0, Timing::Late),
    ] {
        let target = Wanted {
            at_last_ms: 1_094.0,
            on_change: false,
            ..want(0, 48, 1_000.0, 500.0, 2_000.0)
        };
        let judged = judge(&[target], &[played(48, at)], &Rules::default());
        assert_eq!(judged.verdicts[0].timing, Some(timing), "{at}");
    }
}

/// A fixed sequence of numbers, 0 to 1.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / (1u64 << 31) as f64
    }

    /// Spread of a hand, from the sum of twelve.
    fn spread_ms(&mut self, sigma: f64) -> f64 {
        ((0..12).map(|_| self.next()).sum::<f64>() - 6.0) * sigma
    }
}

#[test]
fn a_player_made_of_chance_is_judged_as_it_played() {
    let mut chance = Chance(20_261_125);
    for qpm in [60.0_f64, 120.0, 200.0] {
        let beat = 60_000.0 / qpm;
        let early = (0.1 * beat).clamp(35.0, 80.0);
        let (mut targets, mut notes, mut list) = (Vec::new(), Vec::new(), Vec::new());
        for chord in 0..400_usize {
            let at = 2.0 * beat * chord as f64;
            let midi = 43 + (chance.next() * 30.0) as u8;
            let target = want(chord, midi, at, beat, at + 2.0 * beat);
            let spread = chance.spread_ms(15.0).clamp(-0.9 * early, 0.9 * early);
            let kind = (chance.next() * 12.0) as u32;
            let (at, note, result) = match kind {
                0 => (None, midi, (Outcome::Missed, None)),
                1 => (
                    Some(at + spread),
                    midi + 1 + (chance.next() * 3.0) as u8,
                    (Outcome::Wrong, Some(Timing::InTime)),
                ),
                2 => (
                    Some(at - 1.5 * early),
                    midi,
                    (Outcome::Right, Some(Timing::Early)),
                ),
                3 => (
                    Some(at + 2.1 * early),
                    midi,
                    (Outcome::Right, Some(Timing::Late)),
                ),
                4 => (
                    Some(at + spread),
                    midi + 12,
                    (Outcome::Right, Some(Timing::InTime)),
                ),
                5 if beat > 400.0 => (
                    Some(at - 0.45 * beat),
                    midi,
                    (Outcome::Right, Some(Timing::Pushed)),
                ),
                _ => (
                    Some(at + spread),
                    midi,
                    (Outcome::Right, Some(Timing::InTime)),
                ),
            };
            list.push((chord, result));
            targets.push(target);
            notes.extend(at.map(|at| HeardNote {
                cents: chance.spread_ms(4.0),
                off_ms: Some(at + 0.4 * beat),
                ..played(note, at)
            }));
        }
        let judged = judge(&targets, &notes, &Rules::default());
        let of = |chord: usize| {
            judged
                .verdicts
                .iter()
                .find(|verdict| verdict.chord == chord && verdict.target.is_some())
        };
        let right = list
            .iter()
            .filter(|(chord, result)| {
                of(*chord).is_some_and(|verdict| (verdict.outcome, verdict.timing) == *result)
            })
            .count();
        assert!(
            right as f64 >= 0.98 * list.len() as f64,
            "{qpm}: {right} of {}",
            list.len()
        );
    }
}
