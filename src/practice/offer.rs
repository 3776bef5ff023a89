//! What is offered at the end of a round: an easier stage after rough choruses, a harder one after clean ones in a stage that
//! stays. The foot takes it by going back, or on.

use super::session::Session;
use crate::foot::Action;

impl Session {
    /// How many stages "previous stage" or "next stage" goes: to what was offered there, else to the one before or after.
    pub(super) fn steps_by(&self, action: Action, from: usize) -> i32 {
        match self.offered {
            Some((offered_in, by, to)) if (offered_in, by) == (from, action) => {
                to as i32 - from as i32
            }
            _ if action == Action::PreviousStage => -1,
            _ => 1,
        }
    }

    /// Offers what is easier than a stage: its name as it is called, if there is one.
    pub(super) fn offer_easier(&mut self, stage: usize) -> Option<String> {
        let easier = self.material.drill.easier(stage);
        self.offer(stage, Action::PreviousStage, easier?)
    }

    /// Offers what is harder than a stage: its name as it is called, if there is one.
    pub(super) fn offer_harder(&mut self, stage: usize) -> Option<String> {
        let harder = self.material.drill.harder(stage);
        self.offer(stage, Action::NextStage, harder?)
    }

    fn offer(&mut self, stage: usize, action: Action, to: usize) -> Option<String> {
        self.offered = Some((stage, action, to));
        let other = self.material.drill.stages.get(to)?;
        Some(other.call.as_ref().unwrap_or(&other.name).clone())
    }
}
