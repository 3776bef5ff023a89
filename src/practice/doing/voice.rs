//! What the voice says because a foot asked for it, or because something is armed or begins.

use crate::drill::Voice;
use crate::foot::action::Action;
use crate::plan::cues::PlannedCue;
use crate::plan::pass::PassKind;
use crate::plan::take::TakePlan;
use crate::plan::timeline::Segment;
use crate::plan::{cues, steps};
use crate::practice::core::Core;
use crate::practice::event::{Effect, Saying};
use crate::practice::show;
use crate::speech;
use crate::speech::{FormLimit, PhraseSet};
use crate::time::{Frame, Tick};

impl Core {
    pub(in crate::practice) fn say_again(&mut self, stamp: Frame) {
        let phrases = show::say_again(self);
        if phrases.full.is_empty() {
            return;
        }
        self.say_whole(phrases, None, self.earliest(stamp));
    }

    /// Says all of something on a frame, or as soon after as it can be.
    fn say_whole(&mut self, phrases: PhraseSet, index: Option<usize>, at: Frame) {
        let id = self.await_cue(phrases.clone(), FormLimit::Full, None, index);
        self.out.push(Effect::Say(Saying {
            id,
            phrases,
            limit: FormLimit::Full,
            windows: Default::default(),
            now: Some(at),
        }));
    }

    /// The stage is named once, in the count-in, before the first target.
    pub(in crate::practice) fn announce_stage(&mut self) {
        let stage = self.standing.stage;
        if self.announced == Some(stage) {
            return;
        }
        let phrases = speech::stage_phrases(self.standing.stage_of(&self.material));
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let Some(first) = take.timeline.segments().next().cloned() else {
            return;
        };
        if first.pass.kind != PassKind::CountIn {
            return;
        }
        let counts = steps::counts(&take.timeline);
        // The first target is named in the second half of the count, if it is named; or the places are.
        let said_first = |cue: &PlannedCue| match cue.form_chord {
            Some(_) => cue.deadline == first.end(),
            None => cue.deadline <= first.end(),
        };
        let mut others = take.cues.iter().filter(|cue| !cue.windows.is_empty());
        let to = match others.any(said_first) {
            true => cues::middle(first.start(), first.end()),
            false => last_count(&counts, first.end()),
        };
        let ms = |tick| take.ms(tick);
        let planned = cues::announcement(phrases, &take.steps, &counts, first.start(), to, &ms);
        if let Some(cue) = planned {
            take.announcements.push(cue);
            take.settle();
            self.announced = Some(stage);
        }
    }

    /// A chord out of time is named when it comes, if its stage is to be spoken; before the first one the stage.
    pub(in crate::practice) fn name_held(&mut self) {
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let step = take.steps.first();
        let Some(step) = step.filter(|step| step.pass.kind == PassKind::Held) else {
            return;
        };
        let standing = &step.pass.standing;
        let stage = standing.stage;
        let name = speech::stage_phrases(standing.stage_of(&step.pass.material));
        let name = (self.announced != Some(stage)).then_some((name, None));
        let is_spoken = step.pass.help.voice != Voice::Off;
        let notes = cues::phrases_of(step, self.settings.names).filter(|_| is_spoken);
        let notes = notes.map(|phrases| (phrases, step.form_chord()));
        self.announced = Some(stage);
        let said = name.into_iter().chain(notes);
        let said: Vec<_> = said.filter(|(_, index)| self.is_spoken(*index)).collect();
        for (phrases, index) in said {
            self.say_whole(phrases, index, self.earliest(self.now));
        }
    }

    /// A stage that comes by itself is named once, where the voice is free before it: in the breath, if there is one.
    pub(in crate::practice) fn announce_coming_stage(&mut self, at: Tick) {
        let Some(take) = self.take.as_mut().filter(|take| take.armed.is_none()) else {
            return;
        };
        let segments: Vec<&Segment> = take.timeline.segments().collect();
        let comes = segments.windows(2).find_map(|pair| {
            let (before, after) = (pair[0], pair[1]);
            let stages = (before.pass.standing.stage, after.pass.standing.stage);
            let is_new = after.start() > at && stages.0 != stages.1;
            let from = match before.pass.kind {
                PassKind::Breathe => before.start().max(at),
                _ => at,
            };
            is_new.then(|| (from, after.start(), after.pass.clone()))
        });
        let Some((from, start, pass)) = comes else {
            return;
        };
        if take.announced_ahead == Some(start) {
            return;
        }
        let phrases = speech::stage_phrases(pass.standing.stage_of(&pass.material));
        if take.announce(phrases, from, start) {
            take.announced_ahead = Some(start);
        }
    }

    /// What is armed is named where the voice is free, before the bar in which the next targets are named.
    pub(in crate::practice) fn announce_armed(&mut self, cut: Tick, from: Tick) {
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let Some(armed) = &take.armed else { return };
        let target = &armed.target;
        let names = self.settings.names;
        let phrases = match armed.actions.last() {
            Some(Action::NextStage | Action::PreviousStage | Action::ListenBack) => {
                speech::stage_phrases(target.standing.stage_of(&target.material))
            }
            Some(Action::NextSection | Action::PreviousSection) => speech::section_phrases(
                &show::section_name(&target.material, &target.standing),
                names,
            ),
            Some(Action::WholeForm) => PhraseSet::plain("whole form"),
            _ => return,
        };
        let now = take.timeline.tick(self.now);
        take.announcements.retain(|cue| cue.hand_over <= now);
        take.announce(phrases, from, cut);
    }
}

/// The last count before a tick.
fn last_count(counts: &[Tick], before: Tick) -> Tick {
    let after = counts.partition_point(|count| *count < before);
    counts[..after].last().copied().unwrap_or(before)
}

impl TakePlan {
    /// Plans an announcement of what begins at `cut`, from `from` on, before the bar in which its targets are named.
    /// Whether there is room for it.
    fn announce(&mut self, phrases: PhraseSet, from: Tick, cut: Tick) -> bool {
        let counts = steps::counts(&self.timeline);
        let is_early = |count: &&Tick| self.ms(cut) - self.ms(**count) >= cues::FREE_BEFORE_MS;
        let to = counts.iter().rev().find(is_early).copied().unwrap_or(from);
        let ms = |tick| self.ms(tick);
        let planned = cues::announcement(phrases, &self.steps, &counts, from, to, &ms);
        let is_planned = planned.is_some();
        if let Some(cue) = planned {
            self.announcements.push(cue);
            self.settle();
        }
        is_planned
    }
}
