//! New charts and a new drill on their way into what is practised.

use crate::plan::cursor::Brings;
use crate::plan::{Loop, Material, Standing};
use std::sync::Arc;

/// New charts and a new drill on their way into the plan.
#[derive(Debug, Clone)]
pub(super) struct Reload {
    pub material: Arc<Material>,
    /// Set where the chart that was played is gone, and another takes its place.
    pub brings: Option<Brings>,
    /// Whether the drill begins with its first stage, wherever the player stood in the one before.
    pub from_first: bool,
}

impl Reload {
    /// The nearest standing that the new material has.
    pub fn fit(&self, standing: &Standing, before: &Material) -> Standing {
        let last_item = self.material.form.items().saturating_sub(1);
        let looping = match &standing.looping {
            Loop::Item(item) => Loop::Item(*item.min(&last_item)),
            Loop::Form => Loop::Form,
            Loop::Spot(_) | Loop::Sections(_) => Loop::Item(0),
        };
        let last_stage = match self.from_first {
            true => 0,
            false => self.material.drill.stages.len() - 1,
        };
        let per_cent = match self.from_first {
            true => Standing::first().per_cent,
            false => standing.per_cent,
        };
        let fitting = Standing {
            stage: standing.stage.min(last_stage),
            looping,
            per_cent,
            ..Standing::first()
        };
        // What turns goes on in stages of the same name.
        let turns = standing.turns_by_name(before);
        let fitting = fitting.with_turns(&turns, &self.material);
        fitting.as_its_stage_says(&self.material)
    }
}
