//! Calls of the places: said once each, late where the plan changed late.

use crate::plan::cues::PlannedCue;
use crate::plan::take::{Due, TakePlan};
use crate::speech::PhraseSet;
use crate::time::Tick;

/// A call as it is known again when the plan has changed: its deadline and its words.
pub(crate) type Call = (Tick, PhraseSet);

impl PlannedCue {
    /// What it is known by as a call.
    pub(crate) fn call(&self) -> Call {
        (self.deadline, self.phrases.clone())
    }
}

impl TakePlan {
    /// Calls whose time to be handed over is past, but not the time to be said: the plan has changed since.
    pub(crate) fn late_calls(&mut self) -> Vec<(Tick, Due)> {
        let mut late = Vec::new();
        for (index, cue) in self.cues.iter_mut().enumerate() {
            let is_call = cue.form_chord.is_none();
            if is_call && cue.hand_over <= self.done && !self.called.contains(&cue.call()) {
                cue.windows.retain(|(from, _)| *from > self.done);
                if !cue.windows.is_empty() {
                    late.push((Tick(self.done.0 + 1), Due::Cue(index)));
                }
            }
        }
        late
    }

    /// A call was hushed: it may come again.
    pub fn take_back_call(&mut self, deadline: Tick, phrases: &PhraseSet) {
        self.called
            .retain(|(at, words)| *at != deadline || words != phrases);
    }
}
