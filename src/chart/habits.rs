//! Where good teachers differ, as a table of a file says it: of a chart, or of the configuration.

use crate::fault::TableView;
use crate::harmony::{
    AfterHalfDiminished, DominantToMinor, HabitChoices, Habits, MinorTonic, MinorTwo, School,
    ThreeChord,
};

const SCHOOL: [(&str, School); 3] = [
    ("textbook", School::Textbook),
    ("melody", School::Melody),
    ("improviser", School::Improviser),
];

const AFTER_HALF_DIMINISHED: [(&str, AfterHalfDiminished); 3] = [
    ("away from home", AfterHalfDiminished::AwayFromHome),
    ("always", AfterHalfDiminished::Always),
    ("never", AfterHalfDiminished::Never),
];
const THREE_CHORD: [(&str, ThreeChord); 3] = [
    ("Phrygian", ThreeChord::Phrygian),
    ("Aeolian as a passing tonic", ThreeChord::PassingTonic),
    ("Aeolian", ThreeChord::Aeolian),
];
const MINOR_TWO: [(&str, MinorTwo); 2] = [
    ("flat second", MinorTwo::Flat),
    ("natural second", MinorTwo::Natural),
];
const MINOR_TONIC: [(&str, MinorTonic); 3] = [
    ("natural sixth", MinorTonic::NaturalSixth),
    ("natural sixth always", MinorTonic::NaturalSixthAlways),
    ("signature", MinorTonic::Signature),
];
const DOMINANT_TO_MINOR: [(&str, DominantToMinor); 2] = [
    ("Phrygian dominant", DominantToMinor::PhrygianDominant),
    ("altered", DominantToMinor::Altered),
];

/// Reads the keys of a `[harmony]` table; keys that are left out choose nothing.
pub(crate) fn read_habits(view: &TableView<'_, '_>) -> HabitChoices {
    let choices = HabitChoices {
        school: view.one_of("school", &SCHOOL),
        flat_nine_to_two: view.boolean("flat_nine_to_two"),
        flat_nine_to_four: view.boolean("flat_nine_to_four"),
        flat_nine_to_dominant: view.boolean("flat_nine_to_dominant"),
        flat_nine_after_half_diminished: view
            .one_of("flat_nine_after_half_diminished", &AFTER_HALF_DIMINISHED),
        flat_two_rising: view.boolean("flat_two_rising"),
        natural_two_on_six: view.boolean("natural_two_on_six"),
        three_chord: view.one_of("three_chord", &THREE_CHORD),
        minor_two: view.one_of("minor_two", &MINOR_TWO),
        minor_tonic: view.one_of("minor_tonic", &MINOR_TONIC),
        dominant_to_minor: view.one_of("dominant_to_minor", &DOMINANT_TO_MINOR),
    };
    view.finish();
    choices
}

/// The keys of a `[harmony]` table that choose something, and their values as TOML.
pub(super) fn habit_lines(choices: &HabitChoices) -> Vec<(&'static str, String)> {
    let word = |text: Option<&str>| text.map(|text| format!("\"{text}\""));
    let yes_no = |chosen: Option<bool>| chosen.map(|chosen| chosen.to_string());
    let lines = [
        ("school", word(word_of(&SCHOOL, choices.school))),
        ("flat_nine_to_two", yes_no(choices.flat_nine_to_two)),
        ("flat_nine_to_four", yes_no(choices.flat_nine_to_four)),
        (
            "flat_nine_to_dominant",
            yes_no(choices.flat_nine_to_dominant),
        ),
        (
            "flat_nine_after_half_diminished",
            word(word_of(
                &AFTER_HALF_DIMINISHED,
                choices.flat_nine_after_half_diminished,
            )),
        ),
        ("flat_two_rising", yes_no(choices.flat_two_rising)),
        ("natural_two_on_six", yes_no(choices.natural_two_on_six)),
        (
            "three_chord",
            word(word_of(&THREE_CHORD, choices.three_chord)),
        ),
        ("minor_two", word(word_of(&MINOR_TWO, choices.minor_two))),
        (
            "minor_tonic",
            word(word_of(&MINOR_TONIC, choices.minor_tonic)),
        ),
        (
            "dominant_to_minor",
            word(word_of(&DOMINANT_TO_MINOR, choices.dominant_to_minor)),
        ),
    ];
    let chosen = lines.into_iter();
    chosen
        .filter_map(|(key, value)| Some((key, value?)))
        .collect()
}

fn word_of<T: PartialEq>(words: &[(&'static str, T)], chosen: Option<T>) -> Option<&'static str> {
    let chosen = chosen?;
    let found = words.iter().find(|(_, value)| *value == chosen);
    found.map(|(word, _)| *word)
}

/// The habits that a table chooses, the usual ones where it does not.
pub(crate) fn habits(view: Option<TableView<'_, '_>>) -> Habits {
    view.map_or_else(HabitChoices::default, |view| read_habits(&view))
        .over(&Habits::default())
}
