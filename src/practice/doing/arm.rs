//! What waits for the section's end: armed, shown, called off, written into the plan.

use crate::audio::Command;
use crate::practice::action::Action;
use crate::practice::core::Core;
use crate::practice::course::Loop;
use crate::practice::event::Effect;
use crate::practice::pass::PassKind;
use crate::practice::plan::{Armed, Cursor, Take};
use crate::time::{Frame, Tick};
use std::sync::Arc;

impl Core {
    /// The end of the section (or of what goes round) that sounds at `from` or later.
    pub(in crate::practice) fn section_end(&self, take: &Take, from: Tick) -> Tick {
        let Some(segment) = take.timeline.segment_at(from) else {
            return take.timeline.end();
        };
        let pass = &segment.pass;
        if !matches!(pass.kind, PassKind::Music(_)) {
            return segment.end();
        }
        let form = &pass.material.form;
        let item = |bar: usize| form.bars[pass.lap.bars[bar].form_bar].item;
        // A bar line that is exactly `from` is still in time.
        let here = if segment.bar_start(segment.bar_at(from)) == from && from > segment.start() {
            segment.bar_at(from) - 1
        } else {
            segment.bar_at(from)
        };
        let end = (here + 1..segment.to_bar).find(|bar| item(*bar) != item(here));
        segment.bar_start(end.unwrap_or(segment.to_bar))
    }

    pub(in crate::practice) fn arm(&mut self, action: Action, stamp: Frame) {
        let earliest = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return self.at_rest(action);
        };
        let from = take.timeline.tick(earliest);
        let mut actions = take
            .armed
            .as_ref()
            .map(|armed| armed.actions.clone())
            .unwrap_or_default();
        actions.push(action);
        if action == Action::NextSection {
            self.take_the_ending_that_goes_on(from);
        }
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let cut = match &take.armed {
            Some(armed) if armed.cut >= from => armed.cut,
            // The last time round is round to the end of what goes round.
            _ if action == Action::LastTime => {
                take.timeline.segment_at(from).map_or(from, |s| s.end())
            }
            _ => self.section_end(take, from),
        };
        let instead_of = match &take.armed {
            Some(armed) if armed.cut == cut => armed.instead_of.clone(),
            _ => self.cursor_at(take, cut),
        };
        self.arm_at(actions, cut, instead_of, stamp);
    }

    pub(in crate::practice) fn arm_at(
        &mut self,
        actions: Vec<Action>,
        cut: Tick,
        instead_of: Cursor,
        stamp: Frame,
    ) {
        let earliest = self.earliest(stamp);
        let mut target = instead_of.clone();
        for action in &actions {
            target = self.target_of(*action, &target);
        }
        let last_time = actions.last() == Some(&Action::LastTime);
        let words: Vec<String> = actions
            .iter()
            .map(|action| crate::practice::core::words(*action))
            .collect();
        let armed = Armed {
            what: words.join(", "),
            actions,
            cut,
            instead_of,
            target: target.clone(),
        };
        let playing = self.playing.clone();
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let from = take.timeline.tick(earliest);
        take.replan(cut, target);
        take.ends = last_time;
        take.lead_into(&playing);
        take.armed = Some(armed);
        self.rewrite_future(from, stamp);
        self.announce_armed(cut, from);
    }

    /// Plans on, settles, and hands the player the bars from `from` on.
    pub(in crate::practice) fn rewrite_future(&mut self, from: Tick, stamp: Frame) {
        let tempo = self.tempo;
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let now = take.timeline.tick(self.now);
        take.extend(now, tempo, &self.playing);
        take.settle();
        let replace = take.resend(from, &mut self.bar_ids);
        self.epoch = take.epoch();
        self.hush_cues(self.earliest(stamp));
        self.out.push(Effect::Audio(replace));
    }

    /// Cues that were handed over are not wanted any more from `at` on.
    pub(in crate::practice) fn hush_cues(&mut self, at: Frame) {
        let below = self.cue_ids + 1;
        self.out
            .push(Effect::Audio(Command::HushCues { at, below }));
    }

    /// What the plan as it stands would play from the bar line `cut` on.
    pub(in crate::practice) fn cursor_at(&self, take: &Take, cut: Tick) -> Cursor {
        let Some(segment) = take.timeline.segment_at(cut) else {
            return take.cursor.clone();
        };
        let pass = &segment.pass;
        Cursor {
            material: pass.material.clone(),
            standing: pass.standing.clone(),
            from_bar: segment.bar_at(cut),
            count_in: (pass.kind == PassKind::CountIn).then_some(!pass.lap.chords.is_empty()),
        }
    }

    /// While a section goes round it takes its first ending; leaving it takes the ending that leads on.
    fn take_the_ending_that_goes_on(&mut self, from: Tick) {
        let (tempo, playing) = (self.tempo, self.playing.clone());
        let Some(take) = self.take.as_mut().filter(|take| take.armed.is_none()) else {
            return;
        };
        let Some(segment) = take.timeline.segment_at(from).cloned() else {
            return;
        };
        let (pass, material) = (&segment.pass, &segment.pass.material);
        let Loop::Item(item) = pass.standing.looping else {
            return;
        };
        let going_on = material.leaving_item(item);
        if going_on == item || !matches!(pass.kind, PassKind::Music(_)) {
            return;
        }
        // Too late once the bar that sounds is one of the ending's.
        if segment.bar_at(from) >= material.bars_in_common(item, going_on) {
            return;
        }
        let after = Cursor::pass(material, pass.standing.next(material));
        let leaving = Cursor::pass(material, pass.standing.in_section(going_on));
        take.timeline
            .swap(from, Arc::new(leaving.write(tempo, &playing, false)));
        take.cursor = after;
    }

    pub(in crate::practice) fn stay(&mut self, stamp: Frame) {
        let earliest = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let from = take.timeline.tick(earliest);
        if let Some(armed) = take.armed.clone().filter(|armed| armed.cut >= from) {
            let playing = self.playing.clone();
            if let Some(take) = self.take.as_mut() {
                take.armed = None;
                take.announcements.clear();
                take.replan(armed.cut, armed.instead_of);
                take.lead_into(&playing);
            }
            return self.rewrite_future(from, stamp);
        }
        if !matches!(self.standing.looping, Loop::Item(_)) {
            let cut = self.section_end(take, from);
            let instead_of = self.cursor_at(take, cut);
            self.arm_at(vec![Action::StayHere], cut, instead_of, stamp);
        }
    }
}
