//! Places in the tune: this spot, the top of the section now or at the next bar, a bar back or on.

use crate::foot::action::Action;
use crate::plan::cursor::{Armed, Cursor};
use crate::plan::pass::PassKind;
use crate::plan::standing::{Loop, Standing};
use crate::plan::take::TakePlan;
use crate::plan::timeline::Segment;
use crate::practice::core::Core;
use crate::time::{Frame, Tick};

/// A bar of the chart, as often as it comes where chords last longer, in the plan where the band plays.
#[derive(Debug, Clone, Copy)]
struct PlannedBar {
    start: Tick,
    end: Tick,
    chart_bar: usize,
}

/// Adds the bars of the chart that a segment plays. A change of tempo parts a pass in two: the bar goes on.
fn add_bars(bars: &mut Vec<PlannedBar>, segment: &Segment) {
    let times = segment.pass.material.chords_last() as usize;
    for (index, bar) in segment.bars() {
        let start = segment.bar_start(index);
        let end = start + bar.meter.bar_ticks();
        match bars.last_mut() {
            Some(last) if bar.form_bar % times != 0 && last.end == start => last.end = end,
            _ => bars.push(PlannedBar {
                start,
                end,
                chart_bar: bar.form_bar / times,
            }),
        }
    }
}

impl Core {
    /// Loops the two bars around now: early in a bar the one before and this one, else this one and the next, in
    /// the order of playing, over the seam of the loop too.
    pub(in crate::practice) fn this_spot(&mut self, stamp: Frame) {
        if self.take.is_none() {
            return;
        }
        let from = self.tick_of(stamp);
        let pending = self.unarm(from);
        let Some(spot) = self.spot_around(from) else {
            return self.rearm(pending, stamp);
        };
        let Some((take, segment)) = self
            .take
            .as_ref()
            .and_then(|take| Some((take, take.timeline.segment_at(from)?)))
        else {
            return;
        };
        let cut = spot.last().map_or(from, |bar| bar.end);
        let standing = Standing {
            looping: Loop::Spot(spot.iter().map(|bar| bar.chart_bar).collect()),
            breathing: false,
            ..segment.pass.standing.clone()
        };
        let armed = Armed {
            what: String::new(),
            actions: vec![Action::ThisSpot],
            cut,
            instead_of: take.cursor_at(cut),
            target: Cursor::pass(&segment.pass.material, standing),
            before: take.plan(),
            by_itself: false,
            firm_from: Tick(i64::MAX),
        };
        self.arm_at(armed, stamp);
    }

    /// The two bars around a tick; one where there is no neighbour to play; `None` where the band does not play.
    fn spot_around(&self, at: Tick) -> Option<Vec<PlannedBar>> {
        let timeline = &self.take.as_ref()?.timeline;
        let here = timeline.segment_at(at)?;
        let mut bars: Vec<PlannedBar> = Vec::new();
        for segment in timeline.segments() {
            let like_here = std::sync::Arc::ptr_eq(&segment.pass.material, &here.pass.material);
            if !like_here || !matches!(segment.pass.kind, PassKind::Music(_)) {
                continue;
            }
            add_bars(&mut bars, segment);
        }
        let index = bars
            .iter()
            .position(|bar| bar.start <= at && at < bar.end)?;
        let bar = bars[index];
        let before = bars[..index].last().filter(|other| other.end == bar.start);
        let after = bars.get(index + 1).filter(|other| other.start == bar.end);
        let early = (at - bar.start).0 * 2 < (bar.end - bar.start).0;
        Some(match (before, after) {
            (Some(before), _) if early => vec![*before, bar],
            (_, Some(after)) => vec![bar, *after],
            (Some(before), None) => vec![*before, bar],
            (None, None) => vec![bar],
        })
    }

    /// The section begins on the press: for rehearsal, where the others are there already. What is armed is
    /// there, too.
    pub(in crate::practice) fn top_now(&mut self, stamp: Frame) {
        let at = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            self.leave_menu_quietly();
            let cursor = self.here();
            return self.launch(cursor, at, Some(Tick(0)));
        };
        let now = take.timeline.tick(at);
        let first = take.timeline.bar_line(Tick(now.0 + 1));
        let armed = take.armed.clone();
        let last_time = armed
            .as_ref()
            .is_some_and(|armed| armed.actions.last() == Some(&Action::LastTime));
        let cursor = match armed {
            Some(armed) if !last_time => {
                self.land(&armed);
                armed.target
            }
            _ => self.top_of_section(),
        };
        self.jump(cursor, at, first);
        if last_time {
            self.arm_all(vec![Action::LastTime], stamp);
        }
    }

    /// The section begins with the next bar: the others play it from there. What is armed comes then, too.
    pub(in crate::practice) fn section_from_here(&mut self, stamp: Frame) {
        if self.take.is_none() || self.is_held() {
            return;
        }
        let from = self.tick_of(stamp);
        let pending = self.unarm(from);
        let target = match pending {
            Some(armed) if armed.actions.last() != Some(&Action::LastTime) => armed.target,
            _ => self.top_of_section(),
        };
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let cut = take.timeline.bar_line(from);
        let armed = Armed {
            what: String::new(),
            actions: vec![Action::SectionFromHere],
            cut,
            instead_of: take.cursor_at(cut),
            target,
            before: take.plan(),
            by_itself: false,
            firm_from: Tick(i64::MAX),
        };
        self.arm_at(armed, stamp);
    }

    fn top_of_section(&self) -> Cursor {
        let mut cursor = self.here();
        if cursor.standing.breathing {
            cursor.standing = cursor.standing.next(&self.material);
        }
        if cursor.standing.looping == Loop::Form {
            let item = self.last_section.map_or(0, |(item, _)| item);
            let bars = cursor.standing.form_bars(&self.material);
            let of_item = |bar: &usize| self.material.form.bars[*bar].item == item;
            cursor.from_bar = bars.iter().position(of_item).unwrap_or(0);
        }
        cursor
    }

    /// Goes on at `cursor` on exactly `at`: the line of ticks goes on, the frames start anew.
    pub(in crate::practice) fn jump(&mut self, cursor: Cursor, at: Frame, first: Tick) {
        self.epoch = self.take.as_ref().map_or(self.epoch, TakePlan::epoch);
        self.launch(cursor, at, Some(first));
    }

    /// At the next bar line goes on `by` bars after the bar that sounds now (0: it comes again). What is armed
    /// comes at the section's end as before, a bar later or sooner.
    pub(in crate::practice) fn shift_bar(&mut self, stamp: Frame, by: usize) {
        if self.take.is_none() {
            return;
        }
        let from = self.tick_of(stamp);
        let pending = self.unarm(from);
        self.shift_plan(from, by);
        self.plan_reload(from);
        match pending.filter(|armed| !armed.is_spot()) {
            Some(armed) => self.arm_again(armed, stamp),
            None => self.rewrite_future(from, stamp),
        }
    }

    fn shift_plan(&mut self, from: Tick, by: usize) {
        let (playing, tempo) = (self.playing.clone(), self.tempo);
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let Some(segment) = take.timeline.segment_at(from) else {
            return;
        };
        let PassKind::Music(_) = segment.pass.kind else {
            return;
        };
        let pass = &segment.pass;
        let next = segment.bar_at(from) + by;
        let bars = pass.standing.form_bars(&pass.material).len();
        let cursor = Cursor::pass(&pass.material, pass.standing.clone());
        let target = match next.checked_sub(bars) {
            None => Cursor {
                from_bar: next,
                ..cursor
            },
            Some(beyond) => Cursor {
                from_bar: beyond,
                ..Cursor::pass(&pass.material, pass.standing.next(&pass.material))
            },
        };
        let cut = take.timeline.bar_line(Tick(from.0 + 1));
        take.replan(cut, target);
        take.lead_into(&playing);
        take.extend(from, tempo, &playing);
    }
}
