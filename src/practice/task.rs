//! What a pass asks for beside its notes: where in the bar they fall, and which bars rest.

use crate::display::roman;
use crate::drill::{Direction, PageHelp, Phase, Place, Places, Stage, StringRule};
use crate::fretboard::shifts;
use crate::glossary;
use crate::harmony::Harmony;
use crate::plan::pass::PassKind;
use crate::plan::steps::PlanStep;
use crate::speech::{Doing, degree_word, octave_word};

/// Where the notes of a pass fall, as the page shows it ("on 2&"); empty where that is the first beat of each chord, as
/// nobody would think otherwise.
pub(super) fn places_text(step: &PlanStep) -> String {
    let stage = step.pass.standing.stage_of(&step.pass.material);
    match step.pass.kind {
        PassKind::Music(_) => text_of(
            stage,
            step.pass.standing.places(&step.pass.material),
            &before(step),
        ),
        PassKind::CountIn | PassKind::Breathe | PassKind::Held => String::new(),
    }
}

/// What is to be done over a step, the verb first.
pub(super) fn task_of(step: &PlanStep) -> Vec<String> {
    let verb = match step.pass.kind {
        PassKind::Music(phase) => doing_word(step, phase),
        PassKind::Held if finds(step) => glossary::FIND.page,
        PassKind::Held => phase_word(Phase::Play),
        PassKind::Breathe => return vec![phase_word(Phase::Breathe).to_string()],
        PassKind::CountIn => return Vec::new(),
    };
    let mut told = vec![verb.to_string()];
    if step.pass.kind != PassKind::Music(Phase::Listen) {
        told.push(places_text(step));
    }
    if !matches!(step.pass.kind, PassKind::Music(Phase::Listen | Phase::Sing)) {
        let now = step.pass.standing.stage_now(&step.pass.material);
        told.push(strings_text(now.string));
        let position = now
            .position
            .map(|fret| format!("{} {}", glossary::POSITION.page, roman(fret)));
        told.extend(position);
        let octave = now
            .octave
            .map(|octave| octave_word(octave).page.to_string());
        told.extend(octave);
        told.extend(turned_text(step));
    }
    told.retain(|part| !part.is_empty());
    told
}

/// Whether a note is looked for.
fn finds(step: &PlanStep) -> bool {
    step.pass
        .standing
        .stage_of(&step.pass.material)
        .find
        .is_some()
}

/// What a rotation turns and the notes would show by their marks and their order, where they are hidden.
fn turned_text(step: &PlanStep) -> Vec<String> {
    if !matches!(step.pass.help.page, PageHelp::Symbol | PageHelp::Off) {
        return Vec::new();
    }
    let hand = step.pass.standing.hand(&step.pass.material);
    let side = match hand.side {
        Some(Direction::Above) => Some(glossary::ABOVE.page.to_string()),
        Some(Direction::Below) => Some(glossary::BELOW.page.to_string()),
        _ => None,
    };
    let words = hand.order.iter().flatten();
    let words: Vec<&str> = words
        .filter_map(|word| Some(degree_word(*word)?.page))
        .collect();
    let order =
        (!words.is_empty()).then(|| format!("{} {}", glossary::ORDER.page, words.join(" ")));
    side.into_iter().chain(order).collect()
}

/// Where the hand must go within the figure of a step; empty where it stays, or where the notes are not shown.
pub(super) fn shift_text(step: &PlanStep) -> Vec<String> {
    let is_played = matches!(
        step.pass.kind,
        PassKind::Music(Phase::Play) | PassKind::Held
    );
    let is_shown = matches!(step.pass.help.page, PageHelp::Notes | PageHelp::Degrees);
    let places = step.chord.and_then(|chord| step.pass.places.get(chord));
    let Some(places) = places.filter(|_| is_played && is_shown && !finds(step)) else {
        return Vec::new();
    };
    let to = shifts(places).into_iter().flatten().map(roman);
    let to: Vec<String> = to.collect();
    match &to[..] {
        [] => Vec::new(),
        some => vec![format!("{} {}", glossary::SHIFT, some.join(", "))],
    }
}

/// What the player is asked to do in a phase of a stage, in a word.
pub(super) fn doing_word(step: &PlanStep, phase: Phase) -> &'static str {
    let stage = step.pass.standing.stage_of(&step.pass.material);
    match phase {
        Phase::Play if stage.answer_phrase => glossary::ANSWER.page,
        phase => phase_word(phase),
    }
}

/// What the player is asked to do, in a word.
pub(super) fn phase_word(phase: Phase) -> &'static str {
    Doing::from(phase).word().page
}

fn strings_text(rule: StringRule) -> String {
    match rule {
        StringRule::Free => String::new(),
        StringRule::Same => "same string".to_string(),
        StringRule::EveryPlace => glossary::EVERY_PLACE.to_string(),
        StringRule::On(strings) => {
            let named = (1..=16u8).filter(|string| strings.holds(*string));
            let named: Vec<String> = named.map(|string| string.to_string()).collect();
            let word = if named.len() == 1 {
                "string"
            } else {
                "strings"
            };
            format!("{word} {}", named.join(", "))
        }
    }
}

/// The beat before the chord, as it is counted in its bar ("4").
fn before(step: &PlanStep) -> String {
    let within = step.start - step.origin;
    let bars = &step.pass.lap.bars;
    let bar = bars.iter().rev().find(|bar| bar.start <= within);
    let beat = bar.map_or(0, |bar| (within - bar.start).0 / bar.meter.beat_ticks().0);
    let last = bar.map_or(4, |bar| i64::from(bar.meter.beats()));
    if beat == 0 { last } else { beat }.to_string()
}

/// A place as it is said; a push by the beat that it comes before the bar's one.
fn place_text(place: &Place, before: &str) -> String {
    match place.twelfths < 0 {
        true => format!("{} ({before}&)", glossary::PUSH.page),
        false => place.to_string(),
    }
}

fn text_of(stage: &Stage, places: &[Place], before: &str) -> String {
    let is_first = |place: &Place| place.beat == 1 && place.twelfths == 0;
    let turning = stage
        .rotation
        .as_ref()
        .map_or(0, |rotation| rotation.places.len());
    let turns = turning > 1 || matches!(&stage.places, Places::Rotate(turns) if turns.len() > 1);
    match places {
        [] => String::new(),
        [only] if is_first(only) && !turns => String::new(),
        [push] if push.twelfths < 0 => place_text(push, before),
        [first] if stage.figure.len() > 1 => format!("{} {first}", glossary::START_ON.page),
        more => {
            let more: Vec<String> = more.iter().map(|place| place_text(place, before)).collect();
            match places[0].twelfths {
                ..0 => more.join(", "),
                _ => format!("{} {}", glossary::ON.page, more.join(", ")),
            }
        }
    }
}

/// What stands in the place of notes in a bar that rests; `None` where something is to be played, or nothing rests.
pub(super) fn rest_word(step: &PlanStep) -> Option<&'static str> {
    let (pass, chord) = (&step.pass, step.chord?);
    let sounds = matches!(pass.context(chord)?.harmony, Harmony::Chord(_));
    let rests = pass.rests.get(chord).copied().unwrap_or(false);
    (rests && sounds).then_some(glossary::REST.page)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::Drill;
    use crate::fault::Source;

    #[test]
    fn places_are_told_as_a_teacher_writes_them() {
        #[rustfmt::skip]
        let cases = [
            ("figure = ['1']\nplaces = ['1']",        ""),
            ("",                                     ""),
            ("figure = ['1']\nplaces = ['2&']",       "on 2&"),
            ("places = ['before 1']",                "push (4&)"),
            ("figure = ['1']\nrotate = [['1'], ['3']]", "on 1"),
            ("figure = ['1', '3']\nplaces = ['1', '3']", "on 1, 3"),
            ("figure = ['1', '3']\nplaces = ['2']",  "start on 2"),
            ("figure = ['1', '3']\nplaces = ['1']",  ""),
            ("figure = ['1', '3']\nplaces = ['before 1', '2&']", "push (4&), 2&"),
            ("figure = []",                          ""),
            ("figure = []\nrhythm = ['1', '2&']",     "on 1, 2&"),
            ("answer_phrase = true",                 ""),
        ];
        for (keys, wanted) in cases {
            let text =
                format!("title = 'x'\n[[stage]]\nname = 'x'\ndegrees = ['1', '3']\n{keys}\n");
            let name = "x.toml";
            let drill = Drill::read(&Source { name, text: &text }).expect("a drill");
            let stage = &drill.stages[0];
            assert_eq!(text_of(stage, stage.places_in(0), "4"), wanted, "{keys}");
        }
    }
}
