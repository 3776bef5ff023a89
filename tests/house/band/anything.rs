//! Whatever a lap holds, the band plays it without a fault: notes within the lap, in order, on MIDI's scale.

use proptest::prelude::*;
use underfoot::band::{Score, play};
use underfoot::chart::{Feel, Lap, LapBar, LapChord};
use underfoot::drill::{
    BandStyle, Click, Comping, Direction, Drums, Model, Place, TargetNote, TargetSet,
};
use underfoot::harmony::{
    ChordInContext, ChordSymbol, Degree, DegreeRole, Harmony, Letter, Pitch, Role,
};
use underfoot::time::{BAR_NOTES, Meter, Tick, UsPerQuarter};

fn pitch() -> impl Strategy<Value = Pitch> {
    (prop::sample::select(Letter::ALL.to_vec()), -2i8..=2)
        .prop_map(|(letter, alter)| Pitch { letter, alter })
}

fn degrees() -> impl Strategy<Value = Vec<Degree>> {
    let degree = (1u8..=13, -1i8..=1).prop_map(|(number, alter)| Degree { number, alter });
    prop::collection::vec(degree, 0..8)
}

/// A chord in context, any at all, or silence; then its length in ticks.
fn chord() -> impl Strategy<Value = (ChordInContext, i64)> {
    let harmony = (pitch(), pitch(), degrees(), prop::bool::weighted(0.15));
    (harmony, degrees(), 1i64..6000).prop_map(|((root, bass, tones, silent), scale, len)| {
        let symbol = ChordSymbol {
            text: String::new(),
            root,
            bass,
            degrees: tones,
        };
        let role = |degree: Degree| DegreeRole {
            degree,
            pitch: degree.above(root),
            role: Role::Colour,
        };
        let context = ChordInContext {
            start: Tick(0),
            len: Tick(len),
            harmony: if silent {
                Harmony::Silence
            } else {
                Harmony::Chord(symbol)
            },
            key: None,
            function: None,
            scale: None,
            degrees: scale.into_iter().map(role).collect(),
            why: String::new(),
            rule: None,
            by_key: None,
            certainty: None,
        };
        (context, len)
    })
}

fn lap(meters: &[(u8, u8)], chords: &[(ChordInContext, i64)]) -> Lap {
    let mut lap = Lap::default();
    for (index, (beats, unit)) in meters.iter().enumerate() {
        let meter = Meter::new(*beats, *unit).unwrap();
        lap.bars.push(LapBar {
            form_bar: index,
            start: lap.len,
            meter,
        });
        lap.len += meter.bar_ticks();
    }
    let mut start = Tick(0);
    for (form_chord, (_, len)) in chords.iter().enumerate() {
        if start >= lap.len {
            break;
        }
        let len = Tick((*len).min(lap.len.0 - start.0));
        let bar = lap.bars.partition_point(|bar| bar.start <= start) - 1;
        lap.chords.push(LapChord {
            form_chord,
            start,
            len,
            bar,
        });
        start += len;
    }
    lap
}

fn targets(lap: &Lap, classes: &[(Pitch, i64)]) -> Vec<TargetSet> {
    let note = |chord: &LapChord, (pitch, late): &(Pitch, i64)| TargetNote {
        degree: Degree::new(1, 0),
        pitch: *pitch,
        direction: Direction::Free,
        place: Place {
            text: "1".to_string(),
            beat: 1,
            twelfths: 0,
        },
        at: chord.start + Tick(*late),
        len: Tick(480),
        midi: 48 + pitch.class(),
    };
    let set = |chord: &LapChord| TargetSet {
        notes: classes.iter().map(|one| note(chord, one)).collect(),
        ..TargetSet::default()
    };
    lap.chords.iter().map(set).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn the_band_plays_anything(
        meters in prop::collection::vec((1u8..=32, prop::sample::select(vec![1u8, 2, 4, 8, 16])), 1..6),
        chords in prop::collection::vec(chord(), 0..12),
        classes in prop::collection::vec((pitch(), -480i64..3000), 0..4),
        feel in prop::sample::select(vec![Feel::Swing, Feel::Straight, Feel::Bossa, Feel::Waltz, Feel::Ballad, Feel::Shuffle]),
        comping in prop::sample::select(vec![Comping::Full, Comping::Inside, Comping::WithoutTarget, Comping::Off]),
        drums in prop::sample::select(vec![Drums::Ride, Drums::HiHat, Drums::Click(Click::All), Drums::Click(Click::EveryOtherBar)]),
        model in prop::sample::select(vec![Model::Off, Model::Before, Model::After]),
        (qpm, pass, seed) in (20.0f64..400.0, 0u32..4, any::<u64>()),
        band in prop::sample::select(vec![BandStyle::Plain, BandStyle::Steady, BandStyle::Free]),
        (last_time, loops) in any::<(bool, bool)>(),
    ) {
        let lap = lap(&meters, &chords);
        let contexts: Vec<ChordInContext> = chords.into_iter().map(|(context, _)| context).collect();
        let targets = targets(&lap, &classes);
        let score = Score {
            lap: &lap,
            contexts: &contexts,
            sections: &[1, 3],
            targets: &targets,
            next: contexts.first().filter(|_| loops),
            feel,
            tempo: UsPerQuarter::from_qpm(qpm),
            tune_tempo: UsPerQuarter::from_qpm(qpm * 1.5),
            pass,
            seed,
            feel_amount: f64::from(pass) / 3.0,
            comping,
            bass: true,
            drums,
            melody: &[],
            model,
            band,
            last_time,
        };
        let notes = play(&score);
        prop_assert!(notes.is_sorted_by_key(|note| (note.at, note.part, note.key)));
        for note in &notes {
            prop_assert!(note.at >= Tick(0) && note.at < lap.len && note.len >= Tick(1), "{note:?}");
            prop_assert!(note.key <= 127 && (1..=127).contains(&note.velocity), "{note:?}");
        }
        for bar in &lap.bars {
            let end = bar.start + bar.meter.bar_ticks();
            let count = notes.iter().filter(|note| note.at >= bar.start && note.at < end).count();
            prop_assert!(count <= BAR_NOTES, "{count}");
        }
        prop_assert_eq!(play(&score), notes);
    }
}
