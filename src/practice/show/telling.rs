//! What is told in words: lines of the event log about the page, names of places, what the voice may need.

use crate::display::{Large, Page};
use crate::drill::{Names, PageHelp, Places};
use crate::plan::pass::PassKind;
use crate::plan::standing::{Loop, Standing};
use crate::plan::steps::Step;
use crate::plan::take::TakePlan;
use crate::plan::{Material, cues};
use crate::practice::core::Core;
use crate::practice::event::Recorded;
use crate::practice::show::page;
use crate::speech::{self, PhraseSet};
use crate::time::Tick;

/// The line that tells of the page as it stands.
pub(in crate::practice) fn page_record(core: &Core) -> Recorded {
    let page = page(core);
    let (name, large) = match &page {
        Page::Ready { .. } => ("ready", ""),
        Page::CountIn { .. } => ("count-in", "next"),
        Page::Practice(page) => match page.large {
            Large::Now => ("practice", "now"),
            Large::Next => ("practice", "next"),
            Large::Both => ("practice", "both"),
        },
        Page::Breathe(_) => ("breathe", ""),
        Page::Paused { .. } => ("paused", ""),
        Page::Menu { .. } => ("menu", ""),
        Page::Message { .. } => ("message", ""),
        Page::Tuning(_) => ("tuning", ""),
        Page::Learn { .. } => ("learn", ""),
        Page::ClockLost { .. } => ("clock lost", ""),
    };
    let (mut chords, mut next_change) = (Vec::new(), None);
    let (mut now, mut next) = (Vec::new(), Vec::new());
    if let (Some(take), "practice" | "count-in") = (&core.take, name) {
        let tick = take.timeline.tick(core.now);
        let unit = take.shown.map_or(0, |shown| shown.unit);
        let on_page = take.units.iter().skip(unit).take(2);
        let steps = on_page.flat_map(|unit| &take.steps[unit.first..unit.after]);
        chords = steps.filter_map(Step::form_chord).collect();
        chords.dedup();
        let change = take.steps.iter().find(|step| step.start > tick);
        next_change = change.map(|step| take.timeline.frame(step.start));
        now = match name {
            "practice" => told_of(take, unit),
            _ => Vec::new(),
        };
        next = told_of(take, unit + 1);
    }
    Recorded::Page {
        page: name,
        now,
        next,
        large,
        chords,
        next_change,
    }
}

/// What a slot gives away, as lines tell it: notes in ASCII, degrees.
fn told_of(take: &TakePlan, unit: usize) -> Vec<String> {
    let Some(unit) = take.units.get(unit) else {
        return Vec::new();
    };
    let steps = &take.steps[unit.first..unit.after];
    let is_held = steps[0].pass.kind == PassKind::Held;
    let steps = steps.iter().take(if is_held { 1 } else { steps.len() });
    let told = |step: &Step| -> Vec<String> {
        let notes = step.set().map_or(&[][..], |set| &set.notes[..]).iter();
        match step.pass.help.page {
            PageHelp::Notes => notes.map(|note| note.pitch.to_string()).collect(),
            PageHelp::Degrees => notes.map(|note| note.degree.to_string()).collect(),
            PageHelp::Symbol | PageHelp::Off => Vec::new(),
        }
    };
    steps.flat_map(told).collect()
}

/// Section and bar (from 1) at a tick of the take; no bar in a count-in.
pub(in crate::practice) fn place_at(core: &Core, tick: Tick) -> (String, Option<u32>) {
    let segment = core
        .take
        .as_ref()
        .and_then(|take| take.timeline.segment_at(tick));
    let Some(segment) = segment else {
        return (section_name(&core.material, &core.standing), None);
    };
    let material = &segment.pass.material;
    let form_bar = &material.form.bars[segment.pass.lap.bars[segment.bar_at(tick)].form_bar];
    let section = material.form.section_names[form_bar.section].clone();
    let counts = !matches!(segment.pass.kind, PassKind::CountIn);
    (section, counts.then_some(form_bar.bar))
}

/// The name of the section a standing goes through (the first one of a whole form).
pub(in crate::practice) fn section_name(material: &Material, standing: &Standing) -> String {
    if standing.looping == Loop::Form {
        return "whole form".to_string();
    }
    let bar = standing.form_bars(material).first().copied().unwrap_or(0);
    let section = material.form.bars.get(bar).map_or(0, |bar| bar.section);
    material
        .form
        .section_names
        .get(section)
        .cloned()
        .unwrap_or_default()
}

/// What "say again" says: the set that is large on the page.
pub(in crate::practice) fn say_again(core: &Core) -> PhraseSet {
    let Some(take) = &core.take else {
        let section = section_name(&core.material, &core.standing);
        let stage = &core.standing.stage_of(&core.material).name;
        let qpm = core.tempo.qpm().round() as u32;
        return PhraseSet::plain(speech::status_sentence(
            stage,
            &section,
            qpm,
            core.settings.names,
        ));
    };
    let shown = take
        .shown
        .map_or((0, Large::Next), |shown| (shown.unit, shown.large));
    let unit = if shown.1 == Large::Next {
        shown.0 + 1
    } else {
        shown.0
    };
    let now = take.timeline.tick(core.now);
    let step = take.units.get(unit).and_then(|unit| {
        // Of a group the chord that comes next.
        let steps = &take.steps[unit.first..unit.after];
        steps.iter().find(|step| step.start > now).or(steps.last())
    });
    step.and_then(|step| cues::phrases_of(step, core.settings.names))
        .unwrap_or_default()
}

/// Every phrase that a drill over a chart may say: targets of all its stages' first passes, the names of stages
/// and sections.
pub(in crate::practice) fn vocabulary(material: &Material, names: Names) -> Vec<PhraseSet> {
    let mut phrases: Vec<PhraseSet> = Vec::new();
    let mut add = |set: PhraseSet| {
        if !set.full.is_empty() && !phrases.contains(&set) {
            phrases.push(set);
        }
    };
    let stages = &material.drill.stages;
    stages
        .iter()
        .for_each(|stage| add(speech::stage_phrases(stage)));
    material
        .form
        .section_names
        .iter()
        .for_each(|name| add(speech::section_phrases(name, names)));
    add(PhraseSet::plain("whole form"));
    let whole = material
        .form
        .lap(&(0..material.form.bars.len()).collect::<Vec<_>>());
    for stage in stages {
        if let Places::Rotate(turns) = &stage.places {
            let calls = turns.iter();
            calls
                .filter_map(|places| speech::places_phrases(places, names))
                .for_each(&mut add);
        }
        for set in cues::phrases_of_lap(material, stage, &whole, names) {
            add(set);
        }
    }
    phrases
}
