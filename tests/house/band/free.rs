//! What the band does where it is free, and nowhere else.

use super::tunes::{BLUES, BOSSA, MINOR, Setting, WALTZ, tune};
use super::{part, strokes};
use std::collections::{BTreeMap, BTreeSet};
use underfoot::band::keys;
use underfoot::chart::Feel;
use underfoot::drill::BandStyle;
use underfoot::time::{PPQ, Part, Tick, TimedNote};

/// The drums of a bar, from its start.
fn bars(setting: &Setting, text: &str) -> Vec<Vec<(i64, u8)>> {
    let tune = tune(text);
    let drums = part(&tune.play(setting), Part::Drums);
    let of_bar = |start: Tick, end: Tick| {
        let inside = drums
            .iter()
            .filter(|note| note.at >= start && note.at < end);
        inside.map(|note| (note.at.0 - start.0, note.key)).collect()
    };
    let bars = tune.lap.bars.iter();
    bars.map(|bar| of_bar(bar.start, bar.start + bar.meter.bar_ticks()))
        .collect()
}

#[test]
fn fills_lead_into_every_section_of_a_free_band_and_are_nowhere_else() {
    let mut fills = 0;
    for (text, feel) in [
        (MINOR, Feel::Swing),
        (BLUES, Feel::Swing),
        (WALTZ, Feel::Waltz),
        (BOSSA, Feel::Bossa),
        (MINOR, Feel::Straight),
        (MINOR, Feel::Ballad),
        (BLUES, Feel::Shuffle),
    ] {
        for band in [BandStyle::Plain, BandStyle::Steady, BandStyle::Free] {
            for pass in 0..4 {
                let setting = Setting {
                    feel,
                    band,
                    pass,
                    learning: band == BandStyle::Plain,
                    sections: vec![8, 16, 24],
                    ..Setting::default()
                };
                let bars = bars(&setting, text);
                let toms = |index: usize| {
                    let tom =
                        |(_, key): &&(i64, u8)| matches!(*key, keys::HIGH_TOM | keys::LOW_TOM);
                    bars[index].iter().filter(tom).count()
                };
                for index in 0..bars.len() {
                    let ends = index % 8 == 7 || index + 1 == bars.len();
                    let before = index % 8 == 6 || index + 2 == bars.len();
                    let last = bars[index].iter().map(|(at, _)| *at).max().unwrap_or(0);
                    let skin = |(at, key): &(i64, u8)| {
                        *at == last
                            && matches!(
                                *key,
                                keys::SNARE
                                    | keys::BRUSH_TAP
                                    | keys::HIGH_TOM
                                    | keys::LOW_TOM
                                    | keys::KICK
                            )
                    };
                    if band == BandStyle::Free && ends {
                        assert!(bars[index].iter().any(skin), "{feel:?} {index}");
                        fills += 1;
                    } else if !before || band != BandStyle::Free {
                        assert_eq!(toms(index), 0, "{feel:?} {band:?} {index}");
                    }
                }
            }
        }
    }
    assert!(fills >= 7 * 4 * 4, "{fills}");
}

#[test]
fn no_answer_is_on_what_the_player_is_asked_for_nor_on_the_comping() {
    let mut answers = 0;
    for seed in 0..4 {
        let setting = Setting {
            band: BandStyle::Free,
            pass: 4,
            seed,
            targets: &["1", "3"],
            sections: vec![8, 16, 24],
            ..Setting::default()
        };
        let tune = tune(MINOR);
        let notes = tune.play(&setting);
        let comped: BTreeSet<Tick> = strokes(&notes).into_iter().map(|(at, _)| at).collect();
        let sets = tune.targets(&["1", "3"]);
        let asked: BTreeSet<Tick> = sets
            .iter()
            .flat_map(|set| &set.notes)
            .map(|n| n.at)
            .collect();
        let snare = |note: &&TimedNote| note.key == keys::SNARE;
        for note in part(&notes, Part::Drums).iter().filter(snare) {
            let bar = (note.at.0 / (4 * PPQ)) as usize;
            // Fills are the end of a section: there the player hears what comes.
            if bar % 8 < 6 {
                let near = |at: &Tick| (*at - note.at).0.abs() < PPQ / 8;
                assert!(
                    !asked.iter().any(near) && !comped.contains(&note.at),
                    "{note:?}"
                );
                answers += 1;
            }
        }
    }
    assert!(answers > 10, "{answers}");
}

#[test]
fn drums_and_top_voices_vary() {
    // Bars of drums that differ in 64; strokes with the same top note, in per cent.
    for (text, feel, least, most_per_cent) in [
        (MINOR, Feel::Swing, 24, 25),
        (BLUES, Feel::Swing, 24, 25),
        (BOSSA, Feel::Bossa, 8, 25),
        (MINOR, Feel::Straight, 6, 25),
        (BLUES, Feel::Shuffle, 16, 25),
    ] {
        let mut drums: Vec<Vec<(i64, u8)>> = Vec::new();
        let mut tops: BTreeMap<u8, usize> = BTreeMap::new();
        for pass in 0..8 {
            let setting = Setting {
                feel,
                pass,
                band: BandStyle::Free,
                sections: vec![8, 16, 24],
                ..Setting::default()
            };
            drums.extend(bars(&setting, text));
            for (_, keys) in strokes(&tune(text).play(&setting)) {
                *tops.entry(keys[keys.len() - 1]).or_default() += 1;
            }
        }
        let distinct: BTreeSet<_> = drums[..64].iter().collect();
        assert!(distinct.len() >= least, "{feel:?}: {}", distinct.len());
        let all: usize = tops.values().sum();
        let most = tops.values().max().copied().unwrap_or(0);
        assert!(
            100 * most <= most_per_cent * all,
            "{feel:?}: {most} of {all} strokes have one top note: {tops:?}"
        );
        println!(
            "{feel:?}: {} bars of drums in 64, top note {most} of {all}",
            distinct.len()
        );
    }
}

/// Bass notes of eight choruses on the swung off-beat, and on the second note of a triplet.
#[test]
fn a_free_bass_slips_in_single_notes_and_triplets_where_there_is_time() {
    for (band, qpm, singles, triplets) in [
        (BandStyle::Free, 120.0, true, true),
        (BandStyle::Free, 200.0, true, false),
        (BandStyle::Free, 240.0, false, false),
        (BandStyle::Steady, 120.0, false, false),
        (BandStyle::Plain, 120.0, false, false),
    ] {
        let (mut on_off_beats, mut in_triplets) = (0, 0);
        for pass in 0..8 {
            let setting = Setting {
                qpm,
                pass,
                band,
                learning: band == BandStyle::Plain,
                ..Setting::default()
            };
            for note in part(&tune(MINOR).play(&setting), Part::Bass) {
                let place = note.at.0.rem_euclid(PPQ);
                on_off_beats += usize::from(place > PPQ / 2);
                in_triplets += usize::from(place == PPQ / 3);
            }
        }
        assert_eq!(on_off_beats > 0, singles, "{band:?} at {qpm}");
        assert_eq!(in_triplets > 0, triplets, "{band:?} at {qpm}");
    }
}
