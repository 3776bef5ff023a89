//! Degrees by name, spelling, role and number.

use super::reading::{analysed, second_semitones};
use underfoot::harmony::{Habits, Role, ScaleName, TimedChord, in_context};
use underfoot::time::Tick;

/// The notes and, in brackets where they are not chord tones or colours, the roles. Common practice, no source.
#[test]
fn degrees_have_names_spelling_and_roles() {
    let cases = [
        (
            "C minor",
            "Dm7b5 G7 Cm6",
            0,
            "1=D b2=Eb(passing) b3=F 4=G b5=Ab b6=Bb b7=C",
        ),
        (
            "C minor",
            "Dm7b5 G7 Cm6",
            1,
            "1=G b2=Ab 3=B 4=C(passing) 5=D b6=Eb b7=F",
        ),
        (
            "C major",
            "Em7 Fmaj7 Cmaj7",
            0,
            "1=E b2=F(passing) b3=G 4=A 5=B b6=C(avoid) b7=D",
        ),
        (
            "C major",
            "Em7 Fmaj7 Cmaj7",
            2,
            "1=C 2=D 3=E 4=F(passing) 5=G 6=A 7=B",
        ),
        (
            "C major",
            "B7alt Em7 Cmaj7",
            0,
            "1=B b2=C #2=C## 3=D# b5=F b6=G b7=A",
        ),
        (
            "Eb major",
            "Cdim7 Bbm7 Ebmaj7",
            0,
            "1=C 2=D b3=Eb 4=F b5=Gb b6=Ab bb7=A 7=B",
        ),
        (
            "F major",
            "G7sus4 C7 Fmaj7",
            0,
            "1=G 2=A b3=Bb 4=C 5=D 6=E b7=F",
        ),
        (
            "C major",
            "Caug G7 Cmaj7",
            0,
            "1=C 2=D 3=E #4=F# #5=G# b7=Bb",
        ),
    ];
    for (key, changes, at, wanted) in cases {
        let symbols: Vec<&str> = changes.split(' ').collect();
        let chord = analysed(&symbols, key.parse().ok(), &Habits::default()).swap_remove(at);
        let degrees: Vec<String> = chord
            .degrees
            .iter()
            .map(|d| {
                let role = match d.role {
                    Role::ChordTone | Role::Colour => "",
                    Role::Passing => "(passing)",
                    Role::Avoid => "(avoid)",
                };
                format!("{}={}{role}", d.degree, d.pitch)
            })
            .collect();
        assert_eq!(degrees.join(" "), wanted, "{}", chord.why);
    }
}

/// Numbers 1 to 7 by function. Common practice, no source.
#[test]
fn numbers_find_the_degree_that_does_their_part() {
    let cases = [
        ("C minor", "Dm7b5 G7alt Cm6", 1, "G Ab B Db Eb Eb F"),
        ("C major", "Dm7 G7sus4 Cmaj7", 1, "G A B C D E F"),
        ("C major", "Caug G7 Cmaj7", 0, "C D E F# G# G# Bb"),
        ("C major", "Dm7 G13b9 Cmaj7", 1, "G Ab B C# D E F"),
        ("C minor", "Dm7b5 G7#9 Cm6", 1, "G Ab B Db Eb Eb F"),
    ];
    for (key, changes, at, wanted) in cases {
        let symbols: Vec<&str> = changes.split(' ').collect();
        let chord = analysed(&symbols, key.parse().ok(), &Habits::default()).swap_remove(at);
        let notes: Vec<String> = (1..=7)
            .map(|number| chord.scale_degree(number).unwrap().pitch.to_string())
            .collect();
        assert_eq!(notes.join(" "), wanted, "{}", chord.why);
    }
}

/// A teacher's word wins, and silence stays silent.
#[test]
fn a_hint_wins_and_silence_stays() {
    let chord = |text: &str, hint| TimedChord {
        start: Tick(0),
        len: Tick(3840),
        harmony: text.parse().unwrap(),
        declared: "C major".parse().ok(),
        hint,
    };
    let chords = [
        chord("G7", Some(ScaleName::Altered)),
        chord("N.C.", None),
        chord("Cmaj7", None),
    ];
    let out = in_context(&chords, &Habits::default());
    assert_eq!(out[0].scale, Some(ScaleName::Altered));
    assert!(out[0].why.contains("hint"), "{}", out[0].why);
    assert_eq!(
        (out[1].key, out[1].scale, second_semitones(&out[1])),
        (None, None, None)
    );
    assert!(out[1].degrees.is_empty() && out[1].function.is_none());
    assert_eq!(out[2].function.as_deref(), Some("I"));
}
