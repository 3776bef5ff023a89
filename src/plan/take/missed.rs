//! Names that come once more: the first pass of a stage names every chord; what was missed when it was first played is
//! named again in the pass after, and then the voice is silent. Common practice of teachers, no source.

use crate::plan::steps::Step;
use crate::plan::take::{Due, TakePlan};
use crate::time::Tick;

/// What was missed when a stage was first played, and the pass in which it is named again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missed {
    /// The stage by name.
    pub stage: String,
    /// From 0.
    pub pass: u32,
    /// Indices into the form's chords.
    pub chords: Vec<usize>,
}

impl Missed {
    /// Whether a chord of the plan is to be named again.
    pub(crate) fn names(&self, step: &Step) -> bool {
        let standing = &step.pass.standing;
        let here = (standing.pass, &standing.stage_of(&step.pass.material).name);
        let is_missed = |chord| self.chords.contains(&chord);
        here == (self.pass, &self.stage) && step.form_chord().is_some_and(is_missed)
    }
}

impl TakePlan {
    /// Names again what was missed, as far as the voice still comes in time: the pass has begun when that is known.
    pub fn name_missed(&mut self, missed: Missed, now: Tick) {
        self.missed = Some(missed);
        self.settle();
        let mut late = Vec::new();
        for (index, cue) in self.cues.iter_mut().enumerate() {
            if cue.form_chord.is_none() || cue.hand_over > self.done || cue.deadline <= now {
                continue;
            }
            let missed = self.missed.as_ref();
            let step = self.steps.iter().find(|step| step.start == cue.deadline);
            if step.is_some_and(|step| missed.is_some_and(|missed| missed.names(step))) {
                // The beats that are over are no choice any more.
                cue.windows.retain(|(from, _)| *from > now);
                late.push((Tick(self.done.0 + 1), Due::Cue(index)));
            }
        }
        self.agenda.extend(late);
        self.agenda.sort();
        self.agenda.reverse();
    }
}
