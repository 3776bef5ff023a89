//! The plan of a take: its course, everything that is read off it, and what the player has of it.

use super::agenda::{Agenda, Due};
use super::course::Course;
use super::cue_plan::CuePlan;
use super::cues::{CuePlanner, PlannedCue};
use super::cursor::Cursor;
use super::missed::Missed;
use super::page_plan::PagePlan;
use super::pass::PassSettings;
use super::steps::{self, PlanStep};
use super::timeline::{Segment, Timeline};
use crate::audio::{Command, REPLACE_BARS};
use crate::drill::Names;
use crate::speech::PhraseSet;
use crate::time::{Anchor, Frame, Tick, UsPerQuarter};
use arrayvec::ArrayVec;

/// Bars that the player holds ahead of the one that sounds.
const BARS_AHEAD: usize = 3;

/// How a take begins.
#[derive(Debug, Clone, Copy)]
pub struct Begins {
    /// The frame of its first tick.
    pub at: Frame,
    /// Its first tick.
    pub first: Tick,
    pub tempo: UsPerQuarter,
    /// Frames a second.
    pub rate: u32,
    /// The epoch of the bars before it.
    pub epoch: u32,
    /// How notes are named.
    pub names: Names,
}

/// The plan of a take that plays.
#[derive(Debug)]
pub struct TakePlan {
    /// What comes. Whoever changes it settles the plan afterwards ([`TakePlan::settle`]) and sends what changed
    /// ([`TakePlan::resend`]).
    pub course: Course,
    steps: Vec<PlanStep>,
    /// What the page shows.
    pub page: PagePlan,
    pub cues: CuePlan,
    agenda: Agenda,
    sent_until: Tick,
    /// Notes before this tick stay as the player has them.
    kept_until: Tick,
    epoch: u32,
    rate: u32,
    /// The frame of the first tick: times count from here, so that rounding is the same in every take.
    origin: Frame,
    names: Names,
}

impl TakePlan {
    /// A take that begins so, planned far enough ahead.
    pub fn new(cursor: Cursor, begins: Begins, settings: &PassSettings) -> TakePlan {
        let Begins { at, first, .. } = begins;
        let anchor = Anchor::new(first, at, begins.tempo, begins.rate);
        let mut take = TakePlan {
            course: Course::new(cursor, anchor),
            steps: Vec::new(),
            page: PagePlan::default(),
            cues: CuePlan::default(),
            agenda: Agenda::from(first),
            sent_until: first,
            kept_until: first,
            epoch: begins.epoch,
            rate: begins.rate,
            origin: at,
            names: begins.names,
        };
        take.course.extend(first, begins.tempo, settings);
        take.settle();
        take
    }

    /// It begins on `at`: what was planned ahead of that counts from there.
    pub fn begin_at(&mut self, at: Frame) {
        self.origin = at;
        self.settle();
    }

    /// Notes are named otherwise from now on; settle the plan afterwards.
    pub fn set_names(&mut self, names: Names) {
        self.names = names;
    }

    /// The epoch of the newest bars.
    pub fn epoch(&self) -> u32 {
        self.epoch
    }

    /// The passes on their line of ticks.
    pub fn timeline(&self) -> &Timeline {
        &self.course.timeline
    }

    /// The frame on which a tick sounds.
    pub fn frame(&self, tick: Tick) -> Frame {
        self.course.timeline.frame(tick)
    }

    /// The last tick that sounds on or before a frame.
    pub fn tick(&self, frame: Frame) -> Tick {
        self.course.timeline.tick(frame)
    }

    /// The segment that a tick lies in.
    pub fn segment_at(&self, tick: Tick) -> Option<&Segment> {
        self.course.timeline.segment_at(tick)
    }

    /// Chords, and stretches without one, in the order of playing.
    pub fn steps(&self) -> &[PlanStep] {
        &self.steps
    }

    /// The step that sounds at a tick.
    pub fn step_at(&self, tick: Tick) -> Option<&PlanStep> {
        let sounds = |step: &&PlanStep| step.start <= tick && tick < step.end;
        self.steps.iter().find(sounds)
    }

    /// The first step after a tick.
    pub fn step_after(&self, tick: Tick) -> Option<&PlanStep> {
        self.steps.iter().find(|step| step.start > tick)
    }

    /// The steps of a unit of the page.
    pub fn steps_of(&self, unit: usize) -> &[PlanStep] {
        let unit = self.page.units.get(unit);
        unit.map_or(&[], |unit| &self.steps[unit.first..unit.after])
    }

    /// Works out steps, page turns, cues and the agenda anew from the course.
    pub fn settle(&mut self) {
        let done = self.agenda.done();
        let (timeline, origin, rate) = (&self.course.timeline, self.origin, self.rate);
        let ms = |tick: Tick| ms_of(timeline, origin, rate, tick);
        let counts = steps::counts(timeline);
        self.steps = steps::steps(timeline);
        let turn = self.page.renew(&self.steps, &counts, done, &ms);
        let planner = CuePlanner::new(&self.steps, &counts, &ms);
        let ends = self.course.ends.then(|| (done, timeline.end()));
        self.cues.renew(&planner, self.names, ends);
        let bars = timeline.bar_lines().map(|bar| (bar, Due::Bar));
        // As long as the plan can be, a vector that grows by doubling is a burden.
        let most = 3 * counts.len() + self.steps.len() + self.page.turns.len();
        let mut items: Vec<(Tick, Due)> = Vec::with_capacity(most);
        items.extend(bars);
        let steps = self.steps.iter();
        items.extend(steps.map(|step| (step.start, Due::Step(Box::new(step.clone())))));
        let turns = self.page.turns.iter();
        items.extend(turns.map(|turn| (turn.at, Due::Turn(*turn))));
        items.extend(counts.iter().map(|count| (*count, Due::Count)));
        let marks = self.page.marks(&self.steps, &counts).into_iter();
        items.extend(marks.map(|mark| (mark, Due::Count)));
        let cues = self.cues.waiting();
        items.extend(cues.map(|cue| (cue.hand_over, Due::Cue(Box::new(cue.clone())))));
        let mut overdue = self.cues.late_calls(done);
        overdue.extend(turn.map(Due::Turn));
        self.agenda.renew(items, overdue);
    }

    /// The frame from which on the next thing is due.
    pub fn next_due(&self) -> Option<Frame> {
        self.agenda.next_at().map(|at| self.frame(at))
    }

    /// The next thing due at or before `now`, taken off the agenda.
    pub fn due(&mut self, now: Tick) -> Option<(Tick, Due)> {
        let (at, due) = self.agenda.next(now)?;
        if let Due::Cue(cue) = &due {
            self.cues.handed_over(cue);
        }
        Some((at, due))
    }

    /// Drops what is over, and lets the plan reach far enough beyond `now`.
    pub fn go_on(&mut self, now: Tick, tempo: UsPerQuarter, settings: &PassSettings) {
        self.course.timeline.forget_before(now);
        self.cues.forget_before(now);
        if self.course.extend(now, tempo, settings) {
            self.settle();
        }
    }

    /// An announcement anywhere in `from..to`, clear of places; `None` where there is no room.
    pub fn announcement(&self, phrases: PhraseSet, from: Tick, to: Tick) -> Option<PlannedCue> {
        self.with_planner(|planner| planner.announcement(phrases, from, to))
    }

    /// The last but `back` of the counts before a tick.
    pub fn count_before(&self, before: Tick, back: usize) -> Option<Tick> {
        let counts = steps::counts(&self.course.timeline);
        let after = counts.partition_point(|count| *count < before);
        Some(counts[after.checked_sub(1 + back)?])
    }

    /// Names again what was missed, as far as the voice still comes in time: the pass has begun when that is known.
    pub fn name_missed(&mut self, missed: Missed, now: Tick) {
        self.cues.name_again(missed);
        self.settle();
        let steps = &self.steps;
        let is_missed = |missed: &Missed, at: Tick| {
            let step = steps.iter().find(|step| step.start == at);
            step.is_some_and(|step| missed.names(step))
        };
        let late = self.cues.late_names(self.agenda.done(), now, is_missed);
        self.agenda.add_overdue(late);
    }

    /// What was written anew is heard from the bar line `tick` on, not sooner.
    pub fn keep_until(&mut self, tick: Tick) {
        self.kept_until = self.kept_until.max(tick);
    }

    /// The command that writes the future anew from `from` on.
    pub fn resend(&mut self, from: Tick) -> Command {
        self.epoch += 1;
        // Notes may have to stay as they are up to the end, but the player must hear that it is the end.
        let end = Tick(self.timeline().end().0 - 1);
        let kept_until = match self.course.ends {
            true => self.kept_until.min(end),
            false => self.kept_until,
        };
        let from = from.max(kept_until);
        self.send(from, from)
    }

    /// The command that tops the player up, if it needs more bars beyond `now`.
    pub fn top_up(&mut self, now: Tick) -> Option<Command> {
        let line = self.timeline();
        let wanted = line.bars_from(now, BARS_AHEAD + 1, self.epoch, false);
        let reach = wanted.last().map_or(now, |bar| bar.start + bar.len);
        (self.sent_until < reach).then(|| self.send(self.sent_until, Tick(i64::MAX)))
    }

    fn send(&mut self, bars_from: Tick, from: Tick) -> Command {
        let Course { timeline, ends, .. } = &self.course;
        let bars = timeline.bars_from(bars_from, REPLACE_BARS, self.epoch, *ends);
        if let Some(last) = bars.last() {
            self.sent_until = last.start + last.len;
        }
        let bars: ArrayVec<_, REPLACE_BARS> = bars.into_iter().map(Box::new).collect();
        Command::Replace { from, bars }
    }

    fn with_planner<T>(&self, plan: impl FnOnce(&CuePlanner<'_>) -> T) -> T {
        let ms = |tick| ms_of(&self.course.timeline, self.origin, self.rate, tick);
        let counts = steps::counts(&self.course.timeline);
        plan(&CuePlanner::new(&self.steps, &counts, &ms))
    }
}

/// Milliseconds from the take's first tick, on the audio clock.
fn ms_of(timeline: &Timeline, origin: Frame, rate: u32, tick: Tick) -> f64 {
    let frames = timeline.frame(tick).0 as i64 - origin.0 as i64;
    frames as f64 * 1000.0 / f64::from(rate)
}
