//! The running take: what is planned, what the player has, what happens when.

mod calls;
mod missed;
mod rewrite;

use self::calls::Call;
pub use self::missed::Missed;
use crate::audio::{Command, REPLACE_BARS};
use crate::drill::Names;
use crate::harmony::ChordInContext;
use crate::plan::cues::{PlannedCue, place_calls, target_cues};
pub use crate::plan::cursor::{Armed, Brings, Cursor};
use crate::plan::pass::{Pass, PassKind, PassSettings};
use crate::plan::steps::{self, Step};
use crate::plan::timeline::{Segment, Timeline};
use crate::plan::turns::{self, PageTurn, Unit};
use crate::time::{Anchor, Frame, Tick, UsPerQuarter};
use arrayvec::ArrayVec;
use std::sync::Arc;

/// Bars that the player holds ahead of the one that sounds.
const BARS_AHEAD: usize = 3;
/// The plan reaches at least this many bars and passes beyond now, so that no page or cue near now depends on
/// how far it reaches.
const PLAN_BARS: usize = 12;
const PLAN_PASSES: usize = 2;

/// Something that is due at a tick, in the order in which equal ticks are served.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Due {
    /// A bar begins.
    Bar,
    /// A step begins.
    Step(usize),
    /// The page turns.
    PageTurn(usize),
    /// A count.
    Count,
    /// A cue is to be handed over.
    Cue(usize),
}

/// What is planned, without what became of it: cheap to keep, to go back to.
#[derive(Debug, Clone)]
pub struct PlanSnapshot {
    timeline: Timeline,
    cursor: Cursor,
}

/// How a take begins.
#[derive(Debug, Clone, Copy)]
pub struct Begins {
    /// The frame of its first tick.
    pub at: Frame,
    /// Its first tick.
    pub first: Tick,
    /// The tempo.
    pub tempo: UsPerQuarter,
    /// Frames a second.
    pub rate: u32,
    /// The epoch of the bars before it.
    pub epoch: u32,
    /// How notes are named.
    pub names: Names,
}

fn ms_of(timeline: &Timeline, origin: Frame, rate: u32, tick: Tick) -> f64 {
    let frames = timeline.frame(tick).0 as i64 - origin.0 as i64;
    frames as f64 * 1000.0 / f64::from(rate)
}

/// A running take.
#[derive(Debug)]
pub struct TakePlan {
    /// What is planned.
    pub timeline: Timeline,
    /// What is appended next.
    pub cursor: Cursor,
    /// What waits for its moment.
    pub armed: Option<Armed>,
    /// Whether the take ends with the plan.
    pub ends: bool,
    /// The steps of the plan.
    pub steps: Vec<Step>,
    /// Steps put together for the page.
    pub units: Vec<Unit>,
    /// The page turns.
    pub turns: Vec<PageTurn>,
    /// The cues.
    pub cues: Vec<PlannedCue>,
    /// Announcements (stage, section), handed over like cues.
    pub announcements: Vec<PlannedCue>,
    /// Where the stage begins that was named ahead because it comes by itself.
    pub announced_ahead: Option<Tick>,
    /// What was missed, and is to be named again.
    missed: Option<Missed>,
    /// The calls that were handed over.
    called: Vec<Call>,
    /// The page turn in force.
    pub shown: Option<PageTurn>,
    agenda: Vec<(Tick, Due)>,
    /// Everything due at or before this tick is done.
    done: Tick,
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
    /// A take that begins so.
    pub fn new(cursor: Cursor, begins: Begins) -> TakePlan {
        let Begins {
            at,
            first,
            tempo,
            rate,
            epoch,
            names,
        } = begins;
        TakePlan {
            timeline: Timeline::new(Anchor::new(first, at, tempo, rate)),
            cursor,
            armed: None,
            ends: false,
            steps: Vec::new(),
            units: Vec::new(),
            turns: Vec::new(),
            cues: Vec::new(),
            announcements: Vec::new(),
            announced_ahead: None,
            missed: None,
            called: Vec::new(),
            shown: None,
            agenda: Vec::new(),
            done: Tick(first.0 - 1),
            sent_until: first,
            kept_until: first,
            epoch,
            rate,
            origin: at,
            names,
        }
    }

    /// It begins on `at`: what was planned ahead of that counts from there.
    pub fn begin_at(&mut self, at: Frame) {
        self.origin = at;
        self.settle();
    }

    /// The epoch of the newest bars.
    pub fn epoch(&self) -> u32 {
        self.epoch
    }

    /// Milliseconds from the take's first tick on the audio clock.
    pub fn ms(&self, tick: Tick) -> f64 {
        ms_of(&self.timeline, self.origin, self.rate, tick)
    }

    /// Lets the plan reach far enough beyond `now`; true if it grew.
    pub fn extend(&mut self, now: Tick, tempo: UsPerQuarter, playing: &PassSettings) -> bool {
        let mut grew = false;
        while !self.ends && !self.reaches(now) {
            let tempo = self.cursor.brings.map_or(tempo, |brings| brings.tempo);
            let pass = self.cursor.write(tempo, playing, false);
            let bars = pass.lap.bars.len();
            let from = self.cursor.from_bar.min(bars.saturating_sub(1));
            self.timeline.push(Arc::new(pass), from, bars);
            self.cursor = self.cursor.next();
            grew = true;
        }
        grew
    }

    fn reaches(&self, now: Tick) -> bool {
        let (mut passes, mut bars) = (0, 0);
        for segment in self
            .timeline
            .segments()
            .filter(|segment| segment.start() > now)
        {
            passes += usize::from(segment.pass.kind != PassKind::CountIn);
            bars += segment.to_bar - segment.from_bar;
        }
        passes >= PLAN_PASSES && bars >= PLAN_BARS
    }

    /// Drops the plan from the bar line `cut` on; the next thing planned is `cursor`.
    pub fn replan(&mut self, cut: Tick, cursor: Cursor) {
        self.timeline.cut(cut);
        self.cursor = cursor;
        self.ends = false;
    }

    /// What was written anew is heard from the bar line `tick` on, not sooner.
    pub fn keep_until(&mut self, tick: Tick) {
        self.kept_until = self.kept_until.max(tick);
    }

    /// The plan as it stands.
    pub fn plan(&self) -> PlanSnapshot {
        PlanSnapshot {
            timeline: self.timeline.clone(),
            cursor: self.cursor.clone(),
        }
    }

    /// Goes back to a plan made earlier in this take.
    pub fn restore(&mut self, plan: PlanSnapshot) {
        self.timeline = plan.timeline;
        self.cursor = plan.cursor;
        self.ends = false;
    }

    /// What the plan would play from the bar line `cut` on.
    pub fn cursor_at(&self, cut: Tick) -> Cursor {
        let Some(segment) = self.timeline.segment_at(cut) else {
            return self.cursor.clone();
        };
        cursor_of(segment, segment.bar_at(cut))
    }

    /// Works out steps, page turns, cues and the agenda anew from the plan.
    pub fn settle(&mut self) {
        let (timeline, origin, rate) = (&self.timeline, self.origin, self.rate);
        let ms = |tick: Tick| ms_of(timeline, origin, rate, tick);
        let counts = steps::counts(&self.timeline);
        self.steps = steps::steps(&self.timeline);
        let on_page = self.shown.and_then(|shown| self.units.get(shown.unit));
        let on_page = on_page.map(|unit| unit.start);
        self.units = turns::units(&self.steps, &ms);
        self.turns = turns::turns(&self.units, &counts, &ms);
        self.cues = target_cues(&self.steps, &counts, self.names, self.missed.as_ref(), &ms);
        let calls = place_calls(&self.steps, &counts, self.names, &self.cues, &ms);
        self.cues.extend(calls);
        let overdue = self.keep_shown(on_page);
        let mut agenda: Vec<(Tick, Due)> = Vec::new();
        for segment in self.timeline.segments() {
            agenda.extend(
                segment
                    .bars()
                    .map(|(bar, _)| (segment.bar_start(bar), Due::Bar)),
            );
        }
        agenda.extend(
            self.steps
                .iter()
                .enumerate()
                .map(|(index, step)| (step.start, Due::Step(index))),
        );
        agenda.extend(
            self.turns
                .iter()
                .enumerate()
                .map(|(index, turn)| (turn.at, Due::PageTurn(index))),
        );
        agenda.extend(counts.iter().map(|count| (*count, Due::Count)));
        let all_cues = self.cues.iter().chain(&self.announcements).enumerate();
        agenda.extend(all_cues.map(|(index, cue)| (cue.hand_over, Due::Cue(index))));
        agenda.retain(|(at, _)| *at > self.done);
        agenda.extend(self.late_calls());
        agenda.extend(overdue.map(|index| (Tick(self.done.0 + 1), Due::PageTurn(index))));
        agenda.sort();
        agenda.reverse();
        self.agenda = agenda;
    }

    /// Finds the unit that stands on the page (it began on `on_page`) among the new ones: they are counted from
    /// where the plan begins, which moves on. Gives the turn that should have come by now, if the new plan has
    /// one.
    fn keep_shown(&mut self, on_page: Option<Tick>) -> Option<usize> {
        let (shown, start) = (self.shown.as_mut()?, on_page?);
        shown.unit = self
            .units
            .partition_point(|unit| unit.start <= start)
            .saturating_sub(1);
        let past = self.turns.partition_point(|turn| turn.at <= self.done);
        let due = past.checked_sub(1)?;
        (self.turns[due].unit > shown.unit).then_some(due)
    }

    /// The cue that `Due::Cue(index)` means.
    pub fn cue(&self, index: usize) -> Option<&PlannedCue> {
        self.cues.iter().chain(&self.announcements).nth(index)
    }

    /// The next thing due at or before `now`, taken off the agenda.
    pub fn due(&mut self, now: Tick) -> Option<(Tick, Due)> {
        let (at, _) = *self.agenda.last()?;
        if at > now {
            return None;
        }
        let due = self.agenda.pop();
        if let Some((_, Due::Cue(index))) = due
            && let Some(cue) = self.cues.get(index).filter(|cue| cue.form_chord.is_none())
        {
            self.called.push(cue.call());
        }
        // All of one tick is served before the tick counts as done.
        if self.agenda.last().is_none_or(|(next, _)| *next > at) {
            self.done = at;
        }
        due
    }

    /// Drops what is over.
    pub fn forget_before(&mut self, now: Tick) {
        self.timeline.forget_before(now);
        self.announcements.retain(|cue| cue.deadline > now);
        self.called.retain(|(deadline, _)| *deadline > now);
    }

    /// The commands that write the future anew from `from` on.
    pub fn resend(&mut self, from: Tick, ids: &mut u32) -> Command {
        self.epoch += 1;
        // Notes may have to stay as they are up to the end, but the player must hear that it is the end.
        let end = Tick(self.timeline.end().0 - 1);
        let kept_until = match self.ends {
            true => self.kept_until.min(end),
            false => self.kept_until,
        };
        let from = from.max(kept_until);
        self.send(from, from, ids)
    }

    /// The command that tops the player up, if it needs more bars beyond `now`.
    pub fn top_up(&mut self, now: Tick, ids: &mut u32) -> Option<Command> {
        let wanted = self
            .timeline
            .bars_from(now, BARS_AHEAD + 1, self.epoch, &mut 0, false);
        let reach = wanted.last().map_or(now, |bar| bar.start + bar.len);
        (self.sent_until < reach).then(|| self.send(self.sent_until, Tick(i64::MAX), ids))
    }

    fn send(&mut self, bars_from: Tick, from: Tick, ids: &mut u32) -> Command {
        let bars = self
            .timeline
            .bars_from(bars_from, REPLACE_BARS, self.epoch, ids, self.ends);
        if let Some(last) = bars.last() {
            self.sent_until = last.start + last.len;
        }
        let bars: ArrayVec<_, REPLACE_BARS> = bars.into_iter().map(Box::new).collect();
        Command::Replace {
            epoch: self.epoch,
            from,
            bars,
        }
    }
}

/// What a segment plays from one of its bars on, to be written again.
fn cursor_of(segment: &Segment, from_bar: usize) -> Cursor {
    let pass = &segment.pass;
    Cursor {
        from_bar,
        count_in: (pass.kind == PassKind::CountIn).then_some(!pass.lap.chords.is_empty()),
        ..Cursor::pass(&pass.material, pass.standing.clone())
    }
}

/// The first chord that sounds in a pass from one of its bars on; none where the band does not play.
fn first_chord(pass: &Pass, from_bar: usize) -> Option<ChordInContext> {
    if matches!(pass.kind, PassKind::CountIn | PassKind::Breathe) {
        return None;
    }
    let from = pass.lap.bars.get(from_bar).map_or(Tick(0), |bar| bar.start);
    let index = pass
        .lap
        .chords
        .iter()
        .position(|chord| chord.start + chord.len > from)?;
    pass.context(index).cloned()
}
