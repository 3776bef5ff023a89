//! What the voice says because a foot asked for it, or because something is armed or begins.

use crate::practice::action::Action;
use crate::practice::core::Core;
use crate::practice::event::{Effect, Saying};
use crate::practice::pass::PassKind;
use crate::practice::{cues, show, steps};
use crate::speech;
use crate::speech::FormLimit;
use crate::time::{Frame, Tick};

impl Core {
    pub(in crate::practice) fn say_again(&mut self, stamp: Frame) {
        let phrases = show::say_again(self);
        if phrases.full.is_empty() {
            return;
        }
        let id = self.await_cue(phrases.clone(), FormLimit::Full, None, None);
        self.out.push(Effect::Say(Saying {
            id,
            phrases,
            limit: FormLimit::Full,
            windows: Default::default(),
            now: Some(self.earliest(stamp)),
        }));
    }

    /// The stage is named once, in the count-in, before the first target.
    pub(in crate::practice) fn announce_stage(&mut self) {
        let stage = self.standing.stage;
        if self.announced == Some(stage) {
            return;
        }
        let phrases = speech::stage_phrases(&self.standing.stage_of(&self.material).name);
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let Some(first) = take.timeline.segments().next().cloned() else {
            return;
        };
        if first.pass.kind != PassKind::CountIn {
            return;
        }
        let half = Tick(first.start().0 + (first.end() - first.start()).0 / 2);
        let window = (first.start(), half);
        let counts = steps::counts(&take.timeline);
        let planned =
            cues::announcement(phrases, &take.steps, &counts, window.0, window.1, &|tick| {
                take.ms(tick)
            });
        if let Some(cue) = planned {
            take.announcements.push(cue);
            take.settle();
            self.announced = Some(stage);
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
                speech::stage_phrases(&target.standing.stage_of(&target.material).name)
            }
            Some(Action::NextSection | Action::PreviousSection) => speech::section_phrases(
                &show::section_name(&target.material, &target.standing),
                names,
            ),
            Some(Action::WholeForm) => speech::stage_phrases("whole form"),
            _ => return,
        };
        let now = take.timeline.tick(self.now);
        let counts = steps::counts(&take.timeline);
        let last_bar = counts
            .iter()
            .rev()
            .find(|count| take.ms(cut) - take.ms(**count) >= 2500.0);
        let to = last_bar.copied().unwrap_or(now);
        let planned = cues::announcement(phrases, &take.steps, &counts, from, to, &|tick| {
            take.ms(tick)
        });
        take.announcements.retain(|cue| cue.hand_over <= now);
        if let Some(cue) = planned {
            take.announcements.push(cue);
            take.settle();
        }
    }
}
