//! The one way to change a plan while it plays, and the one way in which a take begins to sound.

use super::armed::Armed;
use super::core::Core;
use super::event::Recorded;
use super::running::{OnTop, Running, State};
use super::session::Session;
use crate::audio::Command;
use crate::plan::cursor::{CountIn, Cursor};
use crate::plan::take::{Begins, TakePlan};
use crate::time::{Frame, Tick};

/// What `change` has to do with.
pub(super) struct Changing<'a> {
    /// The tick from which the change counts.
    pub from: Tick,
    pub running: &'a mut Running,
    pub session: &'a Session,
    /// What was armed, taken out of the plan.
    pub pending: Option<Armed>,
}

/// Who lets a take sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Conductor {
    /// We do, on a frame.
    Ourselves,
    /// A clock outside did on that frame, and the player has the bars.
    Master,
}

impl Core {
    /// Changes the plan while it plays, for what was asked on `stamp`: takes what is armed out, lets `change` do its work,
    /// puts new charts that are on their way in, and what is to be armed on top, works everything out anew and sends it.
    pub(super) fn change(&mut self, stamp: Frame, change: impl FnOnce(Changing<'_>) -> OnTop) {
        let (from, now) = (self.tick_of(stamp), self.tick_now());
        let (State::Playing(running), Some(now)) = (&mut self.state, now) else {
            return;
        };
        // It lands within the moment that a press takes to have its effect.
        if let Some(landed) = running.armed.take_if(|armed| armed.cut < from) {
            self.session.take_along(landed.target.brings);
        }
        let (session, settings) = (&self.session, &self.settings);
        let pending = running.take_out(from);
        let on_top = change(Changing {
            from,
            running,
            session,
            pending,
        });
        running.put_reload(from, session);
        running.put_on(on_top, from, session, settings);
        let plan = &mut running.plan;
        plan.course.extend(now, session.tempo, &session.passes);
        plan.settle();
        let replace = plan.resend(from);
        self.sent.epoch = plan.epoch();
        self.hush_wrong_cues(self.earliest(stamp));
        self.send(replace);
    }

    /// A take begins at `cursor`, its first count on `at`.
    pub(super) fn begin_at(&mut self, cursor: Cursor, at: Frame) {
        let session = &self.session;
        let tempo = session.passes.tempo_of(&cursor.standing, session.tempo);
        let len = |pickup| cursor.count_len(pickup, tempo, &session.passes);
        let counting = match cursor.count_in {
            CountIn::No => Tick(0),
            CountIn::Plain => len(false),
            CountIn::WithPickup => len(true),
        };
        // The first full bar is tick 0.
        let first = Tick(-counting.0);
        let plan = self.plan_from(cursor, at, first);
        self.launch(plan, at, first, Conductor::Ourselves);
    }

    /// Goes on at `cursor` on exactly `at`: the line of ticks goes on at `first`, the frames start anew.
    pub(super) fn jump(&mut self, cursor: Cursor, at: Frame, first: Tick) {
        let plan = self.plan_from(cursor, at, first);
        self.launch(plan, at, first, Conductor::Ourselves);
    }

    /// The plan of a take whose tick `first` sounds on `at`.
    pub(super) fn plan_from(&mut self, cursor: Cursor, at: Frame, first: Tick) -> TakePlan {
        if let Some(running) = self.running() {
            self.sent.epoch = running.plan.epoch();
        }
        let begins = Begins {
            at,
            first,
            tempo: self.session.tempo,
            rate: self.settings.rate,
            epoch: self.sent.epoch,
            names: self.settings.names,
        };
        TakePlan::new(cursor, begins, &self.session.passes)
    }

    /// Lets a take sound: tick `first` of `plan` on frame `at`. A take that plays already goes on with it, and whatever was
    /// armed on the old plan is gone: who wants it again arms it again.
    pub(super) fn launch(
        &mut self,
        mut plan: TakePlan,
        at: Frame,
        first: Tick,
        conductor: Conductor,
    ) {
        let is_new = self.running().is_none() || conductor != Conductor::Ourselves;
        self.heard.cut(at);
        self.practised.takes += 1;
        if conductor == Conductor::Ourselves {
            self.hush_cues(at);
            self.send(Command::Start { at, tick: first });
            let replace = plan.resend(first);
            self.send(replace);
        }
        self.sent.epoch = plan.epoch();
        let mut running = Running::new(plan, self.practised.takes);
        if let Some(before) = self.running_mut() {
            running.reload = before.reload.take();
            running.driven_since = before.driven_since;
        }
        self.state = State::Playing(Box::new(running));
        if is_new {
            (self.board.tuner, self.board.input) = (None, None);
            self.board.menu = None;
            self.readiness.begin_again();
            self.heard.take_begins();
            self.session.sounded_item = None;
            self.told.stage = None;
            self.told.tune = None;
            self.voice.announced = None;
            self.practised.since = self.practised.since.or(Some(at));
            self.practised.take_before = self.practised.last_take;
            self.practised.last_take = Some((at, None));
            self.record(first, Recorded::Take { starts: true });
        }
    }
}
