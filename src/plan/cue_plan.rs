//! The cues of a take: for the notes, for the places, and the names of what begins; each said once, late where the plan
//! changed late.

use super::agenda::Due;
use super::cues::{CueAbout, CuePlanner, PlannedCue};
use super::missed::Missed;
use crate::drill::Names;
use crate::speech::PhraseSet;
use crate::time::Tick;

/// A call of the places as it is known again when the plan has changed: its deadline and its words.
type Call = (Tick, PhraseSet);

/// What is to be said.
#[derive(Debug, Default)]
pub struct CuePlan {
    /// The cues that come of the plan: for notes and places.
    planned: Vec<PlannedCue>,
    /// Names of stages and sections.
    announcements: Vec<PlannedCue>,
    /// Where the stage begins that was named ahead because it comes by itself.
    announced_ahead: Option<Tick>,
    /// What was missed, and is to be named again.
    missed: Option<Missed>,
    /// The calls of places that were handed over.
    called: Vec<Call>,
}

impl CuePlan {
    /// Works the cues out anew from the plan.
    pub fn renew(&mut self, planner: &CuePlanner<'_>, names: Names) {
        self.planned = planner.target_cues(names, self.missed.as_ref());
        let calls = planner.place_calls(names, &self.planned);
        self.planned.extend(calls);
    }

    /// All cues.
    pub fn all(&self) -> impl Iterator<Item = &PlannedCue> {
        self.planned.iter().chain(&self.announcements)
    }

    /// Those that come of the plan: for notes and places.
    pub fn planned(&self) -> impl Iterator<Item = &PlannedCue> {
        self.planned.iter()
    }

    /// Calls of places whose time to be handed over is past (by `done`), but not the time to be said: the plan has changed
    /// since. The beats that are over are no choice any more.
    pub fn late_calls(&mut self, done: Tick) -> Vec<Due> {
        let called = &self.called;
        let is_late = |cue: &PlannedCue| {
            let is_call = cue.about == CueAbout::Places && cue.hand_over <= done;
            is_call && !called.contains(&(cue.deadline, cue.phrases.clone()))
        };
        let late = self.planned.iter().filter(|cue| is_late(cue));
        let late = late.map(|cue| cue.clone().within(done));
        late.filter(|cue| !cue.windows.is_empty())
            .map(|cue| Due::Cue(Box::new(cue)))
            .collect()
    }

    /// A cue was handed over.
    pub fn handed_over(&mut self, cue: &PlannedCue) {
        if cue.about == CueAbout::Places {
            self.called.push((cue.deadline, cue.phrases.clone()));
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

    /// Adds the name of something that begins.
    pub fn announce(&mut self, cue: PlannedCue) {
        self.announcements.push(cue);
    }

    /// Names that were not handed over by `now` are not wanted any more.
    pub fn forget_names_after(&mut self, now: Tick) {
        self.announcements.retain(|cue| cue.hand_over <= now);
    }

    /// No name is wanted any more.
    pub fn forget_names(&mut self) {
        self.announcements.clear();
        self.announced_ahead = None;
    }

    /// Drops what is over.
    pub fn forget_before(&mut self, now: Tick) {
        self.announcements.retain(|cue| cue.deadline > now);
        self.called.retain(|(deadline, _)| *deadline > now);
    }

    /// Whether the stage that begins at `start` was named ahead.
    pub fn is_announced_ahead(&self, start: Tick) -> bool {
        self.announced_ahead == Some(start)
    }

    /// The stage that begins at `start` is named ahead.
    pub fn set_announced_ahead(&mut self, start: Tick) {
        self.announced_ahead = Some(start);
    }
}

impl PlannedCue {
    /// The same without the windows that have begun by `now`.
    fn within(mut self, now: Tick) -> PlannedCue {
        self.windows.retain(|(from, _)| *from > now);
        self
    }
}
