//! What waits for the section's end: armed, shown, called off, written into the plan.
//!
//! The plan without what is armed is kept beside it. Whatever else changes the plan meanwhile (a tempo, a muted
//! part, a bar back, new charts) changes that one, and what is armed is put on top again; so nothing that is
//! armed gets lost, and calling it off is as if it had never been.

use crate::foot::action::Action;
use crate::plan::cursor::{Armed, Cursor};
use crate::plan::pass::PassKind;
use crate::plan::standing::Loop;
use crate::plan::take::TakePlan;
use crate::practice::core::Core;
use crate::practice::event::Effect;
use crate::practice::show;
use crate::time::{Frame, Tick};
use std::sync::Arc;

impl Core {
    /// The end of the section (or of what goes round) that sounds at `from`: where its last bar ends.
    pub(in crate::practice) fn section_end(&self, take: &TakePlan, from: Tick) -> Tick {
        let timeline = &take.timeline;
        let Some(segment) = timeline.segment_at(from) else {
            return timeline.end();
        };
        if !matches!(segment.pass.kind, PassKind::Music(_)) {
            return segment.end();
        }
        let first = timeline
            .segments()
            .next()
            .map_or(from, |first| first.start());
        // A bar line that is exactly `from` is still in time.
        let at = if timeline.bar_line(from) == from && from > first {
            Tick(from.0 - 1)
        } else {
            from
        };
        let mut item = None;
        for segment in timeline.segments().filter(|segment| segment.end() > at) {
            let pass = &segment.pass;
            for (index, bar) in segment.bars() {
                let start = segment.bar_start(index);
                let here = pass.material.form.bars[bar.form_bar].item;
                if start <= at {
                    item = Some(here);
                    continue;
                }
                let ends = index == 0 || item != Some(here);
                if ends || !matches!(pass.kind, PassKind::Music(_)) {
                    return start;
                }
            }
        }
        timeline.end()
    }

    /// Arms an action; with others that are armed already it lands where they do.
    pub(in crate::practice) fn arm(&mut self, action: Action, stamp: Frame) {
        if self.take.is_none() {
            return self.at_rest(action);
        }
        let from = self.tick_of(stamp);
        // What came by itself was an offer: whatever the foot asks for takes its place.
        let pending = self.unarm(from).filter(|armed| !armed.by_itself);
        let mut actions = pending
            .as_ref()
            .filter(|armed| !armed.is_spot())
            .map(|armed| armed.actions.clone())
            .unwrap_or_default();
        add(&mut actions, action);
        let firm = pending.filter(|armed| from >= armed.firm_from && !armed.is_spot());
        match firm {
            Some(armed) => self.arm_at(Armed { actions, ..armed }, stamp),
            None => self.arm_all(actions, stamp),
        }
    }

    /// Arms actions at the end of the section that sounds.
    pub(in crate::practice) fn arm_all(&mut self, actions: Vec<Action>, stamp: Frame) {
        self.arm_for(actions, false, stamp);
    }

    /// Arms once more what was armed, where it belongs in the plan as it is now.
    pub(in crate::practice) fn arm_again(&mut self, armed: Armed, stamp: Frame) {
        self.arm_for(armed.actions, armed.by_itself, stamp);
    }

    /// Arms the next stage because this one is secure: after all of what goes round, and the breath.
    pub(in crate::practice) fn arm_by_itself(&mut self, stamp: Frame) {
        self.arm_for(vec![Action::NextStage], true, stamp);
    }

    fn arm_for(&mut self, actions: Vec<Action>, by_itself: bool, stamp: Frame) {
        let from = self.tick_of(stamp);
        let Some(take) = self.take.as_ref() else {
            return;
        };
        if actions.is_empty() {
            return self.rewrite_future(from, stamp);
        }
        let before = take.plan();
        let mut firm_from = Tick(i64::MAX);
        if actions.contains(&Action::NextSection) {
            firm_from = self.take_the_ending_that_goes_on(from).unwrap_or(firm_from);
        }
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let cut = match actions[..] {
            _ if by_itself => round_end(take, from),
            // The last time round is round to the end of what goes round.
            [Action::LastTime] => take.timeline.segment_at(from).map_or(from, |s| s.end()),
            _ => self.section_end(take, from),
        };
        let instead_of = take.cursor_at(cut);
        let armed = Armed {
            what: String::new(),
            actions,
            cut,
            target: instead_of.clone(),
            instead_of,
            before,
            by_itself,
            firm_from,
        };
        self.arm_at(armed, stamp);
    }

    /// Puts what is armed into the plan.
    pub(in crate::practice) fn arm_at(&mut self, mut armed: Armed, stamp: Frame) {
        if armed.actions.is_empty() {
            return self.call_off(armed, stamp);
        }
        if !armed.is_spot() {
            armed.target = armed.instead_of.clone();
            for action in &armed.actions {
                armed.target = self.target_of(*action, &armed.target);
            }
        }
        armed.what = in_words(&armed);
        let playing = self.playing.clone();
        let from = self.tick_of(stamp);
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let cut = armed.cut;
        take.replan(cut, armed.target.clone());
        take.ends = armed.actions.last() == Some(&Action::LastTime);
        take.lead_into(&playing);
        take.armed = Some(armed);
        self.rewrite_future(from, stamp);
        self.announce_armed(cut, from);
    }

    /// Takes what is armed out of the plan again, if it is not about to land. Where the ending that leads on has
    /// begun the plan stays as it is.
    pub(in crate::practice) fn unarm(&mut self, from: Tick) -> Option<Armed> {
        let take = self.take.as_mut()?;
        let armed = take.armed.take()?;
        if armed.cut < from {
            // It lands within the moment that a press takes to have its effect.
            self.land(&armed);
            return None;
        }
        take.announcements.clear();
        take.announced_ahead = None;
        if from < armed.firm_from {
            take.restore(armed.before.clone());
        }
        Some(armed)
    }

    /// Puts what was armed on top of a plan that changed.
    pub(in crate::practice) fn rearm(&mut self, pending: Option<Armed>, stamp: Frame) {
        let from = self.tick_of(stamp);
        let Some(armed) = pending else {
            return self.rewrite_future(from, stamp);
        };
        if from >= armed.firm_from || armed.is_spot() {
            let before = self.take.as_ref().map(TakePlan::plan);
            let before = before.unwrap_or_else(|| armed.before.clone());
            return self.arm_at(Armed { before, ..armed }, stamp);
        }
        self.arm_again(armed, stamp);
    }

    /// What is armed has its moment.
    pub(in crate::practice) fn land(&mut self, armed: &Armed) {
        if let Some(brings) = armed.target.brings {
            self.chart = brings.chart;
            self.tempo = brings.tempo;
        }
    }

    fn call_off(&mut self, armed: Armed, stamp: Frame) {
        let from = self.tick_of(stamp);
        let playing = self.playing.clone();
        if let Some(take) = self.take.as_mut()
            && from >= armed.firm_from
        {
            take.replan(armed.cut, armed.instead_of);
            take.lead_into(&playing);
        }
        self.rewrite_future(from, stamp);
    }

    /// The tick of the take at which an action given on `stamp` takes effect.
    pub(in crate::practice) fn tick_of(&self, stamp: Frame) -> Tick {
        // While the audio server is gone the take stands where it was lost.
        let at = match self.lost {
            Some(_) => self.now,
            None => self.earliest(stamp),
        };
        self.take
            .as_ref()
            .map_or(Tick(0), |take| take.timeline.tick(at))
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
        self.hush_wrong_cues(self.earliest(stamp));
        self.out.push(Effect::Audio(replace));
    }

    /// While a section goes round it takes its first ending; leaving it takes the ending that leads on. Gives
    /// where that ending begins, if it is another.
    fn take_the_ending_that_goes_on(&mut self, from: Tick) -> Option<Tick> {
        let (tempo, playing) = (self.tempo, self.playing.clone());
        let take = self.take.as_mut()?;
        let segment = take.timeline.segment_at(from).cloned()?;
        let (pass, material) = (&segment.pass, &segment.pass.material);
        let Loop::Item(item) = pass.standing.looping else {
            return None;
        };
        let going_on = material.leaving_item(item);
        if going_on == item || !matches!(pass.kind, PassKind::Music(_)) {
            return None;
        }
        // Too late once the bar that sounds is one of the ending's.
        let common = material.bars_in_common(item, going_on);
        if segment.bar_at(from) >= common {
            return None;
        }
        let after = Cursor::pass(material, pass.standing.next(material));
        let leaving = Cursor::pass(material, pass.standing.in_section(going_on));
        take.timeline
            .swap(from, Arc::new(leaving.write(tempo, &playing, false)));
        take.cursor = after;
        Some(segment.bar_start(common))
    }

    /// Calls off what is armed; with nothing armed, loops the section that sounds.
    pub(in crate::practice) fn stay(&mut self, stamp: Frame) {
        if self.take.is_none() {
            return;
        }
        let from = self.tick_of(stamp);
        if let Some(armed) = self.unarm(from) {
            return self.call_off(armed, stamp);
        }
        if !matches!(self.standing.looping, Loop::Item(_)) {
            self.arm_all(vec![Action::StayHere], stamp);
        }
    }
}

/// The end of the pass that sounds at `from`, and of the breath after it.
fn round_end(take: &TakePlan, from: Tick) -> Tick {
    let timeline = &take.timeline;
    // A line that is exactly `from` is still in time.
    let before = timeline
        .segment_at(Tick(from.0 - 1))
        .filter(|segment| segment.end() == from);
    let Some(here) = before.or(timeline.segment_at(from)) else {
        return timeline.end();
    };
    let mut end = here.end();
    while let Some(next) = timeline.segment_at(end) {
        let (standing, next_one) = (&here.pass.standing, &next.pass.standing);
        let goes_on = next_one == standing || next_one.breathing;
        if !goes_on || next.end() <= end {
            break;
        }
        end = next.end();
    }
    end
}

/// What is armed, as the page shows it: the length of the chords by what comes of it, however often it was asked for.
fn in_words(armed: &Armed) -> String {
    let last_length = armed
        .actions
        .iter()
        .rposition(|one| *one == Action::ChordLength);
    let word = |(index, action): (usize, &Action)| match action {
        Action::ChordLength if last_length != Some(index) => None,
        Action::ChordLength => Some(show::chord_length(&armed.target.material)),
        other => Some(other.name().to_string()),
    };
    let words = armed.actions.iter().enumerate().filter_map(word);
    words.collect::<Vec<_>>().join(", ")
}

/// Adds an action to those that are armed. The opposite of the last one takes it back; one that can only be on
/// or off is taken back by itself; a move takes the last time back.
fn add(actions: &mut Vec<Action>, action: Action) {
    use Action::{
        LastTime, ListenBack, NextSection, NextStage, PreviousSection, PreviousStage, WholeForm,
    };
    let last = actions.last().copied();
    let takes_back = match action {
        NextStage => last == Some(PreviousStage),
        PreviousStage => last == Some(NextStage),
        NextSection => last == Some(PreviousSection),
        PreviousSection => last == Some(NextSection),
        WholeForm | ListenBack | LastTime => last == Some(action),
        _ => false,
    };
    if takes_back {
        actions.pop();
        return;
    }
    actions.retain(|armed| *armed != LastTime);
    actions.push(action);
}
