//! What is due when, in the order of time. It holds what is due itself, so that a list that changes meanwhile cannot make
//! it mean something else.

use super::cues::PlannedCue;
use super::steps::PlanStep;
use super::turns::PageTurn;
use crate::time::Tick;
use std::collections::VecDeque;

/// Something that is due at a tick.
#[derive(Debug, Clone)]
pub enum Due {
    /// A bar begins.
    Bar,
    /// A chord begins, or a stretch without one. By reference, for most of what is due is small.
    Step(Box<PlanStep>),
    Turn(PageTurn),
    /// A count begins, the first of a bar too.
    Count,
    /// A cue is to be handed over.
    Cue(Box<PlannedCue>),
}

impl Due {
    /// The order in which equal ticks are served.
    fn rank(&self) -> u8 {
        match self {
            Due::Bar => 0,
            Due::Step(_) => 1,
            Due::Turn(_) => 2,
            Due::Count => 3,
            Due::Cue(_) => 4,
        }
    }
}

/// What is due, and up to where everything is done.
#[derive(Debug, Clone)]
pub struct Agenda {
    items: VecDeque<(Tick, Due)>,
    done: Tick,
    /// A tick of which not everything is served yet, and the rank of what was served of it last.
    under_way: Option<(Tick, u8)>,
}

impl Agenda {
    /// Everything before `first` is done.
    pub fn from(first: Tick) -> Agenda {
        Agenda {
            items: VecDeque::new(),
            done: Tick(first.0 - 1),
            under_way: None,
        }
    }

    /// Everything due at or before this tick is done.
    pub fn done(&self) -> Tick {
        self.done
    }

    /// Takes `items` in the place of what was due; what was served is left out, also of the tick that is under way, `overdue`
    /// comes at once.
    pub fn renew(&mut self, items: Vec<(Tick, Due)>, overdue: Vec<Due>) {
        self.items = VecDeque::from(items);
        let (done, under_way) = (self.done, self.under_way);
        let is_served = |at: Tick, due: &Due| {
            let in_tick = |(tick, rank): (Tick, u8)| at == tick && due.rank() <= rank;
            at <= done || under_way.is_some_and(in_tick)
        };
        self.items.retain(|(at, due)| !is_served(*at, due));
        self.add_overdue(overdue);
    }

    /// What should have been served by now comes at once.
    pub fn add_overdue(&mut self, overdue: Vec<Due>) {
        let at = Tick(self.done.0 + 1);
        for due in overdue.into_iter().rev() {
            self.items.push_front((at, due));
        }
        // A stable sort: equal ones stay in the order of playing.
        let order = |(at, due): &(Tick, Due)| (*at, due.rank());
        self.items.make_contiguous().sort_by_key(order);
    }

    /// When the next thing is due.
    pub fn next_at(&self) -> Option<Tick> {
        self.items.front().map(|(at, _)| *at)
    }

    /// The next thing due at or before `now`, taken off.
    pub fn next(&mut self, now: Tick) -> Option<(Tick, Due)> {
        let (at, due) = self.items.pop_front_if(|(at, _)| *at <= now)?;
        // All of one tick is served before the tick counts as done.
        self.under_way = Some((at, due.rank()));
        if self.items.front().is_none_or(|(next, _)| *next > at) {
            self.done = at;
            self.under_way = None;
        }
        Some((at, due))
    }
}
