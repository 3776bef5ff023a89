//! What a player chose where the stage leaves the choice, in a few words: how much was used, and kindly what came again and
//! again.

use super::view::View;
use crate::drill::{Names, Phase};
use crate::glossary;
use crate::judging::Choice;
use crate::plan::pass::PassKind;
use crate::plan::take::TakePlan;
use crate::speech::{number_word, say};

/// The page is English.
const PAGE: Names = Names::English;
/// Of phrases that come again.
const AGAIN: (&str, &str) = (
    "one phrase came often: try another",
    "eine Wendung kam oft, versuche eine andere",
);

/// What was chosen, counted in words, for the page; `instead`: the degree that the next pass could begin with.
pub(super) fn lines(choice: &Choice, instead: Option<u8>) -> Vec<String> {
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
    let beginnings = match habit_words(choice, instead, PAGE) {
        Some(habit) => habit.to_vec(),
        None => vec![beginnings],
    };
    // Enough is told: what to do about it.
    let phrases = choice.repeats_itself();
    let phrases = phrases.then(|| say(PAGE, AGAIN.0, AGAIN.1).to_string());
    std::iter::once(compass_words(choice, PAGE))
        .chain(beginnings)
        .chain(phrases.or(hand))
        .collect()
}

/// What was chosen as a sentence: what could be done otherwise, else how much was used.
pub(super) fn sentence(choice: &Choice, instead: Option<u8>, names: Names) -> String {
    match habit_words(choice, instead, names) {
        Some(habit) => habit.join(", "),
        None if choice.repeats_itself() => say(names, AGAIN.0, AGAIN.1).to_string(),
        None => compass_words(choice, names),
    }
}

/// With what nearly every chord began, and with what the next ones could.
fn habit_words(choice: &Choice, instead: Option<u8>, names: Names) -> Option<[String; 2]> {
    let ((usual, times, of), instead) = (choice.usual_start()?, instead?);
    Some(match names {
        Names::German => [
            format!("{times} von {of} Mal zuerst {}", number_named(usual, names)),
            start_on(instead, names),
        ],
        Names::English | Names::Solfege => [
            format!(
                "you started on the {} {times} times of {of}",
                number_named(usual, names)
            ),
            start_on(instead, names),
        ],
    })
}

/// What to begin with: "start on the third".
fn start_on(number: u8, names: Names) -> String {
    let degree = number_named(number, names);
    match names {
        Names::German => format!("beginne einmal mit {degree}"),
        Names::English | Names::Solfege => format!("{} the {degree}", glossary::START_ON.voice),
    }
}

/// With what an open choice could begin, where it nearly always began with something else.
pub(super) fn proposed_start(plan: &TakePlan, view: &View<'_>, unit: usize) -> Option<String> {
    let step = plan.steps_of(unit).first()?;
    let stage = step.pass.standing.stage_of(&step.pass.material);
    let is_played = step.pass.kind == PassKind::Music(Phase::Play);
    let is_open = stage.is_open_choice() && is_played;
    let number = view
        .summary
        .proposed_start(&stage.name)
        .filter(|_| is_open)?;
    Some(start_on(number, PAGE))
}

fn number_named(number: u8, names: Names) -> &'static str {
    let index = usize::from(number.clamp(1, 7)) - 1;
    let word = glossary::DEGREES[index];
    say(names, word.voice, word.german)
}

/// How many degrees were used, how many octaves.
fn compass_words(choice: &Choice, names: Names) -> String {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The lines, the sentence, the sentence in German.
    fn told(choice: &Choice, instead: Option<u8>) -> [String; 3] {
        let said = |names| sentence(choice, instead, names);
        let lines = lines(choice, instead).join("; ");
        [lines, said(Names::English), said(Names::German)]
    }

    #[test]
    fn a_free_round_is_counted_in_words() {
        for (off_beats, how) in [
            (0, "all on the beat"),
            (3, "mostly on the beat"),
            (6, "on the beat and off"),
            (9, "mostly off the beat"),
        ] {
            let choice = Choice {
                notes: 12,
                degrees: ["1", "b3", "5"]
                    .map(|d| d.parse().expect("a degree"))
                    .into(),
                keys: vec![48, 60],
                positions: 1,
                octaves: 1,
                beats: 5,
                off_beats,
                orders: 2,
                ..Choice::default()
            };
            let lines =
                format!("three degrees, one octave; 2 starting notes, {how}; 1 hand position");
            let said = ["three degrees, one octave", "drei Stufen, eine Oktave"];
            assert_eq!(told(&choice, None), [&lines, said[0], said[1]]);
        }
    }

    #[test]
    fn a_habit_and_phrases_that_come_again_are_told_with_what_to_do() {
        let with = |starts: &[(u8, usize)], repeated| Choice {
            notes: 40,
            degrees: vec!["1".parse().expect("a degree")],
            octaves: 1,
            orders: 3,
            positions: 1,
            starts: starts.to_vec(),
            allowed: vec![1, 3],
            repeated,
            ..Choice::default()
        };
        #[rustfmt::skip]
        let cases = [
            (with(&[(1, 9), (3, 1)], 0), Some(3), [
                "one degree, one octave; you started on the root 9 times of 10; start on the third; 1 hand position",
                "you started on the root 9 times of 10, start on the third",
                "9 von 10 Mal zuerst Grundton, beginne einmal mit Terz"]),
            (with(&[(1, 5), (3, 5)], 20), None, [
                "one degree, one octave; 3 starting notes, all on the beat; one phrase came often: try another",
                "one phrase came often: try another",
                "eine Wendung kam oft, versuche eine andere"]),
            (with(&[(1, 5), (3, 5)], 19), None, [
                "one degree, one octave; 3 starting notes, all on the beat; 1 hand position",
                "one degree, one octave", "eine Stufe, eine Oktave"]),
        ];
        for (choice, instead, expected) in cases {
            assert_eq!(told(&choice, instead), expected);
        }
    }
}
