//! The bass.

use super::tunes::{BLUES, BOSSA, MINOR, Setting, WALTZ, tune};
use super::{part, settings};
use underfoot::band::keys;
use underfoot::chart::Feel;
use underfoot::harmony::Harmony;
use underfoot::time::{PPQ, Part, Tick, TimedNote};

#[test]
fn the_bass_is_a_bass_line() {
    for (tune, setting) in settings() {
        // Three passes running, so that the seam counts.
        let mut notes = Vec::new();
        for pass in setting.pass..setting.pass + 3 {
            let offset = Tick(tune.lap.len.0 * i64::from(pass - setting.pass));
            let setting = Setting {
                pass,
                ..setting.clone()
            };
            for mut note in part(&tune.play(&setting), Part::Bass) {
                note.at += offset;
                notes.push(note);
            }
        }
        for note in &notes {
            assert!((keys::LOWEST_BASS..=keys::HIGHEST_BASS).contains(&note.key));
        }
        for pair in notes.windows(2) {
            assert!(
                pair[0].key.abs_diff(pair[1].key) <= 12,
                "{setting:?} {pair:?}"
            );
        }
        for three in notes.windows(3) {
            let same = three[0].key == three[1].key && three[1].key == three[2].key;
            assert!(!same, "{setting:?} {three:?}");
        }
        for (chord, context) in tune.lap.chords.iter().zip(&tune.contexts) {
            let at_start = notes.iter().find(|note| note.at == chord.start);
            match &context.harmony {
                Harmony::Chord(symbol) => {
                    let key = at_start.map(|note| note.key % 12);
                    assert_eq!(key, Some(symbol.bass.class()), "{}", symbol.text);
                }
                Harmony::Silence => assert_eq!(at_start, None),
            }
        }
    }
}

#[test]
fn a_walking_bass_leads_into_every_change() {
    for (text, feel) in [
        (MINOR, Feel::Swing),
        (BLUES, Feel::Swing),
        (WALTZ, Feel::Waltz),
    ] {
        let tune = tune(text);
        for seed in 0..10 {
            let bass = part(
                &tune.play(&Setting {
                    feel,
                    seed,
                    ..Setting::default()
                }),
                Part::Bass,
            );
            let beats = tune.lap.len.0 / PPQ;
            assert_eq!(bass.len() as i64, beats, "a note a beat");
            for pair in bass.windows(2) {
                let chord = |at: Tick| tune.lap.chords.iter().rposition(|c| c.start <= at).unwrap();
                if chord(pair[0].at) != chord(pair[1].at) {
                    let fifth = pair[0].key % 12 == (pair[1].key + 7) % 12;
                    let near = (1..=2).contains(&pair[0].key.abs_diff(pair[1].key));
                    assert!(near || fifth, "{pair:?}");
                }
            }
            for (index, chord) in tune.lap.chords.iter().enumerate() {
                let three = chord.start + Tick(2 * PPQ);
                let whole = chord.len.0 >= 4 * PPQ;
                let Harmony::Chord(symbol) = &tune.contexts[index].harmony else {
                    continue;
                };
                let Some(note) = bass.iter().find(|note| whole && note.at == three) else {
                    continue;
                };
                let tone = |d: &underfoot::harmony::Degree| d.above(symbol.root).class();
                let tones: Vec<u8> = symbol.degrees.iter().map(tone).collect();
                assert!(tones.contains(&(note.key % 12)), "{} {note:?}", symbol.text);
            }
        }
    }
}

#[test]
fn bass_feels() {
    // tune, feel, tempo, pass, learning, notes in the first bar: where they stand in quarters
    type Case = (&'static str, Feel, f64, u32, bool, &'static [f64]);
    let cases: [Case; 10] = [
        (
            "4/4 | Cmaj7 | Cmaj7 |",
            Feel::Swing,
            140.0,
            0,
            false,
            &[0.0, 2.0],
        ),
        (
            "4/4 | Cmaj7 | Cmaj7 |",
            Feel::Swing,
            140.0,
            1,
            false,
            &[0.0, 1.0, 2.0, 3.0],
        ),
        (
            "4/4 | Cmaj7 | Cmaj7 |",
            Feel::Swing,
            140.0,
            1,
            true,
            &[0.0, 2.0],
        ),
        (
            "4/4 | Cmaj7 | Cmaj7 |",
            Feel::Bossa,
            140.0,
            1,
            false,
            &[0.0, 1.5, 2.0, 3.5],
        ),
        (
            "4/4 | Cmaj7 | Cmaj7 |",
            Feel::Bossa,
            140.0,
            1,
            true,
            &[0.0, 1.5, 2.0],
        ),
        (
            "3/4 | Cmaj7 | Cmaj7 |",
            Feel::Waltz,
            140.0,
            0,
            false,
            &[0.0],
        ),
        (
            "3/4 | Cmaj7 | Cmaj7 |",
            Feel::Waltz,
            140.0,
            1,
            false,
            &[0.0, 1.0, 2.0],
        ),
        (
            "5/4 | Cmaj7 | Cmaj7 |",
            Feel::Swing,
            140.0,
            0,
            false,
            &[0.0, 3.0],
        ),
        (
            "6/8 | Cmaj7 | Cmaj7 |",
            Feel::Straight,
            160.0,
            1,
            false,
            &[0.0, 1.5],
        ),
        (
            "4/4 | C6 Am7 Dm7 G7 | C6 |",
            Feel::Swing,
            140.0,
            0,
            false,
            &[0.0, 1.0, 2.0, 3.0],
        ),
    ];
    for (text, feel, qpm, pass, learning, want) in cases {
        let tune = tune(text);
        let notes = tune.play(&Setting {
            feel,
            qpm,
            pass,
            learning,
            ..Setting::default()
        });
        let bar = tune.lap.bars[1].start;
        let got: Vec<f64> = part(&notes, Part::Bass)
            .iter()
            .filter(|note| note.at < bar)
            .map(|note| note.at.quarters())
            .collect();
        assert_eq!(got, want, "{text} {feel:?} {pass} {learning}");
    }
    // Two-feel below 100 and above 240, whatever the pass.
    let tune = tune("4/4 | Cmaj7 | Am7 | Dm7 | G7 |");
    for (qpm, notes_a_bar) in [
        (99.0, 2..=3),
        (100.0, 4..=4),
        (240.0, 4..=4),
        (241.0, 2..=3),
    ] {
        let notes = tune.play(&Setting {
            qpm,
            ..Setting::default()
        });
        for bar in &tune.lap.bars {
            let inside =
                |note: &TimedNote| note.at >= bar.start && note.at < bar.start + Tick(4 * PPQ);
            let count = part(&notes, Part::Bass).into_iter().filter(inside).count();
            assert!(notes_a_bar.contains(&count), "{qpm}: {count}");
        }
    }
}

#[test]
fn roots_are_not_given_away_by_the_bossa_bass() {
    let tune = tune(BOSSA);
    for (targets, early) in [(&["1"][..], false), (&["1", "3"], true)] {
        let notes = tune.play(&Setting {
            feel: Feel::Bossa,
            targets,
            ..Setting::default()
        });
        let has_early = part(&notes, Part::Bass)
            .iter()
            .any(|note| note.at.0 % (4 * PPQ) == 7 * PPQ / 2);
        assert_eq!(has_early, early, "{targets:?}");
    }
}
