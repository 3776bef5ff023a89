//! What a chord shows of itself: its target set, its symbol, its places on the neck.

use super::settings::Settings;
use super::task::rest_word;
use crate::display::{NeckDot, NeckOnPage, PageCell, SetOnPage, degree_told, note_name};
use crate::drill::{Direction, Names, PageHelp, TargetNote};
use crate::fretboard::Neck;
use crate::glossary;
use crate::harmony::{ChordInContext, Degree, Harmony};
use crate::plan::pass::PassKind;
use crate::plan::steps::PlanStep;
use crate::plan::take::TakePlan;
use crate::time::Tick;

/// The chord symbol as the page shows it ("" where the stage hides it).
pub(super) fn chord_of(step: &PlanStep) -> String {
    if step.pass.help.page == PageHelp::Off {
        return String::new();
    }
    let context = step.chord.and_then(|chord| step.pass.context(chord));
    context.map(symbol_text).unwrap_or_default()
}

/// A chord symbol as the user wrote it, with proper accidentals; silence as N.C.
fn symbol_text(context: &ChordInContext) -> String {
    match &context.harmony {
        Harmony::Chord(symbol) => symbol.pretty(),
        Harmony::Silence => "N.C.".to_string(),
    }
}

/// What stands in the place of a unit of the page; nothing where there is no such unit.
pub(super) fn slot(settings: &Settings, plan: &TakePlan, unit: usize, now: Tick) -> SetOnPage {
    let names = settings.names;
    let steps = plan.steps_of(unit);
    // A chord out of time comes again and again, and is one.
    let is_held = |step: &PlanStep| step.pass.kind == PassKind::Held;
    match steps {
        [] => return SetOnPage::default(),
        [step, rest @ ..] if rest.is_empty() || is_held(step) => {
            return SetOnPage {
                neck: neck_on_page(step, &settings.neck),
                ..set_on_page(step, names)
            };
        }
        _ => {}
    }
    let cell = |step: &PlanStep| {
        let SetOnPage { words, marks, .. } = set_on_page(step, names);
        PageCell {
            chord: chord_of(step),
            words,
            marks,
        }
    };
    SetOnPage {
        cells: steps.iter().map(cell).collect(),
        current: Some(first_of(steps, now)),
        ..SetOnPage::default()
    }
}

/// Which of some steps is to be played first: the first one whose last place has not passed, or that is not over where it
/// has none.
pub(super) fn first_of(steps: &[PlanStep], now: Tick) -> usize {
    let is_ahead = |step: &PlanStep| match step.places.iter().max() {
        Some(last) => *last >= now,
        None => step.end > now,
    };
    let last = steps.len().saturating_sub(1);
    steps.iter().position(is_ahead).unwrap_or(last)
}

/// Whether a note is looked for out of time: the page does not say where it lies.
fn is_to_find(step: &PlanStep) -> bool {
    let pass = &step.pass;
    pass.kind == PassKind::Held && pass.standing.stage_of(&pass.material).find.is_some()
}

/// What the page shows of a set: of a note that is looked for only which degree it is.
pub(super) fn page_help(step: &PlanStep) -> PageHelp {
    match step.pass.help.page {
        PageHelp::Notes if is_to_find(step) => PageHelp::Degrees,
        help => help,
    }
}

fn set_on_page(step: &PlanStep, names: Names) -> SetOnPage {
    let Some(set) = step.set() else {
        return SetOnPage::default();
    };
    if let Some(rest) = rest_word(step) {
        return SetOnPage {
            words: vec![rest.to_string()],
            marks: vec![String::new()],
            ..SetOnPage::default()
        };
    }
    let words: Vec<String> = match page_help(step) {
        PageHelp::Notes => set
            .notes
            .iter()
            .map(|note| note_name(note.pitch, names))
            .collect(),
        PageHelp::Degrees => set
            .notes
            .iter()
            .map(|note| degree_told(note.degree))
            .collect(),
        PageHelp::Symbol | PageHelp::Off => Vec::new(),
    };
    if words.is_empty() {
        return SetOnPage::default();
    }
    let marks = set.notes.iter().map(mark).collect();
    let is_root = |note: &TargetNote| note.degree == Degree::new(1, 0);
    SetOnPage {
        words,
        marks,
        root: match page_help(step) {
            PageHelp::Notes => set.notes.iter().position(is_root),
            _ => None,
        },
        ..SetOnPage::default()
    }
}

/// Where the notes of a set lie, where the page names them.
fn neck_on_page(step: &PlanStep, neck: &Neck) -> Option<NeckOnPage> {
    if is_to_find(step) || !matches!(step.pass.help.page, PageHelp::Notes | PageHelp::Degrees) {
        return None;
    }
    let places = step.pass.places.get(step.chord?)?;
    let dots = step.set()?.notes.iter().zip(places);
    let dots: Vec<NeckDot> = dots
        .filter_map(|(note, place)| {
            let place = (*place)?;
            Some(NeckDot {
                string: place.string,
                fret: place.fret,
                root: note.degree == Degree::new(1, 0),
            })
        })
        .collect();
    (!dots.is_empty()).then_some(NeckOnPage {
        dots,
        strings: neck.tuning.open_keys().len() as u8,
        capo: neck.capo,
        frets: neck.frets.saturating_sub(neck.capo),
        left_handed: neck.left_handed,
    })
}

fn mark(note: &TargetNote) -> String {
    match note.direction {
        Direction::Below => glossary::BELOW.page.to_string(),
        Direction::Above => glossary::ABOVE.page.to_string(),
        Direction::Near | Direction::Free => String::new(),
    }
}
