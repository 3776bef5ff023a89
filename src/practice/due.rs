//! What is due when: gestures and the agenda of the take, served in the order of time.

use super::core::Core;
use super::event::{Effect, MusicChange, Recorded};
use super::page::is_grouped;
use super::running::{HeldChord, State};
use super::settings::EDGE_SLACK_MS;
use super::telling::page_record;
use crate::foot::{Action, FootState, Gesture, GestureKind, Menu, Moment};
use crate::plan::agenda::Due;
use crate::plan::landmarks::section_end;
use crate::plan::pass::PassKind;
use crate::plan::steps::PlanStep;
use crate::plan::turns::PageTurn;
use crate::time::{Frame, Tick};

impl Core {
    /// Serves gestures and everything due up to `frame`, in the order of time.
    pub(super) fn run_until(&mut self, frame: Frame) {
        // Gestures are decided a little behind now: an edge that was slow to arrive still counts by its stamp.
        let certain = frame.minus_ms(EDGE_SLACK_MS, self.settings.rate);
        for gesture in self.feet.gestures.until(certain) {
            self.run_take(Frame(gesture.at.0.min(frame.0)));
            self.gesture(gesture);
        }
        self.run_take(frame);
        if self.board.done_is_over(frame) && self.running().is_none() {
            self.refresh();
        }
        // An edge that was slow to arrive may still be the menu's.
        self.leave_idle_menu(certain);
    }

    /// Time goes on; while the audio server is gone it stands still.
    fn advance(&mut self, frame: Frame) {
        if self.board.no_sound.is_none() {
            self.now = Frame(self.now.0.max(frame.0));
        }
    }

    fn run_take(&mut self, frame: Frame) {
        self.advance(frame);
        while self.board.no_sound.is_none() {
            let now = self.now;
            let Some(running) = self.running_mut() else {
                break;
            };
            match running.plan.due(running.plan.tick(now)) {
                Some((at, due)) => self.serve(at, due),
                None => break,
            }
        }
    }

    fn serve(&mut self, at: Tick, due: Due) {
        match due {
            Due::Bar => self.bar_begins(at),
            Due::Step(step) => self.step_begins(at, &step),
            Due::Turn(turn) => self.page_turns(at, turn),
            Due::Count if self.board.menu.is_none() => self.refresh(),
            Due::Count => {}
            Due::Cue(cue) => self.hand_over_cue(*cue),
        }
    }

    fn bar_begins(&mut self, at: Tick) {
        let Some(running) = self.running_mut() else {
            return;
        };
        if running.plan.course.ends && at >= running.plan.timeline().end() {
            return;
        }
        if let Some(landed) = running.armed.take_if(|armed| armed.cut <= at) {
            self.session.take_along(landed.target.brings);
        }
        let State::Playing(running) = &mut self.state else {
            return;
        };
        let session = &self.session;
        running.plan.go_on(at, session.tempo, &session.passes);
        if let Some(more) = running.plan.top_up(at) {
            self.out.push(Effect::Audio(more));
        }
        let Some(segment) = running.plan.segment_at(at) else {
            return;
        };
        let (pass, begins) = (segment.pass.clone(), segment.start() == at);
        let form_bar = pass.lap.bars[segment.bar_at(at)].form_bar;
        // A change of tempo within a pass begins no other.
        let from_top = segment.from_bar == 0;
        if begins && pass.kind != PassKind::CountIn {
            let before = self.session.tempo_here();
            self.session.standing = pass.standing.clone();
            self.session.material = pass.material.clone();
            let tempo = self.session.tempo_here();
            if tempo != before {
                self.record(at, Recorded::Change(MusicChange::Tempo(tempo)));
            }
            // What turns goes on from here, whatever comes between.
            if self.session.stage().turns() {
                self.save();
            }
            self.practised.passes += u32::from(pass.kind != PassKind::Breathe && from_top);
            self.reload_landed();
        }
        self.record(at, Recorded::Bar);
        self.ask_for_bar(at);
        if pass.kind != PassKind::CountIn {
            self.tell_what_begins(at, form_bar);
            if begins {
                self.bind_switches();
            }
        }
    }

    /// New charts have begun to sound.
    fn reload_landed(&mut self) {
        let State::Playing(running) = &mut self.state else {
            return;
        };
        let material = &self.session.material;
        let landed = running
            .reload
            .take_if(|reload| material.comes_from(&reload.material));
        if let Some(brings) = landed.and_then(|reload| reload.brings) {
            self.session.tempo = brings.tempo;
        }
    }

    /// Tells of the section, the key and the stage that begin with a bar.
    fn tell_what_begins(&mut self, at: Tick, form_bar: usize) {
        self.tell_tune(Some(at));
        let session = &mut self.session;
        let form = &session.material.form;
        let item = form.bars[form_bar].item;
        let before = session.sounded_item.replace(item);
        // The going-on ending belongs to another item of the form, but it is the same section.
        let is_top = form.bars[form_bar].bar == 1;
        let goes_on = before.is_some_and(|before| form.section_of(before) == form.section_of(item));
        if before != Some(item) && (is_top || !goes_on) {
            self.record(at, Recorded::Section);
            self.save();
        }
        let material = &self.session.material;
        let (key, title) = (material.key(), material.drill.title.clone());
        let known = std::mem::replace(&mut self.told.key, key);
        if known.is_some() && known != key {
            self.record(at, Recorded::Change(MusicChange::Key(key)));
        }
        let stage = (self.session.standing.stage, title);
        if self.told.stage.as_ref() != Some(&stage) {
            self.told.stage = Some(stage);
            self.record(at, Recorded::Stage);
            self.save();
        }
    }

    fn step_begins(&mut self, at: Tick, step: &PlanStep) {
        let Some(form_chord) = step.form_chord() else {
            return;
        };
        let context = step.pass.context(step.chord.unwrap_or(0));
        let harmony = context.map(|context| context.harmony.clone());
        let Some(running) = self.running_mut() else {
            return;
        };
        let held = (step.pass.kind == PassKind::Held).then_some(HeldChord {
            form_chord,
            since: at,
        });
        // A chord that is struck again is no other.
        let is_held = |before: HeldChord| held.is_some() && before.form_chord == form_chord;
        if running.held.is_some_and(is_held) {
            return;
        }
        running.held = held;
        // A cell of a group is inverted with its chord.
        let is_cell = is_grouped(&running.plan);
        let change = MusicChange::Chord(form_chord, harmony);
        self.record(at, Recorded::Change(change));
        if is_cell {
            self.refresh();
        }
    }

    fn page_turns(&mut self, at: Tick, turn: PageTurn) {
        let Some(running) = self.running_mut() else {
            return;
        };
        running.plan.page.shown = Some(turn);
        // A chord out of time that goes on is the page that stands already.
        let goes_on = running.held.is_some_and(|held| held.since < at);
        self.refresh();
        if !goes_on {
            self.record(at, page_record(&self.view()));
        }
    }

    /// Does what a gesture means.
    pub(super) fn gesture(&mut self, gesture: Gesture) {
        self.advance(gesture.at);
        let from_rest = self.held_from_rest(&gesture);
        let awaited = self.board.menu.as_ref().and_then(Menu::awaits);
        let awaited = awaited.filter(|_| gesture.kind == GestureKind::Press);
        let is_long = gesture.kind == GestureKind::Long;
        let action = awaited.or(from_rest).or_else(|| self.meaning(&gesture));
        let action = self.while_proposed(action, gesture.switch);
        let stamp = match gesture.kind {
            GestureKind::Press => gesture.pressed,
            _ => gesture.at,
        };
        self.record_foot(&gesture, action, stamp);
        // A press leads back from tuning or from the input, or clears a message; it should not also start the band.
        let is_playing = self.running().is_some();
        // But the first press after a start plays, whatever stood there.
        let plays = action == Some(Action::Start) && self.practised.takes == 0;
        // A long press did so with its hold.
        let had_page = !is_long && self.leaves_own_page(action, plays);
        let was_told = !is_long && self.board.clear_message(is_playing);
        if had_page || (was_told && !plays) {
            self.bind_switches();
            return self.refresh();
        }
        if !was_told && self.answers_proposal(action) && !plays {
            return;
        }
        let Some(action) = action else { return };
        if action == Action::Start && self.running().is_none() {
            self.feet.began_by = Some((gesture.switch, gesture.pressed));
        }
        if from_rest.is_some() {
            self.stop(stamp);
            self.practised.last_take = self.practised.take_before;
        }
        if is_long {
            self.leave_menu(stamp);
        }
        match awaited {
            Some(action) => self.press_awaited(action, stamp),
            None => self.act(action, stamp),
        }
    }

    /// What the map says of a gesture.
    fn meaning(&self, gesture: &Gesture) -> Option<Action> {
        let state = match gesture.kind {
            // By then the hold that it began with has opened the menu.
            GestureKind::Long if self.running().is_none() => FootState::Stopped,
            _ => self.foot_state_at(gesture.at),
        };
        let map = &self.settings.map;
        map.lookup(state, gesture.switch, gesture.kind)
    }

    /// The line of a gesture; of a choice it tells what comes of it.
    fn record_foot(&mut self, gesture: &Gesture, action: Option<Action>, stamp: Frame) {
        let menu = self.board.menu.as_ref();
        let told = match (action, menu.and_then(Menu::offers)) {
            (Some(Action::MenuTake), Some(offered)) => Some(offered),
            _ => action,
        };
        let what = Recorded::Foot {
            switch: gesture.switch,
            gesture: gesture.kind,
            action: told.map(|action| {
                let (moment, applied) = (self.moment(action), self.applied(action, stamp));
                (action, moment, applied)
            }),
        };
        self.record_on(stamp, what);
    }

    /// One switch: its press starts at once. Held, it means what it would have meant at rest, whatever has
    /// begun by then.
    fn held_from_rest(&self, gesture: &Gesture) -> Option<Action> {
        let began = self.feet.began_by == Some((gesture.switch, gesture.pressed));
        let is_held = matches!(gesture.kind, GestureKind::Hold | GestureKind::Long);
        let held = began && is_held && self.running().is_some();
        let map = &self.settings.map;
        let at_rest = || map.lookup(FootState::Stopped, gesture.switch, gesture.kind);
        held.then(at_rest).flatten()
    }

    /// When an action takes effect. Out of time there is no section to wait for.
    fn moment(&self, action: Action) -> Moment {
        match action {
            Action::NextStage | Action::PreviousStage if self.is_held() => Moment::Now,
            _ => action.moment(),
        }
    }

    /// The frame on which an action given on `stamp` will take effect.
    fn applied(&self, action: Action, stamp: Frame) -> Frame {
        let earliest = self.earliest(stamp);
        let Some(running) = self.running() else {
            return earliest;
        };
        let plan = &running.plan;
        let from = plan.tick(earliest);
        match self.moment(action) {
            Moment::Now => earliest,
            Moment::NextBar => plan.frame(plan.timeline().bar_line(from)),
            Moment::SectionEnd => plan.frame(section_end(plan.timeline(), from)),
        }
    }
}
