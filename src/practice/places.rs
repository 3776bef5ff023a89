//! Places in the tune: this spot, the top of the section now or at the next bar, a bar back or on, the next chord out of
//! time.

use super::armed::AskedBy;
use super::core::Core;
use super::running::OnTop;
use crate::drill::Phase;
use crate::foot::Action;
use crate::plan::cursor::{CountIn, Cursor};
use crate::plan::landmarks::spot_around;
use crate::plan::{Loop, Standing};
use crate::time::{Frame, Tick};

impl Core {
    /// Loops the two bars around now: early in a bar the one before and this one, else this one and the next, in
    /// the order of playing, over the seam of the loop too.
    pub(super) fn this_spot(&mut self, stamp: Frame) {
        self.change(stamp, |change| {
            let (from, running) = (change.from, change.running);
            let line = running.plan.timeline();
            let spot = spot_around(line, from).and_then(|bars| {
                let pass = &line.segment_at(from)?.pass;
                let spot: Vec<usize> = bars.iter().map(|bar| bar.chart_bar).collect();
                let standing = Standing {
                    looping: Loop::Spot(spot.clone()),
                    spot: Some(spot),
                    breathing: false,
                    ..pass.standing.clone()
                };
                Some((bars.last()?.end, Cursor::pass(&pass.material, standing)))
            });
            match spot {
                Some((cut, target)) => running.spot(Action::ThisSpot, cut, target),
                None => running.as_before(change.pending, from),
            }
        });
    }

    /// The section begins on the press: for rehearsal, where the others are there already. What is armed is
    /// there, too.
    pub(super) fn top_now(&mut self, stamp: Frame) {
        let at = self.earliest(stamp);
        let Some(running) = self.running_mut() else {
            self.board.menu = None;
            let here = self.session.here();
            return self.jump(here, at, Tick(0));
        };
        let plan = &running.plan;
        let first = plan.timeline().bar_line(Tick(plan.tick(at).0 + 1));
        match running.armed.take() {
            Some(armed) if armed.is_last_time() => {
                self.jump(self.session.top_of_section(), at, first);
                let again = vec![Action::LastTime];
                self.change(stamp, |_| OnTop::Actions(again, AskedBy::ByFoot));
            }
            Some(armed) => {
                self.session.take_along(armed.target.brings);
                self.jump(armed.target, at, first);
            }
            None => self.jump(self.session.top_of_section(), at, first),
        }
    }

    /// The section begins with the next bar: the others play it from there. What is armed comes then, too.
    pub(super) fn section_from_here(&mut self, stamp: Frame) {
        if self.is_held() {
            return;
        }
        self.change(stamp, |change| {
            let target = match change.pending {
                Some(armed) if !armed.is_last_time() => armed.target,
                _ => change.session.top_of_section(),
            };
            let cut = change.running.plan.timeline().bar_line(change.from);
            change.running.spot(Action::SectionFromHere, cut, target)
        });
    }

    /// At the next bar line goes on `by` bars after the bar that sounds now (0: it comes again). What is armed
    /// comes at the section's end as before, a bar later or sooner.
    pub(super) fn shift_bar(&mut self, stamp: Frame, by: usize) {
        self.change(stamp, |change| {
            let (session, course) = (change.session, &mut change.running.plan.course);
            course.shift(change.from, by, &session.passes);
            course.extend(change.from, session.tempo, &session.passes);
            OnTop::again(change.pending.filter(|armed| !armed.is_spot()))
        });
    }

    /// What the player is asked to do in the pass that sounds, or that comes first.
    pub fn phase(&self) -> Phase {
        let session = &self.session;
        session.standing.phase(&session.material)
    }

    /// How many chords the stage holds out of time, one after the other; none where it is in time.
    pub fn held_chords(&self) -> usize {
        match self.session.stage().pulse {
            true => 0,
            false => self.session.held_chords(),
        }
    }

    /// Whether a chord is held out of time, and another one comes after it.
    pub fn holds_another(&self) -> bool {
        let standing = &self.session.standing;
        self.is_held() && standing.held + 1 < self.session.held_chords()
    }

    /// The next held chord, or the one before; after the last one the next stage, counted in.
    pub(super) fn next_held(&mut self, action: Action, stamp: Frame) {
        let at = self.earliest(stamp);
        let Some(running) = self.running_mut() else {
            return;
        };
        let armed = running.armed.take();
        let plan = &running.plan;
        let first = plan.timeline().bar_line(Tick(plan.tick(at).0 + 1));
        let session = &mut self.session;
        let chords = session.held_chords();
        let (here, back) = (session.standing.held, action == Action::PreviousStage);
        let held = if back {
            here.checked_sub(1)
        } else {
            Some(here + 1)
        };
        let cursor = match held.filter(|held| *held < chords) {
            Some(held) => {
                session.standing.held = held;
                session.here()
            }
            None => {
                let steps = if back { -1 } else { 1 };
                let mut standing = session.standing.with_stage(&session.material, steps);
                if standing.stage == session.standing.stage && !back {
                    // The last stage goes round its chords.
                    standing.held = 0;
                }
                let count_in = match standing.stage_of(&session.material).pulse {
                    true => CountIn::Plain,
                    false => CountIn::No,
                };
                Cursor {
                    count_in,
                    ..Cursor::pass(&session.material, standing)
                }
            }
        };
        let is_stage = held.is_none_or(|held| held >= chords);
        self.jump(cursor, at, first);
        if is_stage {
            self.voice.announced = None;
        }
        self.name_held();
        // What is armed (a section, a key) is not lost with the chord.
        if armed.is_some() {
            self.change(stamp, |_| OnTop::again(armed));
        }
    }
}
