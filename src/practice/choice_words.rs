//! What was chosen where the stage leaves the choice, in words.

use crate::drill::Names;
use crate::judging::Choice;
use crate::speech::{number_word, say};

/// What was chosen, counted in words.
pub(super) fn choice_lines(choice: &Choice) -> Vec<String> {
    let off = match (choice.off_beats, choice.notes) {
        (0, _) => "all on the beat",
        (off, notes) if 3 * off < notes => "mostly on the beat",
        (off, notes) if 3 * off > 2 * notes => "mostly off the beat",
        _ => "on the beat and off",
    };
    let hand = match choice.positions {
        0 => None,
        1 => Some("1 hand position".to_string()),
        more => Some(format!("{more} hand positions")),
    };
    let beginnings = match choice.orders {
        1 => format!("1 starting note, {off}"),
        more => format!("{more} starting notes, {off}"),
    };
    let lines = [compass_words(choice, Names::English), beginnings];
    lines.into_iter().chain(hand).collect()
}

/// How many degrees were used, how many octaves.
pub(super) fn compass_words(choice: &Choice, names: Names) -> String {
    let (degree, octave) = match names {
        Names::German => (("Stufe", "Stufen"), ("Oktave", "Oktaven")),
        Names::English | Names::Solfege => (("degree", "degrees"), ("octave", "octaves")),
    };
    let degrees = counted(choice.degrees.len(), degree, names);
    format!("{degrees}, {}", counted(choice.octaves, octave, names))
}

fn counted(count: usize, (one, more): (&str, &str), names: Names) -> String {
    match (count, number_word(count, names)) {
        (0, _) => format!("{} {one}", say(names, "no", "keine")),
        (1, _) => format!("{} {one}", say(names, "one", "eine")),
        (_, Some(number)) => format!("{number} {more}"),
        (_, None) => format!("{} {more}", say(names, "many", "viele")),
    }
}
