//! What is due when: gestures and the agenda of the take, served in the order of time.

use crate::foot::{Action, FootState, Gesture, GestureKind};
use crate::plan::material::Material;
use crate::plan::pass::PassKind;
use crate::plan::take::Due;
use crate::practice::core::{Core, EDGE_SLACK_MS, HeldChord};
use crate::practice::event::{Effect, Recorded};
use crate::practice::show;
use crate::time::{Frame, Tick};

impl Core {
    /// Serves gestures and everything due up to `frame`, in the order of time.
    pub(in crate::practice) fn run_until(&mut self, frame: Frame) {
        // Gestures are decided a little behind now: an edge that was slow to arrive still counts by its stamp.
        let certain = frame.minus_ms(EDGE_SLACK_MS, self.settings.rate);
        for gesture in self.gestures.until(certain) {
            self.run_take(Frame(gesture.at.0.min(frame.0)));
            self.gesture(gesture);
        }
        self.run_take(frame);
        if self
            .menu
            .as_ref()
            .is_some_and(|menu| menu.is_idle(frame, self.settings.rate))
        {
            self.menu = None;
            self.bind_switches();
            self.refresh();
        }
    }

    /// Time goes on; while the audio server is gone it stands still.
    fn advance(&mut self, frame: Frame) {
        if self.lost.is_none() {
            self.now = Frame(self.now.0.max(frame.0));
        }
    }

    fn run_take(&mut self, frame: Frame) {
        self.advance(frame);
        while let Some(take) = self.take.as_mut().filter(|_| self.lost.is_none()) {
            let now = take.timeline.tick(self.now);
            match take.due(now) {
                Some((at, due)) => self.serve(at, due),
                None => break,
            }
        }
    }

    fn serve(&mut self, at: Tick, due: Due) {
        match due {
            Due::Bar => self.bar_begins(at),
            Due::Step(index) => self.step_begins(at, index),
            Due::PageTurn(index) => self.page_turns(at, index),
            Due::Count => self.refresh_at_count(),
            Due::Cue(index) => self.hand_over_cue(index),
        }
    }

    fn bar_begins(&mut self, at: Tick) {
        let Some(take) = self.take.as_mut() else {
            return;
        };
        if take.ends && at >= take.timeline.end() {
            return;
        }
        if let Some(armed) = take.armed.take_if(|armed| armed.cut <= at) {
            self.land(&armed);
        }
        let Some(take) = self.take.as_mut() else {
            return;
        };
        take.forget_before(at);
        if take.extend(at, self.tempo, &self.playing) {
            take.settle();
        }
        self.announce_coming_stage(at);
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let commands: Vec<_> = take.top_up(at, &mut self.bar_ids).into_iter().collect();
        self.out.extend(commands.into_iter().map(Effect::Audio));
        let Some(segment) = self
            .take
            .as_ref()
            .and_then(|take| take.timeline.segment_at(at))
        else {
            return;
        };
        let pass = segment.pass.clone();
        let form_bar = pass.lap.bars[segment.bar_at(at)].form_bar;
        let begins = segment.start() == at;
        // A change of tempo within a pass begins no other.
        let from_top = segment.from_bar == 0;
        if begins && pass.kind != PassKind::CountIn {
            self.standing = pass.standing.clone();
            self.material = pass.material.clone();
            self.passes_begun += u32::from(pass.kind != PassKind::Breathe && from_top);
            self.reload_landed();
        }
        self.record(at, Recorded::Bar);
        self.ask_for_bar(at);
        if pass.kind == PassKind::CountIn {
            return;
        }
        let stage = (pass.standing.stage, self.material.drill.title.clone());
        let item = (form_bar_item(&self.material, form_bar), pass.standing.stage);
        let before = self.last_section.replace(item).map(|(item, _)| item);
        let section = |item: usize| self.material.form.section_of(item);
        // The going-on ending belongs to another item of the form, but it is the same section.
        let is_top = self.material.form.bars[form_bar].bar == 1;
        let goes_on = before.is_some_and(|before| section(before) == section(item.0));
        if before != Some(item.0) && (is_top || !goes_on) {
            self.record(at, Recorded::Section);
            self.save();
        }
        let key = pass.material.key().map(|key| key.to_string());
        let known = std::mem::replace(&mut self.last_key, key.clone());
        if known.is_some() && known != key {
            self.record(
                at,
                Recorded::Change {
                    what: "key",
                    index: None,
                    value: key.unwrap_or_default(),
                },
            );
        }
        if self.last_stage.as_ref() != Some(&stage) {
            self.last_stage = Some(stage);
            self.record(at, Recorded::Stage);
            self.save();
        }
        if begins {
            self.bind_switches();
        }
    }

    fn step_begins(&mut self, at: Tick, index: usize) {
        let Some(step) = self.take.as_ref().and_then(|take| take.steps.get(index)) else {
            return;
        };
        let Some(form_chord) = step.form_chord() else {
            return;
        };
        let is_held = step.pass.kind == PassKind::Held;
        let value = step
            .pass
            .context(step.chord.unwrap_or(0))
            .map(|context| context.harmony.to_string())
            .unwrap_or_default();
        // A chord that is struck again is no other.
        let held = is_held.then_some(HeldChord {
            take: self.takes,
            form_chord,
            since: at,
        });
        let goes_on = |before: HeldChord| {
            held.is_some_and(|held| (before.take, before.form_chord) == (held.take, form_chord))
        };
        if self.last_held.is_some_and(goes_on) {
            return;
        }
        self.last_held = held;
        self.record(
            at,
            Recorded::Change {
                what: "chord",
                index: Some(form_chord),
                value,
            },
        );
        // A cell of a group is inverted with its chord.
        if show::is_grouped(self) {
            self.refresh();
        }
    }

    fn page_turns(&mut self, at: Tick, index: usize) {
        let Some(take) = self.take.as_mut() else {
            return;
        };
        take.shown = take.turns.get(index).copied();
        // A chord out of time that goes on is the page that stands already.
        let goes_on = self
            .last_held
            .is_some_and(|held| held.take == self.takes && held.since < at);
        self.refresh();
        if !goes_on {
            self.record_page(at);
        }
    }

    fn refresh_at_count(&mut self) {
        if self.message.is_none() && self.menu.is_none() {
            self.refresh();
        }
    }

    pub(in crate::practice) fn gesture(&mut self, gesture: Gesture) {
        self.advance(gesture.at);
        let from_rest = self.held_from_rest(&gesture);
        let state = self.foot_state_at(gesture.at);
        let map = &self.settings.map;
        let action = from_rest.or_else(|| map.lookup(state, gesture.switch, gesture.kind));
        let stamp = if gesture.kind == GestureKind::Press {
            gesture.pressed
        } else {
            gesture.at
        };
        let applied = action.map(|action| self.applied(action, stamp));
        let what = Recorded::Foot {
            switch: gesture.switch,
            gesture: gesture.kind.name(),
            action: action
                .map(|action| action.name().to_string())
                .unwrap_or_default(),
            moment: action.map_or("", |action| self.moment(action).name()),
            applied: applied.flatten(),
        };
        self.record_on(stamp, what);
        if self.is_tuning() && action != Some(Action::Tune) {
            // A press leads back from tuning; it should not also start the band.
            self.tuning = None;
            self.refresh();
            return;
        }
        if self.message.take().is_some() {
            // A press first clears a message; it should not also start the band.
            self.refresh();
            return;
        }
        if let Some(action) = action {
            if action == Action::Start && self.take.is_none() {
                self.began_by = Some((gesture.switch, gesture.pressed));
            }
            if from_rest.is_some() {
                self.stop(stamp);
            }
            self.act(action, stamp);
        }
    }

    /// One switch: its press starts at once. Held on, it means what it would have meant at rest, whatever has
    /// begun by then.
    fn held_from_rest(&self, gesture: &Gesture) -> Option<Action> {
        let began = self.began_by == Some((gesture.switch, gesture.pressed));
        let held = began && gesture.kind == GestureKind::Hold && self.take.is_some();
        let at_rest = || {
            let map = &self.settings.map;
            map.lookup(FootState::Stopped, gesture.switch, gesture.kind)
        };
        held.then(at_rest).flatten()
    }

    /// Tells the gesture engine which gestures the present state uses.
    pub(in crate::practice) fn bind_switches(&mut self) {
        let state = self.foot_state();
        for switch in 1..=self.settings.switches.len() as u8 {
            let kinds = self.settings.map.kinds(state, switch);
            self.gestures.set_uses(switch, kinds);
        }
    }

    pub(in crate::practice) fn foot_state_at(&self, frame: Frame) -> FootState {
        if self.menu.is_some() {
            return FootState::Menu;
        }
        match self.take.as_ref().map(|take| take.timeline.tick(frame)) {
            None => FootState::Stopped,
            Some(now) => {
                let timeline = self.take.as_ref().map(|take| &take.timeline);
                // A take that begins in a moment counts as begun.
                let segment = timeline.and_then(|timeline| {
                    let first = timeline
                        .segments()
                        .next()
                        .filter(|first| now < first.start());
                    first.or_else(|| timeline.segment_at(now))
                });
                match segment {
                    Some(segment) if segment.pass.kind == PassKind::CountIn => {
                        FootState::CountingIn
                    }
                    _ => FootState::Playing,
                }
            }
        }
    }
}

fn form_bar_item(material: &Material, form_bar: usize) -> usize {
    material.form.bars.get(form_bar).map_or(0, |bar| bar.item)
}
