//! The take that plays: its plan, what is armed on top of it, and what is on its way into it.
//!
//! The plan without what is armed is kept beside it. Whatever else changes the plan meanwhile (a tempo, a muted part, a bar
//! back, new charts) changes that one, and what is armed is put on top again; so nothing that is armed gets lost, and
//! calling it off is as if it had never been.

use super::armed::{Armed, AskedBy};
use super::brought::Reload;
use super::session::Session;
use super::settings::Settings;
use crate::foot::Action;
use crate::judging::Finding;
use crate::plan::cursor::Cursor;
use crate::plan::landmarks::{round_end, section_end};
use crate::plan::take::TakePlan;
use crate::time::{Frame, Tick};

/// Whether a take plays.
#[derive(Debug)]
pub(super) enum State {
    Rest {
        /// The bar of the section in which the last take was stopped.
        paused_bar: Option<u32>,
    },
    Playing(Box<Running>),
}

/// A chord that is held out of time.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeldChord {
    /// Its index in the form.
    pub form_chord: usize,
    /// Where it was first struck.
    pub since: Tick,
}

/// The take that plays.
#[derive(Debug)]
pub(super) struct Running {
    pub plan: TakePlan,
    /// What waits for its moment.
    pub armed: Option<Armed>,
    /// New charts on their way to the section's end.
    pub reload: Option<Reload>,
    /// Which take it is, jumps counted: times of one say nothing in another.
    pub number: u32,
    /// The chord that is held out of time.
    pub held: Option<HeldChord>,
    /// What is found of a chord out of time.
    pub finding: Finding,
    /// A clock from outside drives it since this frame.
    pub driven_since: Option<Frame>,
}

/// What is to come on top of a plan that has changed.
#[derive(Debug)]
pub(super) enum OnTop {
    Nothing,
    /// These actions, at the end of the section or of the round.
    Actions(Vec<Action>, AskedBy),
    /// What was armed, on its own line.
    At(Box<Armed>),
}

impl OnTop {
    /// What was armed before, where it belongs in the plan as it is now.
    pub fn again(pending: Option<Armed>) -> OnTop {
        pending.map_or(OnTop::Nothing, |armed| {
            OnTop::Actions(armed.actions, armed.asked)
        })
    }
}

impl Running {
    /// A take that has just begun.
    pub fn new(plan: TakePlan, number: u32) -> Running {
        Running {
            plan,
            armed: None,
            reload: None,
            number,
            held: None,
            finding: Finding::default(),
            driven_since: None,
        }
    }

    /// Takes what is armed out of the plan again. Where the ending that leads on has begun the plan stays as it is.
    pub fn take_out(&mut self, from: Tick) -> Option<Armed> {
        let armed = self.armed.take()?;
        if !armed.is_firm(from) {
            self.plan.course = armed.before.clone();
            self.plan.course.ends = false;
        }
        Some(armed)
    }

    /// Calls off what was taken out.
    pub fn call_off(&mut self, armed: Armed, from: Tick, session: &Session) {
        if armed.is_firm(from) {
            let course = &mut self.plan.course;
            course.lead_to(armed.cut, armed.instead_of, &session.passes);
        }
    }

    /// What was armed before comes on top of a plan that changed: where it was if it is firm or a spot, else where it
    /// belongs now.
    pub fn as_before(&self, pending: Option<Armed>, from: Tick) -> OnTop {
        match pending {
            Some(armed) if armed.is_firm(from) || armed.is_spot() => {
                let before = self.plan.course.clone();
                OnTop::At(Box::new(Armed { before, ..armed }))
            }
            pending => OnTop::again(pending),
        }
    }

    /// A spot or a section from here, which comes at `cut`.
    pub fn spot(&self, action: Action, cut: Tick, target: Cursor) -> OnTop {
        OnTop::At(Box::new(Armed {
            actions: vec![action],
            cut,
            instead_of: self.plan.course.cursor_at(cut),
            target,
            before: self.plan.course.clone(),
            asked: AskedBy::ByFoot,
            firm_from: None,
            own_ending: None,
        }))
    }

    /// Puts new material that is on its way into the plan, where the section ends.
    pub fn put_reload(&mut self, from: Tick, session: &Session) {
        let Some(reload) = &self.reload else { return };
        let course = &mut self.plan.course;
        let cut = section_end(&course.timeline, from);
        let here = course.cursor_at(cut);
        let standing = reload.fit(&here.standing, &here.material);
        let cursor = Cursor {
            brings: reload.brings,
            ..Cursor::pass(&reload.material, standing)
        };
        course.lead_to(cut, cursor, &session.passes);
    }

    /// Puts on top of the plan what is to be armed.
    pub fn put_on(&mut self, on_top: OnTop, from: Tick, session: &Session, settings: &Settings) {
        match on_top {
            OnTop::Nothing => {}
            OnTop::Actions(actions, _) if actions.is_empty() => {}
            OnTop::Actions(actions, asked) => {
                let armed = self.aimed(actions, asked, from, session);
                self.arm(armed, session, settings);
            }
            OnTop::At(armed) if armed.actions.is_empty() => self.call_off(*armed, from, session),
            OnTop::At(armed) => self.arm(*armed, session, settings),
        }
    }

    /// Actions that come at the end of the section or of the round; the section then takes the ending that leads on.
    fn aimed(
        &mut self,
        actions: Vec<Action>,
        asked: AskedBy,
        from: Tick,
        session: &Session,
    ) -> Armed {
        let course = &mut self.plan.course;
        let before = course.clone();
        let firm_from = match actions.contains(&Action::NextSection) {
            true => course.take_the_ending_that_goes_on(from, session.tempo, &session.passes),
            false => None,
        };
        if let [Action::LastTime] = actions[..]
            && let Some(ending) = course.take_the_last_time(from, &session.passes)
        {
            return Armed {
                actions,
                cut: ending.cut,
                target: ending.next.clone(),
                instead_of: ending.next,
                before,
                asked,
                firm_from: ending.firm_from,
                own_ending: Some(ending.ends),
            };
        }
        let line = &course.timeline;
        let cut = match (asked, &actions[..]) {
            (AskedBy::ByItself, _) => round_end(line, from),
            // The last time round is round to the end of what goes round.
            (_, [Action::LastTime]) => line.segment_at(from).map_or(from, |s| s.end()),
            _ => section_end(line, from),
        };
        let instead_of = course.cursor_at(cut);
        Armed {
            actions,
            cut,
            target: instead_of.clone(),
            instead_of,
            before,
            asked,
            firm_from,
            own_ending: None,
        }
    }

    fn arm(&mut self, mut armed: Armed, session: &Session, settings: &Settings) {
        armed.aim(session, settings);
        let then = armed
            .is_last_time()
            .then(|| session.segue_from(&armed.instead_of, settings));
        let course = &mut self.plan.course;
        course.replan(armed.cut, armed.target.clone());
        course.ends = armed.ends_the_take();
        course.then = then.flatten();
        course.lead_on(&session.passes);
        self.armed = Some(armed);
    }
}
