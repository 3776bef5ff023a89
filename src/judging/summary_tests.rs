//! What a round comes to, as tables.

use super::*;
use crate::judging::around::Around;
use crate::judging::pass_record::{PassKey, Target};
use crate::judging::verdict::{NoteName, Wanted};
use crate::plan::standing::Loop;
use crate::time::{Frame, Tick};

/// A pass of one target a symbol, a root each.
fn record(stage: &str, round: u32, symbols: &[&str]) -> PassRecord {
    let target = |(index, symbol): (usize, &&str)| Target {
        wanted: wanted(index),
        tick: Tick(index as i64),
        bar: None,
        section: String::new(),
        around: Around {
            chord: symbol.parse().ok(),
            ..Around::default()
        },
    };
    PassRecord {
        key: PassKey {
            take: 1,
            origin: Tick(0),
            stage: 0,
            pass: 0,
        },
        tune: (String::new(), None),
        stage: stage.to_string(),
        pass: 1,
        round,
        sung: false,
        looping: Loop::Form,
        as_asked: true,
        whole: true,
        targets: symbols.iter().enumerate().map(target).collect(),
        spans: Vec::new(),
        returns: Vec::new(),
        begins: Frame(0),
        ends: Some(Frame(1)),
    }
}

fn name(degree: Degree) -> NoteName {
    let root = "C".parse().expect("a note");
    let pitch = degree.above(root);
    NoteName { degree, pitch }
}

fn wanted(chord: usize) -> Wanted {
    Wanted {
        chord,
        name: name(Degree::new(1, 0)),
        midi: 48,
        fixed: false,
        choice: false,
        at_ms: 1_000.0 * chord as f64,
        at_last_ms: 1_000.0 * chord as f64,
        on_change: true,
        beat_ms: 500.0,
        until_ms: 1_000.0 * (chord + 1) as f64,
        set: 1,
        names: std::array::from_fn(|_| name(Degree::new(1, 0))),
    }
}

fn verdict(target: usize, outcome: Outcome, timing: Timing) -> Verdict {
    Verdict {
        target: (outcome != Outcome::Other).then_some(target),
        want: Some(name(Degree::new(1, 0))),
        timing: Some(timing),
        ..Verdict::blank(target, 1_000.0 * target as f64, outcome)
    }
}

#[test]
fn a_round_is_told_as_what_was_missed_what_came_beside_and_how_it_stood_in_time() {
    use Outcome::*;
    use Timing::*;
    // Verdicts on Gm6 and C7 in turn, the steady offset; what is told.
    type Case<'a> = (
        &'a [(Outcome, Timing)],
        f64,
        &'a [&'a str],
        bool,
        usize,
        Option<TimeHabit>,
    );
    #[rustfmt::skip]
    let cases: &[Case<'_>] = &[
        (&[(Right, InTime), (Right, InTime)],                0.0,   &[],            true,  0, None),
        (&[(Right, InTime), (Wrong, InTime)],                9.0,   &["C7"],        true,  0, None),
        (&[(Missed, InTime), (Octave, InTime)],              12.4,  &["Gm6", "C7"], true,  0, Some(TimeHabit::Sits(12.4))),
        (&[(Right, Late), (Right, Late), (Other, InTime)],   0.0,   &[],            true,  1, Some(TimeHabit::OftenLate)),
        (&[(Right, Early), (Right, Early), (Other, InTime)], 12.0,  &[],            true,  1, Some(TimeHabit::OftenEarly)),
        (&[(Right, Late), (Other, Late)],                    0.0,   &[],            true,  1, None),
        (&[(NotJudged, InTime)],                             -15.0, &[],            false, 0, Some(TimeHabit::Sits(-15.0))),
    ];
    for (verdicts, offset_ms, missed, is_clear, others, time) in cases {
        let given = verdicts.iter().enumerate();
        let given = given.map(|(at, (outcome, timing))| verdict(at, *outcome, *timing));
        let judged = Judged {
            verdicts: given.collect(),
            offset_ms: *offset_ms,
            tuning_cents: 0.0,
        };
        let mut summary = Summary::default();
        summary.add(&record("roots", 1, &["Gm6", "C7"]), &judged);
        let told = summary.of_round("roots", 1).map(|round| round.played);
        let Some(RoundPlayed::Notes(notes)) = told else {
            panic!("{verdicts:?}: {told:?}");
        };
        let text = |(_, chord): &(Degree, Option<&ChordSymbol>)| chord.map(|c| c.text.clone());
        let found: Vec<String> = notes.missed.iter().filter_map(text).collect();
        assert_eq!(found, *missed, "{verdicts:?}");
        let rest = (notes.is_clear, notes.others, notes.time);
        assert_eq!(rest, (*is_clear, *others, *time), "{verdicts:?}");
        assert!(summary.of_round("roots", 2).is_none());
        assert!(summary.of_round("thirds", 1).is_none());
    }
}

#[test]
fn a_new_round_forgets_the_one_before() {
    let judged = Judged {
        verdicts: vec![verdict(0, Outcome::Right, Timing::InTime)],
        ..Judged::default()
    };
    let mut summary = Summary::default();
    summary.add(&record("roots", 0, &["C7"]), &judged);
    summary.choose(&record("roots", 1, &[]), Choice::default());
    assert_eq!(summary.of_round("roots", 0), None);
    let told = summary.of_round("roots", 1).map(|round| round.played);
    assert_eq!(told, Some(RoundPlayed::Chosen(&Choice::default(), None)));
}

#[test]
fn coming_back_is_counted_by_how_far_off_it_was() {
    use Reentries::{Heard, Unheard};
    for (beats, told) in [
        (&[][..], None),
        (&[None], Some(Unheard)),
        (&[Some(0), None], Some(Heard(1, vec![]))),
        (&[Some(0), Some(4)], Some(Heard(2, vec![(4, 1)]))),
        (
            &[Some(1), Some(-1), Some(-1), Some(3)],
            Some(Heard(4, vec![(-1, 2), (1, 1), (3, 1)])),
        ),
    ] {
        let reentry = |beats: &Option<i32>| Reentry {
            at_ms: 0.0,
            beats: *beats,
            late_ms: beats.map(f64::from),
        };
        let reentries: Vec<Reentry> = beats.iter().map(reentry).collect();
        let mut summary = Summary::default();
        summary.come_back(&record("traded", 0, &[]), &reentries);
        let round = summary.of_round("traded", 0).expect("a round");
        assert_eq!(round.reentries, told, "{beats:?}");
    }
}

#[test]
fn what_was_missed_most_comes_first_and_a_third_is_a_third() {
    let places = ["3 C", "1 F", "b3 C", "b2 A7", "2 A7", "1 F", "b3 C"];
    let place = |text: &str| {
        let (degree, chord) = text.split_once(' ').expect("a place");
        let degree: Degree = degree.parse().expect("a degree");
        (degree, chord.to_string())
    };
    let told = ranked(places.into_iter().map(place), is_same_place);
    let told: Vec<String> = told
        .iter()
        .map(|((degree, chord), count)| format!("{degree} {chord} {count}"))
        .collect();
    assert_eq!(told, ["3 C 3", "1 F 2", "b2 A7 1", "2 A7 1"]);
}
