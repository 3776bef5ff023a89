//! The demo charts, as the band plays them: from the file through the analysis to the notes.

use super::tunes::{Setting, Tune};
use super::{changes_only, median, part, rhythms, strokes, top_moves};
use std::collections::BTreeSet;
use underfoot::chart::{Analysis, Chart, Feel, Form};
use underfoot::drill::Comping;
use underfoot::fault::Source;
use underfoot::harmony::{Habits, Harmony};
use underfoot::time::{Part, Tick};

const CHARTS: [(&str, &str); 4] = [
    (
        "ferry",
        include_str!("../../../configs/charts/ferry-at-six.toml"),
    ),
    (
        "blues",
        include_str!("../../../configs/charts/gasworks-corner.toml"),
    ),
    (
        "waltz",
        include_str!("../../../configs/charts/nine-lanterns.toml"),
    ),
    (
        "bossa",
        include_str!("../../../configs/charts/tram-to-the-salt-pans.toml"),
    ),
];

/// A chart as a tune: its whole form, or one of its sections.
fn laps(name: &str, text: &str) -> (Feel, Vec<Tune>) {
    let chart = Chart::read(&Source { name, text }).unwrap_or_else(|faults| panic!("{faults:?}"));
    let form = Form::unroll(&chart);
    let contexts = Analysis::of(&form, &Habits::default()).chords;
    let whole: Vec<usize> = (0..form.bars.len()).collect();
    let sections = (0..chart.sections.len()).map(|section| {
        form.first_item_of(section)
            .map(|item| form.item_bars(item))
            .unwrap_or_default()
    });
    let laps = std::iter::once(whole).chain(sections);
    let tunes = laps.map(|bars| Tune {
        lap: form.lap(&bars),
        contexts: contexts.clone(),
    });
    (chart.feel, tunes.collect())
}

#[test]
fn demo_charts_keep_the_rules_of_comping() {
    for (name, text) in CHARTS {
        let (feel, tunes) = laps(name, text);
        for tune in &tunes {
            for qpm in [40.0, 112.0, 180.0, 280.0] {
                for pass in 0..2 {
                    let setting = Setting {
                        feel,
                        qpm,
                        pass,
                        ..Setting::default()
                    };
                    let notes = tune.play(&setting);
                    let worst = top_moves(&notes).into_iter().max().unwrap_or(0);
                    let middle = median(changes_only(&notes));
                    assert!(worst <= 5 && middle <= 2, "{name} {qpm}: {middle} {worst}");
                }
            }
        }
        let notes = tunes[0].play(&Setting {
            feel,
            ..Setting::default()
        });
        println!("{name}: {:?}", changes_only(&notes));
    }
}

#[test]
fn demo_charts_get_eight_rhythms_in_swing_and_bossa() {
    for (name, text) in CHARTS {
        let (feel, tunes) = laps(name, text);
        let least = if feel == Feel::Waltz { 3 } else { 8 };
        for seed in 0..8 {
            let bars: Vec<Vec<i64>> = (1..5)
                .flat_map(|pass| {
                    let setting = Setting {
                        feel,
                        seed,
                        pass,
                        ..Setting::default()
                    };
                    rhythms(&tunes[0], &tunes[0].play(&setting))
                })
                .collect();
            let different: BTreeSet<_> = bars[..32].iter().collect();
            assert!(
                different.len() >= least,
                "{name} {seed}: {}",
                different.len()
            );
            for run in bars.windows(3) {
                assert!(
                    run[0] != run[1] || run[1] != run[2],
                    "{name} {seed}: {run:?}"
                );
            }
        }
    }
}

#[test]
fn demo_charts_get_a_bass_that_says_the_chord() {
    for (name, text) in CHARTS {
        let (feel, tunes) = laps(name, text);
        for tune in &tunes {
            for (qpm, pass) in [(60.0, 0), (140.0, 0), (140.0, 1), (280.0, 2)] {
                let notes = tune.play(&Setting {
                    feel,
                    qpm,
                    pass,
                    ..Setting::default()
                });
                let bass = part(&notes, Part::Bass);
                for bar in &tune.lap.bars {
                    let index = tune.lap.chords.iter().rposition(|c| c.start <= bar.start);
                    let chord = &tune.contexts[tune.lap.chords[index.unwrap()].form_chord];
                    let Harmony::Chord(symbol) = &chord.harmony else {
                        continue;
                    };
                    let one = bass.iter().find(|note| note.at == bar.start);
                    let class = one.map(|note| note.key % 12);
                    let begins = tune.lap.chords[index.unwrap()].start == bar.start;
                    let third_or_fifth = symbol.degrees.iter().any(|d| {
                        matches!(d.number, 3 | 5) && Some(d.above(symbol.root).class()) == class
                    });
                    let fits = class == Some(symbol.bass.class()) || !begins && third_or_fifth;
                    assert!(fits, "{name} {}", symbol.text);
                }
                for three in bass.windows(3) {
                    let same = three[0].key == three[1].key && three[1].key == three[2].key;
                    assert!(
                        !same && three[0].key.abs_diff(three[1].key) <= 12,
                        "{name} {three:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn demo_charts_never_sound_the_target_where_it_is_withheld() {
    for (name, text) in CHARTS {
        let (feel, tunes) = laps(name, text);
        for tune in &tunes {
            for targets in [&["1"][..], &["3"], &["1", "2", "3"]] {
                let comping = Comping::WithoutTarget;
                let notes = tune.play(&Setting {
                    feel,
                    comping,
                    targets,
                    ..Setting::default()
                });
                let sets = tune.targets(targets);
                let overlap = |chord: &underfoot::chart::LapChord, at: Tick, len: Tick| {
                    at < chord.start + chord.len && at + len > chord.start
                };
                for note in part(&notes, Part::Comping) {
                    for (chord, set) in tune.lap.chords.iter().zip(&sets) {
                        let sounds = overlap(chord, note.at, note.len);
                        let hit = set.notes.iter().any(|t| t.pitch.class() == note.key % 12);
                        assert!(!(sounds && hit), "{name} {targets:?} {note:?}");
                    }
                }
                assert!(strokes(&notes).len() >= tune.lap.bars.len() / 2, "{name}");
            }
        }
    }
}

#[test]
fn demo_charts_come_home_the_last_time() {
    // What a bandleader would end on: the bass, and the guide tones over it.
    let ends = [
        ("ferry", "G", "Bb E"),
        ("blues", "F", "A Eb"),
        ("waltz", "G", "B"),
        ("bossa", "F", "A"),
    ];
    for ((name, text), (_, root, guides)) in CHARTS.into_iter().zip(ends) {
        let (feel, tunes) = laps(name, text);
        let tune = &tunes[0];
        let notes = tune.play(&Setting {
            feel,
            last_time: true,
            loops: false,
            ..Setting::default()
        });
        let last = tune.lap.bars[tune.lap.bars.len() - 1].start;
        let end: Vec<_> = notes.into_iter().filter(|note| note.at >= last).collect();
        assert!(end.iter().all(|note| note.at == last), "{name}");
        let sounding: BTreeSet<u8> = part(&end, Part::Comping)
            .iter()
            .map(|n| n.key % 12)
            .collect();
        let wanted: BTreeSet<u8> = super::classes(guides).into_iter().collect();
        assert!(sounding.is_superset(&wanted), "{name}: {sounding:?}");
        assert_eq!(
            part(&end, Part::Bass)[0].key % 12,
            super::classes(root)[0],
            "{name}"
        );
    }
}
