//! Habits, and what a measurement may change.

use super::reading::analysed;
use underfoot::harmony::{
    AfterHalfDiminished, DominantToMinor, Habits, MinorTonic, MinorTwo, ThreeChord, Trial,
};

/// Each habit changes its own chord and no other.
#[test]
fn habits_choose_where_teachers_differ() {
    let of = |habits: Habits, changes: &str, key: &str, at: usize| {
        let symbols: Vec<&str> = changes.split(' ').collect();
        analysed(&symbols, key.parse().ok(), &habits)[at]
            .scale
            .unwrap()
            .name()
    };
    let plain = Habits::default;
    let two = Habits {
        flat_nine_to_two: true,
        ..plain()
    };
    let four = Habits {
        flat_nine_to_four: false,
        ..plain()
    };
    let chain = Habits {
        flat_nine_to_dominant: false,
        ..plain()
    };
    let rising = Habits {
        flat_two_rising: true,
        ..plain()
    };
    let six = Habits {
        natural_two_on_six: true,
        ..plain()
    };
    let minor_two = Habits {
        minor_two: MinorTwo::Natural,
        ..plain()
    };
    let passing = Habits {
        three_chord: ThreeChord::PassingTonic,
        ..plain()
    };
    let half = |flat_nine_after_half_diminished| Habits {
        flat_nine_after_half_diminished,
        ..plain()
    };
    let three = Habits {
        three_chord: ThreeChord::Aeolian,
        ..plain()
    };
    let tonic = Habits {
        minor_tonic: MinorTonic::NaturalSixth,
        ..plain()
    };
    let always = Habits {
        minor_tonic: MinorTonic::NaturalSixthAlways,
        ..plain()
    };
    let altered = Habits {
        dominant_to_minor: DominantToMinor::Altered,
        ..plain()
    };
    let cases = [
        (
            two,
            "A7 Dm7 G7 Cmaj7",
            "C major",
            0,
            "Mixolydian b6",
            "Phrygian dominant",
        ),
        (
            half(AfterHalfDiminished::Always),
            "Dm7b5 G7 Cmaj7",
            "C major",
            1,
            "Mixolydian",
            "Phrygian dominant",
        ),
        (
            half(AfterHalfDiminished::AwayFromHome),
            "Cmaj7 Em7b5 A7 Dmaj7 Dm7 G7",
            "C major",
            2,
            "Mixolydian b6",
            "Phrygian dominant",
        ),
        (
            four,
            "C7 Fm7 G7 Cm6",
            "C minor",
            0,
            "Phrygian dominant",
            "Mixolydian b6",
        ),
        (
            chain,
            "Cmaj7 E7 A7 D7 G7",
            "C major",
            1,
            "Phrygian dominant",
            "Mixolydian b6",
        ),
        (
            rising,
            "Cmaj7 C#dim7 Dm7 G7",
            "C major",
            1,
            "diminished whole-half",
            "altered bb7",
        ),
        (
            six,
            "Cm6 Am7b5 Dm7b5 G7",
            "C minor",
            1,
            "Locrian",
            "Locrian natural 2",
        ),
        (
            minor_two,
            "Cm6 Dm7 G7 Cm6",
            "C minor",
            1,
            "Phrygian",
            "Dorian",
        ),
        (
            passing,
            "Cmaj7 B7 Em7 Fmaj7 G7",
            "C major",
            2,
            "Phrygian",
            "Aeolian",
        ),
        (three, "Em7 Am7 Dm7 G7", "C major", 0, "Phrygian", "Aeolian"),
        (tonic, "Cm Fm7 G7", "C minor", 0, "Aeolian", "Dorian"),
        (always, "Cm7 Fm7 G7", "C minor", 0, "Aeolian", "Dorian"),
        (
            altered,
            "Dm7b5 G7 Cm6",
            "C minor",
            1,
            "Phrygian dominant",
            "altered",
        ),
    ];
    for (habits, changes, key, at, default, chosen) in cases {
        assert_eq!(of(plain(), changes, key, at), default, "{changes}");
        assert_eq!(of(habits, changes, key, at), chosen, "{changes}");
    }
}

/// A rule left out lets the next one speak, at last the key's own notes; a weight moved changes the key that is found. The
/// words are those of `targets --trial`.
#[test]
fn a_measurement_leaves_rules_out_and_moves_weights() {
    // Change, key and changes, the place, its scale as built in and under the change.
    let cases = [
        (
            "without=to minor",
            "C major",
            "Cmaj7 G7 Cm6 Fmaj7",
            1,
            "Phrygian dominant",
            "Mixolydian",
        ),
        (
            "without=half-diminished two",
            "C major",
            "Cmaj7 Dm7b5 G7 Cmaj7",
            1,
            "Locrian",
            "Locrian natural 2",
        ),
        (
            "without=after half-diminished",
            "C minor",
            "Dm7b5 G7 Cm6",
            1,
            "Phrygian dominant",
            "Phrygian dominant",
        ),
        (
            "without=minor tonic",
            "C minor",
            "Dm7b5 G7 Cm6",
            2,
            "melodic minor",
            "Dorian",
        ),
        (
            "change=50",
            "C major",
            "Cmaj7 Dmaj7 Em7 A7 Dmaj7 Gmaj7 A7 Dmaj7 G7",
            5,
            "Lydian",
            "Ionian",
        ),
    ];
    let mut wrong = Vec::new();
    for (change, key, changes, at, built_in, changed) in cases {
        let symbols: Vec<&str> = changes.split(' ').collect();
        let on_trial = Habits {
            trial: Trial::NOTHING.with(change).unwrap(),
            ..Habits::default()
        };
        for (habits, wanted) in [(Habits::default(), built_in), (on_trial, changed)] {
            let chord = analysed(&symbols, key.parse().ok(), &habits).swap_remove(at);
            if chord.scale.map(|scale| scale.name()) != Some(wanted) {
                wrong.push(format!(
                    "{change} {changes}: wanted {wanted}, got {}",
                    chord.why
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    for change in [
        "without=nothing",
        "without",
        "change=much",
        "change=1e9",
        "chnge=5",
        "=5",
        "",
    ] {
        let error = Trial::NOTHING.with(change).unwrap_err().to_string();
        assert!(
            error.contains("known: without=RULE") && error.contains("cadence"),
            "{error}"
        );
    }
}
