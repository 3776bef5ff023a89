//! What keeps the time: the grid, drums and clicks; the model tones.

use super::tunes::{BOSSA, MINOR, Setting, tune};
use super::{part, settings};
use underfoot::band::{FARTHEST_MS, keys, swing_offset};
use underfoot::chart::Feel;
use underfoot::drill::{Click, Drums, Model};
use underfoot::time::{BAR_NOTES, PPQ, Part, TimedNote, UsPerQuarter};

#[test]
fn onsets_stand_on_the_stated_grid() {
    for (tune, setting) in settings() {
        let tempo = UsPerQuarter::from_qpm(setting.qpm);
        let swung = matches!(
            setting.feel,
            Feel::Swing | Feel::Waltz | Feel::Ballad | Feel::Shuffle
        );
        let off_beat = if swung {
            swing_offset(tempo).0
        } else {
            PPQ / 2
        };
        for note in tune.play(&setting) {
            let bar = tune
                .lap
                .bars
                .iter()
                .rfind(|bar| bar.start <= note.at)
                .unwrap();
            let in_beat = (note.at - bar.start).0 % PPQ;
            let even = bar.meter.unit() > 4;
            let off = if even { PPQ / 2 } else { off_beat };
            assert!(in_beat == 0 || in_beat == off, "{setting:?} {note:?}");
        }
    }
}

#[test]
fn clicks() {
    // meter, which, tempo, feel: `X` high, `x` low, in steps of an eighth over two bars
    let cases = [
        ("4/4", Click::All, 120.0, "X.x.x.x.X.x.x.x."),
        ("4/4", Click::TwoAndFour, 120.0, "..x...x...x...x."),
        ("4/4", Click::First, 120.0, "X.......X......."),
        ("4/4", Click::EveryOtherBar, 120.0, "X.x.x.x........."),
        ("4/4", Click::All, 59.0, "XxxxxxxxXxxxxxxx"),
        ("3/4", Click::All, 120.0, "X.x.x.X.x.x."),
        ("6/8", Click::All, 120.0, "X..x..X..x.."),
        ("6/8", Click::All, 80.0, "XxxxxxXxxxxx"),
        ("12/8", Click::TwoAndFour, 120.0, "...x.....x.....x.....x.."),
    ];
    for (meter, click, qpm, want) in cases {
        let tune = tune(&format!("{meter} | C6 | C6 |"));
        let notes = tune.play(&Setting {
            feel: Feel::Straight,
            qpm,
            pass: 0,
            drums: Drums::Click(click),
            ..Setting::default()
        });
        let clicks = part(&notes, Part::Click);
        let steps = tune.lap.len.0 / (PPQ / 2);
        let got: String = (0..steps)
            .map(
                |step| match clicks.iter().find(|n| n.at.0 == step * PPQ / 2) {
                    Some(note) if note.key == keys::HIGH_CLICK => 'X',
                    Some(_) => 'x',
                    None => '.',
                },
            )
            .collect();
        assert_eq!(got, want, "{meter} {click:?} {qpm}");
    }
}

#[test]
fn the_foot_and_the_ride() {
    // feel, meter, key, its places in the first bar in quarters (straight tempo: eighths even at 300)
    let cases: [(Feel, &str, u8, &[f64]); 12] = [
        (Feel::Swing, "4/4", keys::PEDAL_HI_HAT, &[1.0, 3.0]),
        (Feel::Waltz, "3/4", keys::PEDAL_HI_HAT, &[1.0]),
        (Feel::Swing, "5/4", keys::PEDAL_HI_HAT, &[1.0, 4.0]),
        (Feel::Swing, "6/8", keys::PEDAL_HI_HAT, &[1.5]),
        (Feel::Bossa, "4/4", keys::SIDE_STICK, &[0.0, 1.5, 3.0]),
        (Feel::Bossa, "4/4", keys::KICK, &[0.0, 1.5, 2.0, 3.5]),
        (Feel::Shuffle, "4/4", keys::PEDAL_HI_HAT, &[1.0, 3.0]),
        (Feel::Shuffle, "4/4", keys::SNARE, &[1.0, 3.0]),
        (
            Feel::Shuffle,
            "4/4",
            keys::RIDE,
            &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5],
        ),
        (Feel::Ballad, "4/4", keys::BRUSH_SWEEP, &[0.0, 2.0]),
        (Feel::Straight, "4/4", keys::SIDE_STICK, &[1.0, 3.0]),
        (
            Feel::Straight,
            "4/4",
            keys::RIDE,
            &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5],
        ),
    ];
    for (feel, meter, key, want) in cases {
        let tune = tune(&format!("{meter} | C6 | C6 |"));
        let notes = tune.play(&Setting {
            feel,
            qpm: 300.0,
            ..Setting::default()
        });
        let bar = tune.lap.bars[1].start;
        let got: Vec<f64> = part(&notes, Part::Drums)
            .iter()
            .filter(|note| note.key == key && note.at < bar)
            .map(|note| note.at.quarters())
            .collect();
        assert_eq!(got, want, "{feel:?} {meter} {key}");
    }
}

#[test]
fn model_tones_answer_before_the_change() {
    // tune, model, targets, where its tones begin, in quarters
    type Case = (&'static str, Model, &'static [&'static str], &'static [f64]);
    let cases: [Case; 9] = [
        ("4/4 | C6 | C6 |", Model::After, &["1"], &[2.0, 6.0]),
        ("4/4 | C6 F6 | G7 |", Model::After, &["1"], &[1.0, 3.0, 6.0]),
        // Two notes in a beat: eighths.
        (
            "4/4 | C6 | C6 |",
            Model::After,
            &["1", "3"],
            &[3.0, 3.5, 7.0, 7.5],
        ),
        (
            "4/4 | C6 . | . . | C6 | C6 |",
            Model::After,
            &["1", "3"],
            &[3.0, 4.0, 11.0, 11.5, 15.0, 15.5],
        ),
        ("4/4 | C6 | C6 |", Model::After, &["1", "2", "3"], &[]),
        // The one before the first chord stands at the end of the loop.
        ("4/4 | C6 | C6 |", Model::Before, &["1"], &[1.5, 5.5]),
        (
            "4/4 | C6 | C6 |",
            Model::Before,
            &["1", "3"],
            &[1.5, 2.5, 5.5, 6.5],
        ),
        // The player is still at it when it would have to begin.
        ("4/4 | C6 F6 | C6 F6 |", Model::Before, &["1", "3"], &[]),
        ("4/4 | C6 | C6 |", Model::Off, &["1"], &[]),
    ];
    for (text, model, targets, want) in cases {
        let notes = tune(text).play(&Setting {
            feel: Feel::Straight,
            model,
            targets,
            ..Setting::default()
        });
        let tones = part(&notes, Part::Model);
        let got: Vec<f64> = tones.iter().map(|note| note.at.quarters()).collect();
        assert_eq!(got, want, "{text} {model:?} {targets:?}");
        // The answer is over before the change, what leads on half a beat before it.
        for note in tones.iter().filter(|_| !text.contains('.')) {
            let (from, to) = (note.at.quarters(), (note.at + note.len).quarters());
            let limit = match model {
                Model::Before => (from / 4.0).floor() * 4.0 + 3.5,
                _ => (from / 2.0).floor() * 2.0 + 2.0,
            };
            assert!(
                to - from >= 0.375 && to <= limit,
                "{text} {model:?} {from} {to}"
            );
        }
    }
}

#[test]
fn every_bar_fits_what_travels_to_the_player() {
    for text in [
        "12/8 | Cmaj7 Am7 Dm7 G7 | Cmaj7 |",
        "4/4 | C6 Am7 Dm7 G7 | C6 |",
        "32/1 | C6 | C6 |",
    ] {
        let tune = tune(text);
        for feel in [Feel::Swing, Feel::Bossa, Feel::Straight, Feel::Ballad] {
            for drums in [Drums::Ride, Drums::Click(Click::All)] {
                for qpm in [30.0, 300.0] {
                    let targets = &["1", "2", "3", "4", "5"];
                    let model = Model::After;
                    let notes = tune.play(&Setting {
                        feel,
                        drums,
                        qpm,
                        targets,
                        model,
                        ..Setting::default()
                    });
                    for bar in &tune.lap.bars {
                        let end = bar.start + bar.meter.bar_ticks();
                        let inside = |note: &&TimedNote| note.at >= bar.start && note.at < end;
                        assert!(notes.iter().filter(inside).count() <= BAR_NOTES, "{text}");
                    }
                }
            }
        }
    }
}

/// How far each note of a part stands from the grid, in ms, in the order of time, and whether it begins a bar.
fn off_the_grid(text: &str, setting: &Setting, of: Part) -> Vec<(f64, bool)> {
    let tune = tune(text);
    let tick_ms = 60_000.0 / setting.qpm / PPQ as f64;
    let played = |feel_amount: f64| {
        let mut notes = part(
            &tune.play(&Setting {
                feel_amount,
                ..setting.clone()
            }),
            of,
        );
        notes.sort_by_key(|note| (note.key, note.at));
        notes
    };
    let (grid, people) = (played(0.0), played(1.0));
    assert_eq!(grid.len(), people.len());
    let mut pairs: Vec<(TimedNote, TimedNote)> = grid.into_iter().zip(people).collect();
    pairs.sort_by_key(|(grid, _)| grid.at);
    for (grid, people) in &pairs {
        let bar = |note: &TimedNote| tune.lap.bars.partition_point(|bar| bar.start <= note.at);
        assert_eq!(bar(grid), bar(people), "{grid:?} left its bar: {people:?}");
        assert_eq!(grid.key, people.key);
    }
    pairs.dedup_by_key(|(grid, _)| grid.at);
    let off = pairs.iter().map(|(grid, people)| {
        let starts = tune.lap.bars.iter().any(|bar| bar.start == grid.at);
        ((people.at - grid.at).0 as f64 * tick_ms, starts)
    });
    off.collect()
}

#[test]
fn the_ride_has_the_grid_for_its_middle_the_bass_is_ahead_and_the_comping_behind() {
    // Part, where its middle is to be in ms.
    let wanted = [
        (Part::Bass, -1.3..=0.0),
        (Part::Drums, -0.8..=0.8),
        (Part::Comping, 4.0..=6.0),
    ];
    for (text, feel) in [
        (MINOR, Feel::Swing),
        (BOSSA, Feel::Bossa),
        (MINOR, Feel::Straight),
    ] {
        for qpm in [80.0, 140.0, 200.0] {
            for (of, window) in &wanted {
                let mut row = Vec::new();
                for pass in 1..13 {
                    let setting = Setting {
                        feel,
                        qpm,
                        pass,
                        ..Setting::default()
                    };
                    row.extend(off_the_grid(text, &setting, *of));
                }
                let mean = row.iter().map(|(one, _)| one).sum::<f64>() / row.len() as f64;
                // Where a bar begins people wait for each other: nobody is early there.
                assert!(row.iter().all(|(one, starts)| !starts || *one > -0.5));
                let row: Vec<f64> = row
                    .into_iter()
                    .filter(|one| !one.1)
                    .map(|one| one.0)
                    .collect();
                let middle = row.iter().sum::<f64>() / row.len() as f64;
                let around: Vec<f64> = row.iter().map(|one| one - middle).collect();
                let power: f64 = around.iter().map(|one| one * one).sum();
                let running: f64 = around.windows(2).map(|two| two[0] * two[1]).sum();
                let told = format!(
                    "{feel:?} {qpm} {of:?}: {mean:.2} ms, {:.2}",
                    running / power
                );
                assert!(window.contains(&mean), "{told}");
                assert!(running / power > 0.2, "jumps about: {told}");
                assert!(row.iter().all(|one| one.abs() <= FARTHEST_MS), "{told}");
                let early = row.iter().any(|one| *one < -0.5);
                assert!(early || *of == Part::Comping, "never early: {told}");
            }
        }
    }
}
