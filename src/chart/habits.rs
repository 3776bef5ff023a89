//! Where good teachers differ, as a table of a file says it: of a chart, or of the configuration.

use crate::fault::TableView;
use crate::harmony::{
    AfterHalfDiminished, DominantToMinor, HabitChoices, Habits, MinorTonic, ThreeChord,
};

/// Reads the keys of a `[harmony]` table; keys that are left out choose nothing.
pub(crate) fn read_habits(view: &TableView<'_, '_>) -> HabitChoices {
    let after_half_diminished = [
        ("away from home", AfterHalfDiminished::AwayFromHome),
        ("always", AfterHalfDiminished::Always),
        ("never", AfterHalfDiminished::Never),
    ];
    let three_chord = [
        ("Phrygian", ThreeChord::Phrygian),
        ("Aeolian", ThreeChord::Aeolian),
    ];
    let minor_tonic = [
        ("natural sixth", MinorTonic::NaturalSixth),
        ("natural sixth always", MinorTonic::NaturalSixthAlways),
        ("signature", MinorTonic::Signature),
    ];
    let dominant_to_minor = [
        ("Phrygian dominant", DominantToMinor::PhrygianDominant),
        ("altered", DominantToMinor::Altered),
    ];
    let choices = HabitChoices {
        flat_nine_to_two: view.boolean("flat_nine_to_two"),
        flat_nine_after_half_diminished: view
            .one_of("flat_nine_after_half_diminished", &after_half_diminished),
        three_chord: view.one_of("three_chord", &three_chord),
        minor_tonic: view.one_of("minor_tonic", &minor_tonic),
        dominant_to_minor: view.one_of("dominant_to_minor", &dominant_to_minor),
    };
    view.finish();
    choices
}

/// The habits that a table chooses, the usual ones where it does not.
pub(crate) fn habits(view: Option<TableView<'_, '_>>) -> Habits {
    view.map_or_else(HabitChoices::default, |view| read_habits(&view))
        .over(&Habits::default())
}
