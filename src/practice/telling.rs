//! What is told in words: lines of the event log about the page, what "say again" says, what the voice may need.

use super::event::Recorded;
use super::page::page;
use super::settings::Settings;
use super::slots::page_help;
use super::view::View;
use crate::display::{Large, Page};
use crate::drill::{PageHelp, Place, Places, Rotation, Stage};
use crate::foot::Occasion;
use crate::plan::Material;
use crate::plan::cues::{phrases_of, phrases_of_lap};
use crate::plan::pass::PassKind;
use crate::plan::steps::PlanStep;
use crate::plan::take::TakePlan;
use crate::speech::{self, Call, Doing, PhraseSet};
use std::collections::HashSet;

/// The line that tells of the page as it stands.
pub(super) fn page_record(view: &View<'_>) -> Recorded {
    let page = page(view);
    let large = match &page {
        Page::CountIn { .. } => "next",
        Page::Practice(page) => match page.large {
            Large::Now => "now",
            Large::Next => "next",
            Large::Both => "both",
        },
        _ => "",
    };
    let (mut chords, mut next_change) = (Vec::new(), None);
    let (mut now, mut next) = (Vec::new(), Vec::new());
    let is_practice = matches!(page, Page::Practice(_));
    let shows_chords = is_practice || matches!(page, Page::CountIn { .. });
    if let Some((plan, tick)) = view.plan().filter(|_| shows_chords) {
        let unit = plan.page.upper();
        let steps = (unit..unit + 2).flat_map(|unit| plan.steps_of(unit));
        chords = steps.filter_map(PlanStep::form_chord).collect();
        chords.dedup();
        next_change = plan.step_after(tick).map(|step| plan.frame(step.start));
        if is_practice {
            now = told_of(plan, unit);
        }
        next = told_of(plan, unit + 1);
    }
    Recorded::Page {
        page: match page {
            // Two words in this line, though files are named with one.
            Page::ClockLost { .. } => "clock lost",
            _ => page.kind(),
        },
        now,
        next,
        large,
        chords,
        next_change,
    }
}

/// What a slot gives away, as lines tell it: notes in ASCII, degrees.
fn told_of(plan: &TakePlan, unit: usize) -> Vec<String> {
    let steps = plan.steps_of(unit);
    let is_held = |step: &PlanStep| step.pass.kind == PassKind::Held;
    let most = match steps.first().is_some_and(is_held) {
        true => 1,
        false => steps.len(),
    };
    let told = |step: &PlanStep| -> Vec<String> {
        let notes = step.set().map_or(&[][..], |set| &set.notes[..]).iter();
        match page_help(step) {
            PageHelp::Notes => notes.map(|note| note.pitch.to_string()).collect(),
            PageHelp::Degrees => notes.map(|note| note.degree.to_string()).collect(),
            PageHelp::Symbol | PageHelp::Off => Vec::new(),
        }
    };
    steps.iter().take(most).flat_map(told).collect()
}

/// What "say again" says: the set that is large on the page.
pub(super) fn say_again(view: &View<'_>) -> PhraseSet {
    let names = view.settings.names;
    let Some((plan, now)) = view.plan() else {
        let stage = &view.session.stage().name;
        let qpm = view.session.tempo_here().qpm().round() as u32;
        let status = speech::status_sentence(stage, &view.section(), qpm, names);
        let all = std::iter::once(status).chain(view.states());
        return PhraseSet::plain(all.collect::<Vec<_>>().join(", "));
    };
    let large = plan.page.shown.map_or(Large::Next, |shown| shown.large);
    // Of a group the chord that comes next.
    let steps = plan.steps_of(plan.page.upper() + usize::from(large == Large::Next));
    let step = steps.iter().find(|step| step.start > now).or(steps.last());
    step.and_then(|step| phrases_of(step, names))
        .unwrap_or_default()
}

/// Passes of a rotation whose calls are made ready; those after it are made when they come.
const MOST_TURNS: usize = 48;

/// What is called of a stage as it goes round.
fn calls_of(stage: &Stage, seed: u64) -> Vec<Vec<Call<'_>>> {
    let cycle = stage.cycle;
    let starts = |places: &[Place]| places.len() == 1 && stage.figure.len() > 1;
    let places = |pass: u32| {
        let places = stage.places_at(pass, seed);
        let starts = starts(places);
        Call::Places {
            places,
            starts,
            ahead: false,
        }
    };
    let doing = |pass: u32| match Doing::from(cycle.phase(pass)) {
        Doing::Play if stage.answer_phrase => Doing::Answer,
        doing => doing,
    };
    let opens = match doing(0) {
        Doing::Listen => vec![Call::Stage(stage), Call::Do(Doing::Listen)],
        Doing::Sing => vec![Call::Stage(stage), Call::Do(Doing::Sing), places(0)],
        Doing::Answer => vec![Call::Stage(stage), Call::Do(Doing::Answer)],
        _ => vec![Call::Stage(stage), places(0)],
    };
    let mut all = vec![opens, vec![Call::Stage(stage)]];
    let turns = match &stage.places {
        Places::Rotate(turns) => turns.len() as u32,
        Places::All(_) => 1,
    };
    let rotation = stage.rotation.as_ref().map_or(0, Rotation::round_len);
    let turns = turns.max(rotation.min(MOST_TURNS) as u32);
    for pass in 0..cycle.passes().max(turns) {
        all.push(vec![Call::Do(doing(pass)), places(pass)]);
        all.push(vec![Call::Do(doing(pass))]);
        all.push(vec![places(pass)]);
    }
    all.push(vec![Call::Do(Doing::Rest)]);
    all.push(vec![Call::Do(Doing::Break)]);
    all
}

/// Bars whose notes are laid out at a time: all of a tune, but not all of ten thousand.
const PART_BARS: usize = 512;

/// Every phrase that a drill over a chart may say: what is called, the targets of its stages, the words of the menu.
pub(super) fn vocabulary(material: &Material, settings: &Settings) -> Vec<PhraseSet> {
    let (names, form) = (settings.names, &material.form);
    let stages = &material.drill.stages;
    // A long chart says the same few things at ten thousand places: none is kept twice, not even for a moment.
    let (mut all, mut known) = (Vec::new(), HashSet::new());
    let mut add = |set: PhraseSet| {
        if !set.full.is_empty() && known.insert(set.clone()) {
            all.push(set);
        }
    };
    let bars: Vec<usize> = (0..form.bars.len()).collect();
    for bars in bars.chunks(PART_BARS) {
        let lap = form.lap(bars);
        for stage in stages {
            let calls = calls_of(stage, material.seed());
            let calls = calls.iter().map(|calls| speech::call_phrases(calls, names));
            calls.for_each(&mut add);
            phrases_of_lap(material, stage, &lap, names, &mut add);
        }
    }
    let sections = form.section_names.iter().map(|name| Call::Section(name));
    let others = sections.chain([Call::WholeForm, Call::LastTime]);
    let others = others.map(|call| speech::call_phrases(&[call], names));
    others.for_each(&mut add);
    // Last, for the first bars need the others sooner.
    let words = [Occasion::AtRest, Occasion::WhilePlaying].map(Occasion::words);
    let words = words.into_iter().flatten().chain(["menu"]);
    words
        .map(|word| speech::menu_phrases(word, names))
        .for_each(&mut add);
    all
}
