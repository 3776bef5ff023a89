//! The band through its public door: what it plays over whole tunes.
//!
//! Rules of accompaniment are common practice without a source unless a line says otherwise. Tunes are made
//! up for the tests.

#[path = "band/tunes.rs"]
mod tunes;

use proptest::prelude::*;
use std::collections::BTreeSet;
use tunes::{BLUES, BOSSA, MINOR, Setting, Tune, WALTZ, tune};
use underfoot::band::{comping_offset, keys, play, ride_offset};
use underfoot::chart::Feel;
use underfoot::drill::{Click, Comping, Drums, Model};
use underfoot::harmony::Harmony;
use underfoot::time::{BAR_NOTES, PPQ, Part, Tick, TimedNote, UsPerQuarter};

/// The strokes of the comping: where, and the keys.
fn strokes(notes: &[TimedNote]) -> Vec<(Tick, Vec<u8>)> {
    let mut all: Vec<(Tick, Vec<u8>)> = Vec::new();
    for note in notes.iter().filter(|note| note.part == Part::Comping) {
        match all.last_mut() {
            Some((at, keys)) if *at == note.at => keys.push(note.key),
            _ => all.push((note.at, vec![note.key])),
        }
    }
    all
}

fn part(notes: &[TimedNote], part: Part) -> Vec<TimedNote> {
    notes.iter().filter(|n| n.part == part).copied().collect()
}

/// Moves of the top voice from stroke to stroke, the seam included.
fn top_moves(notes: &[TimedNote]) -> Vec<u8> {
    let strokes = strokes(notes);
    let tops: Vec<u8> = strokes
        .iter()
        .map(|(_, keys)| keys[keys.len() - 1])
        .collect();
    (0..tops.len())
        .map(|i| tops[i].abs_diff(tops[(i + 1) % tops.len()]))
        .collect()
}

/// Moves of the top voice where the chord changes, held and repeated chords left out.
fn changes_only(notes: &[TimedNote]) -> Vec<u8> {
    let mut voicings: Vec<Vec<u8>> = strokes(notes).into_iter().map(|(_, keys)| keys).collect();
    voicings.dedup();
    let top = |keys: &Vec<u8>| keys[keys.len() - 1];
    (0..voicings.len())
        .map(|i| top(&voicings[i]).abs_diff(top(&voicings[(i + 1) % voicings.len()])))
        .collect()
}

fn median(mut moves: Vec<u8>) -> u8 {
    moves.sort_unstable();
    moves[moves.len() / 2]
}

/// The rhythm of every bar: places of its strokes from the bar's start.
fn rhythms(tune: &Tune, notes: &[TimedNote]) -> Vec<Vec<i64>> {
    let strokes = strokes(notes);
    tune.lap
        .bars
        .iter()
        .map(|bar| {
            let end = bar.start + bar.meter.bar_ticks();
            strokes
                .iter()
                .filter(|(at, _)| *at >= bar.start && *at < end)
                .map(|(at, _)| at.0 - bar.start.0)
                .collect()
        })
        .collect()
}

#[test]
fn the_top_voice_sings() {
    for (text, feel) in [
        (MINOR, Feel::Swing),
        (WALTZ, Feel::Waltz),
        (BLUES, Feel::Swing),
        (BOSSA, Feel::Bossa),
    ] {
        let tune = tune(text);
        for qpm in [80.0, 140.0, 200.0] {
            for seed in 0..4 {
                let notes = tune.play(&Setting {
                    feel,
                    qpm,
                    seed,
                    ..Setting::default()
                });
                let moves = changes_only(&notes);
                let worst = top_moves(&notes).into_iter().max().unwrap();
                assert!(worst <= 3, "{feel:?} {qpm}: worst {worst}");
                assert!(median(moves.clone()) <= 2, "{feel:?} {qpm}: {moves:?}");
            }
        }
    }
}

#[test]
fn rhythms_vary_as_a_good_accompanist_varies_them() {
    for (text, feel, least) in [
        (MINOR, Feel::Swing, 8),
        (BLUES, Feel::Swing, 8),
        (BOSSA, Feel::Bossa, 8),
        (MINOR, Feel::Straight, 8),
        (WALTZ, Feel::Waltz, 3),
        (MINOR, Feel::Ballad, 4),
    ] {
        let tune = tune(text);
        for seed in 0..20 {
            // Three passes as one: the seam may not join two runs.
            let bars: Vec<Vec<i64>> = (0..3)
                .flat_map(|pass| {
                    let notes = tune.play(&Setting {
                        feel,
                        seed,
                        pass,
                        ..Setting::default()
                    });
                    rhythms(&tune, &notes)
                })
                .collect();
            let different: BTreeSet<_> = bars[..32].iter().collect();
            assert!(
                different.len() >= least,
                "{feel:?} {seed}: {}",
                different.len()
            );
            for run in bars.windows(3) {
                assert!(
                    !(run[0] == run[1] && run[1] == run[2]),
                    "{feel:?} {seed}: {run:?}"
                );
            }
        }
    }
}
