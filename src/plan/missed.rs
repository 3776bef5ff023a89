//! Names that come once more: the first pass of a stage names every chord; what was missed when it was first played is
//! named again in the pass after, and then the voice is silent. Common practice of teachers, no source.

use super::steps::PlanStep;

/// What was missed when a stage was first played, and the pass in which it is named again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missed {
    /// The stage by name.
    pub stage: String,
    /// The pass of it in which the voice names them, from 0.
    pub pass: u32,
    /// Indices into the form's chords.
    pub chords: Vec<usize>,
}

impl Missed {
    /// Whether a chord of the plan is to be named again.
    pub fn names(&self, step: &PlanStep) -> bool {
        let standing = &step.pass.standing;
        let here = (standing.pass, &standing.stage_of(&step.pass.material).name);
        let is_missed = |chord| self.chords.contains(&chord);
        here == (self.pass, &self.stage) && step.form_chord().is_some_and(is_missed)
    }
}
