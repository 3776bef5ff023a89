//! What is to be done with what is played first, and what comes after it: another task, another key.

use super::slots::first_of;
use super::task::{shift_text, task_of};
use crate::display::{Large, note_name};
use crate::drill::Names;
use crate::glossary;
use crate::harmony::{Key, Mode};
use crate::plan::calls::key_of;
use crate::plan::steps::PlanStep;
use crate::plan::take::TakePlan;
use crate::plan::turns::PageTurn;
use crate::time::Tick;

/// What is to be done with what is to be played first, and after it where that is something else: where another pass begins.
pub(super) fn tasks(
    plan: &TakePlan,
    shown: PageTurn,
    now: Tick,
    names: Names,
) -> (Vec<String>, Vec<String>) {
    let unit = shown.unit + usize::from(shown.large == Large::Next);
    let here = plan.steps_of(unit);
    let Some(first) = here.get(first_of(here, now)) else {
        return Default::default();
    };
    let after = match shown.large {
        Large::Next => &[],
        Large::Now | Large::Both => plan.steps_of(unit + 1),
    };
    let later = here
        .iter()
        .chain(after)
        .filter(|step| step.start > first.start);
    // What turns stands there a bar ahead, however short the chords are.
    let soon = steps_within(plan, first, now, 1).filter(|step| turns(step));
    let other = later
        .chain(soon)
        .filter(|step| step.origin != first.origin)
        .map(task_of);
    let mut task = task_of(first);
    let mut then = other
        .into_iter()
        .find(|then| *then != task)
        .unwrap_or_default();
    // After its last place what was to be done is done.
    let is_over = first.places.iter().max().is_some_and(|last| *last < now);
    if let Some(key) = coming_key(plan, first, now) {
        if then.is_empty() {
            // What stays as it is need not be said again while it can be read.
            let said = if is_over { task.len() } else { 1 };
            then.extend(task.iter().take(said).cloned());
        }
        let after_the_verb = then.len().min(1);
        then.insert(
            after_the_verb,
            format!("{} {}", glossary::IN.page, key_name(key, names)),
        );
    }
    task.extend(shift_text(first));
    match is_over && !then.is_empty() {
        true => (Vec::new(), then),
        false => (task, then),
    }
}

/// The steps after `first` that begin within so many bars from now on.
fn steps_within<'a>(
    plan: &'a TakePlan,
    first: &'a PlanStep,
    now: Tick,
    bars: i64,
) -> impl Iterator<Item = &'a PlanStep> {
    let bar = first.pass.lap.bars.first();
    let bar = bar.map_or(Tick(0), |bar| bar.meter.bar_ticks());
    let until = Tick(now.0 + bars * bar.0);
    let later = plan.steps().iter();
    later.filter(move |step| step.start > first.start && step.start <= until)
}

/// Whether something turns from pass to pass.
fn turns(step: &PlanStep) -> bool {
    let stage = step.pass.standing.stage_of(&step.pass.material);
    stage.rotation.is_some()
}

/// The key that what is to be played first does not have yet and that begins within two bars.
fn coming_key(plan: &TakePlan, first: &PlanStep, now: Tick) -> Option<Key> {
    let keys = steps_within(plan, first, now, 2).filter_map(key_of);
    let mut others = keys.filter(|key| key_of(first) != Some(*key));
    others.next()
}

/// A key as a leader names it: the tonic alone where it is major.
fn key_name(key: Key, names: Names) -> String {
    let tonic = note_name(key.tonic, names);
    match key.mode {
        Mode::Major => tonic,
        Mode::Minor => format!("{tonic} {}", glossary::QUALITIES[0].page),
    }
}
