//! What waits for its moment: asked for by foot, shown, called off, put on top of the plan.
//!
//! # Why do two steps add up, and does only the opposite or "stay here" call them off?
//!
//! A second "next stage" is a
//! player who wants two on, and the page shows both. What can only be on or off (whole form, listen back, last time) is
//! called off by itself.

use super::session::Session;
use super::settings::Settings;
use crate::foot::Action;
use crate::plan::course::Course;
use crate::plan::cursor::Cursor;
use crate::time::Tick;

/// Actions that wait for their moment.
#[derive(Debug, Clone)]
pub(super) struct Armed {
    /// One after the other; never empty.
    pub actions: Vec<Action>,
    /// The bar line on which they happen.
    pub cut: Tick,
    /// What would come there without them.
    pub instead_of: Cursor,
    /// What comes there now.
    pub target: Cursor,
    /// The plan without them, to go back to.
    pub before: Course,
    /// Who asked for them.
    pub asked: AskedBy,
    /// From here on there is no way back to that plan: the ending that leads on has begun. `None`: there is always one.
    pub firm_from: Option<Tick>,
    /// The tune's own ending: whether it is over on that bar line. `None`: it has none.
    pub own_ending: Option<bool>,
}

/// Who asked for what is armed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum AskedBy {
    ByFoot,
    /// Nobody: the stage is secure. It is an offer, which gives way to whatever the foot asks for.
    ByItself,
}

impl Armed {
    /// Whether its bars were chosen at the press, not by where the section ends.
    pub fn is_spot(&self) -> bool {
        matches!(
            self.actions[..],
            [Action::ThisSpot | Action::SectionFromHere]
        )
    }

    /// Whether it is the last time round.
    pub fn is_last_time(&self) -> bool {
        self.actions.last() == Some(&Action::LastTime)
    }

    /// Whether the take ends with it: no other tune follows at once.
    pub fn ends_the_take(&self) -> bool {
        let is_over = self.own_ending.unwrap_or(true);
        self.is_last_time() && is_over && self.target.brings.is_none()
    }

    /// Whether there is no way back at `at` to the plan without it.
    pub fn is_firm(&self, at: Tick) -> bool {
        self.firm_from.is_some_and(|from| at >= from)
    }

    /// Works out where the actions lead, one after the other.
    pub fn aim(&mut self, session: &Session, settings: &Settings) {
        if self.is_spot() {
            return;
        }
        // A segue follows where the tune's own ending is over.
        if self.own_ending == Some(false) {
            return;
        }
        let steps = self.actions.iter();
        self.target = steps.fold(self.instead_of.clone(), |base, action| {
            session.target_of(*action, &base, settings)
        });
    }
}

/// Adds an action to those that are armed. The opposite of the last one takes it back; one that can only be on
/// or off is taken back by itself; a move takes the last time back.
pub(super) fn add(actions: &mut Vec<Action>, action: Action) {
    use Action::{
        LastTime, ListenBack, NextChart, NextSection, NextStage, PreviousChart, PreviousSection,
        PreviousStage, ToChart, WholeForm,
    };
    let last = actions.last().copied();
    let takes_back = match action {
        NextStage => last == Some(PreviousStage),
        PreviousStage => last == Some(NextStage),
        NextSection => last == Some(PreviousSection),
        PreviousSection => last == Some(NextSection),
        NextChart => last == Some(PreviousChart),
        PreviousChart => last == Some(NextChart),
        WholeForm | ListenBack | LastTime => last == Some(action),
        _ => false,
    };
    if takes_back {
        actions.pop();
        return;
    }
    actions.retain(|armed| *armed != LastTime);
    // A tune that was chosen gives way to the one that is chosen now.
    if matches!(action, ToChart(_)) {
        actions.retain(|armed| !matches!(armed, NextChart | PreviousChart | ToChart(_)));
    }
    actions.push(action);
}
