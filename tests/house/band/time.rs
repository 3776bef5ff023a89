//! What keeps the time: the grid, drums and clicks; the model tones.

use super::tunes::{Setting, tune};
use super::{part, settings};
use underfoot::band::{keys, swing_offset};
use underfoot::chart::Feel;
use underfoot::drill::{Click, Drums, Model};
use underfoot::time::{BAR_NOTES, PPQ, Part, TimedNote, UsPerQuarter};

#[test]
fn onsets_stand_on_the_stated_grid() {
    for (tune, setting) in settings() {
        let tempo = UsPerQuarter::from_qpm(setting.qpm);
        let swung = matches!(setting.feel, Feel::Swing | Feel::Waltz | Feel::Ballad);
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
    let cases: [(Feel, &str, u8, &[f64]); 8] = [
        (Feel::Swing, "4/4", keys::PEDAL_HI_HAT, &[1.0, 3.0]),
        (Feel::Waltz, "3/4", keys::PEDAL_HI_HAT, &[1.0]),
        (Feel::Swing, "5/4", keys::PEDAL_HI_HAT, &[1.0, 4.0]),
        (Feel::Swing, "6/8", keys::PEDAL_HI_HAT, &[1.5]),
        (Feel::Bossa, "4/4", keys::SIDE_STICK, &[0.0, 1.5, 3.0]),
        (Feel::Bossa, "4/4", keys::KICK, &[0.0, 1.5, 2.0, 3.5]),
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
