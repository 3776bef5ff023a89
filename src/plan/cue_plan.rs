//! The cues of a take: for the notes, and what is called where something else begins; each said once, late where the plan
//! changed late.

use super::agenda::Due;
use super::cues::{CueAbout, CuePlanner, PlannedCue};
use super::missed::Missed;
use crate::drill::Names;
use crate::speech::PhraseSet;
use crate::time::Tick;

/// A call as it is known again when the plan has changed: its deadline and its words.
type Call = (Tick, PhraseSet);

/// What is to be said.
#[derive(Debug, Default)]
pub struct CuePlan {
    planned: Vec<PlannedCue>,
    /// What was missed, and is to be named again.
    missed: Option<Missed>,
    /// The calls that were handed over.
    called: Vec<Call>,
}

impl CuePlan {
    /// Works the cues out anew from the plan; `last_time`: from when on it is known where the take ends.
    pub fn renew(
        &mut self,
        planner: &CuePlanner<'_>,
        names: Names,
        last_time: Option<(Tick, Tick)>,
    ) {
        let targets = planner.target_cues(names, self.missed.as_ref());
        // What is called is handed over before what is named on the same beat: the page has the notes, too.
        self.planned = planner.calls(names, &targets);
        self.planned
            .extend(last_time.and_then(|(from, end)| planner.last_time(names, from, end)));
        self.planned.extend(targets);
    }

    /// Those that are still to be handed over: a call that found another place meanwhile is the same call.
    pub fn waiting(&self) -> impl Iterator<Item = &PlannedCue> {
        let is_called =
            |cue: &PlannedCue| cue.about == CueAbout::Call && self.called.contains(&call_of(cue));
        self.planned.iter().filter(move |cue| !is_called(cue))
    }

    /// All cues.
    pub fn all(&self) -> impl Iterator<Item = &PlannedCue> {
        self.planned.iter()
    }

    /// Calls whose time to be handed over is past (by `done`), but not the time to be said: the plan has changed
    /// since. The beats that are over are no choice any more.
    pub fn late_calls(&self, done: Tick) -> Vec<Due> {
        let is_late = |cue: &&PlannedCue| cue.about == CueAbout::Call && cue.hand_over <= done;
        let late = self.waiting().filter(is_late);
        let late = late.map(|cue| cue.clone().within(done));
        late.filter(|cue| !cue.windows.is_empty())
            .map(|cue| Due::Cue(Box::new(cue)))
            .collect()
    }

    /// A cue was handed over.
    pub fn handed_over(&mut self, cue: &PlannedCue) {
        if cue.about == CueAbout::Call {
            self.called.push(call_of(cue));
        }
    }

    /// A call was hushed: it may come again.
    pub fn take_back_call(&mut self, deadline: Tick, phrases: &PhraseSet) {
        self.called
            .retain(|(at, words)| *at != deadline || words != phrases);
    }

    /// What was missed is to be named again from the next working out on.
    pub fn name_again(&mut self, missed: Missed) {
        self.missed = Some(missed);
    }

    /// Cues for notes that were missed and whose time to be handed over is past (by `done`), as far as they can still be
    /// said after `now`. `is_missed` tells it by where the chord begins.
    pub fn late_names(
        &self,
        done: Tick,
        now: Tick,
        is_missed: impl Fn(&Missed, Tick) -> bool,
    ) -> Vec<Due> {
        let Some(missed) = &self.missed else {
            return Vec::new();
        };
        let is_late = |cue: &&PlannedCue| {
            let is_due = cue.about.form_chord().is_some() && cue.hand_over <= done;
            is_due && cue.deadline > now && is_missed(missed, cue.deadline)
        };
        let late = self.planned.iter().filter(is_late);
        late.map(|cue| Due::Cue(Box::new(cue.clone().within(now))))
            .collect()
    }

    /// Drops what is over.
    pub fn forget_before(&mut self, now: Tick) {
        self.called.retain(|(deadline, _)| *deadline > now);
    }
}

fn call_of(cue: &PlannedCue) -> Call {
    (cue.deadline, cue.phrases.clone())
}
