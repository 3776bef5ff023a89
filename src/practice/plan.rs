//! The running take: what is planned, what the player has, what happens when.

use super::Material;
use super::Standing;
use super::cues::{PlannedCue, target_cues};
use super::flips::{self, Flip, Unit};
use super::pass::{Pass, PassKind, Playing};
use super::steps::{self, Step};
use super::timeline::Timeline;
use crate::audio::{Command, REPLACE_BARS};
use crate::drill::Names;
use crate::time::{Anchor, Frame, Tick, UsPerQuarter};
use arrayvec::ArrayVec;
use std::sync::Arc;

/// Bars that the player holds ahead of the one that sounds.
const BARS_AHEAD: usize = 3;
/// The plan reaches at least this many bars and passes beyond now, so that no page or cue near now depends on
/// how far it reaches.
const PLAN_BARS: usize = 12;
const PLAN_PASSES: usize = 2;

/// What is appended to the plan next.
#[derive(Debug, Clone)]
pub struct Cursor {
    /// The chart and drill.
    pub material: Arc<Material>,
    /// The pass.
    pub standing: Standing,
    /// The bar of its lap to begin with.
    pub from_bar: usize,
    /// The count-in to the pass instead of the pass; `Some(true)` with the pickup.
    pub count_in: Option<bool>,
}

impl Cursor {
    /// The whole pass at `standing`.
    pub fn pass(material: &Arc<Material>, standing: Standing) -> Cursor {
        Cursor {
            material: material.clone(),
            standing,
            from_bar: 0,
            count_in: None,
        }
    }

    /// The bars of its lap.
    fn next(&self) -> Cursor {
        match self.count_in {
            Some(_) => Cursor {
                from_bar: 0,
                count_in: None,
                ..self.clone()
            },
            None => Cursor::pass(&self.material, self.standing.next(&self.material)),
        }
    }

    /// Writes the pass out.
    pub fn write(&self, tempo: UsPerQuarter, playing: &Playing, end: bool) -> Pass {
        let (material, standing) = (&self.material, self.standing.clone());
        let stage = standing.stage_of(material);
        if let Some(with_pickup) = self.count_in {
            return Pass::count_in(material, standing, with_pickup, tempo, playing);
        }
        if !stage.pulse {
            return Pass::held(material, standing, tempo, playing);
        }
        if standing.breathing {
            return Pass::breath(material, standing, tempo, playing);
        }
        let lap = standing.lap(material);
        let after = self.next();
        let next_chord = (!end && !after.standing.breathing)
            .then(|| {
                after
                    .standing
                    .lap(&after.material)
                    .chords
                    .first()
                    .map(|chord| chord.form_chord)
            })
            .flatten();
        let next = next_chord.map(|chord| &after.material.contexts[chord]);
        Pass::music(material, standing.clone(), lap, next, end, tempo, playing)
    }
}

/// Something that is due at a tick, in the order in which equal ticks are served.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Due {
    /// A bar begins.
    Bar,
    /// A step begins.
    Step(usize),
    /// The page turns.
    Flip(usize),
    /// A count.
    Count,
    /// A cue is to be handed over.
    Cue(usize),
}

/// An action that waits for its moment.
#[derive(Debug, Clone)]
pub struct Armed {
    /// What, as the page shows it.
    pub what: String,
    /// The actions that were armed one after the other.
    pub actions: Vec<super::action::Action>,
    /// The bar line on which it happens.
    pub cut: Tick,
    /// What would come there without it.
    pub instead_of: Cursor,
    /// What comes there now.
    pub target: Cursor,
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
pub struct Take {
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
    pub flips: Vec<Flip>,
    /// The cues.
    pub cues: Vec<PlannedCue>,
    /// Announcements (stage, section), handed over like cues.
    pub announcements: Vec<PlannedCue>,
    /// The page turn in force.
    pub shown: Option<Flip>,
    agenda: Vec<(Tick, Due)>,
    /// Everything due at or before this tick is done.
    done: Tick,
    sent_until: Tick,
    epoch: u32,
    rate: u32,
    /// The frame of the first tick: times count from here, so that rounding is the same in every take.
    origin: Frame,
    names: Names,
}

impl Take {
    /// A take that begins so.
    pub fn new(cursor: Cursor, begins: Begins) -> Take {
        let Begins {
            at,
            first,
            tempo,
            rate,
            epoch,
            names,
        } = begins;
        Take {
            timeline: Timeline::new(Anchor::new(first, at, tempo, rate)),
            cursor,
            armed: None,
            ends: false,
            steps: Vec::new(),
            units: Vec::new(),
            flips: Vec::new(),
            cues: Vec::new(),
            announcements: Vec::new(),
            shown: None,
            agenda: Vec::new(),
            done: Tick(first.0 - 1),
            sent_until: first,
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
    pub fn extend(&mut self, now: Tick, tempo: UsPerQuarter, playing: &Playing) -> bool {
        let mut grew = false;
        while !self.ends && !self.reaches(now) {
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

    /// Writes all passes from the one at `now` on again (parts muted, model tones switched).
    pub fn rewrite(&mut self, now: Tick, playing: &Playing) {
        let segments: Vec<_> = self.timeline.segments().cloned().collect();
        for (index, segment) in segments
            .iter()
            .enumerate()
            .filter(|(_, segment)| segment.end() > now)
        {
            let pass = &segment.pass;
            let count_in = (pass.kind == PassKind::CountIn).then_some(!pass.lap.chords.is_empty());
            let cursor = Cursor {
                material: pass.material.clone(),
                standing: pass.standing.clone(),
                from_bar: segment.from_bar,
                count_in,
            };
            let is_end = self.ends && index + 1 == segments.len();
            let written = cursor.write(pass.tempo, playing, is_end);
            self.timeline.rewrite(segment.start(), Arc::new(written));
        }
    }

    /// Writes the pass that sounds at the end of the plan once more, for what follows it now (the chord its
    /// last push and approach lead to).
    pub fn lead_into(&mut self, playing: &Playing) {
        let Some(last) = self.timeline.segments().last().cloned() else {
            return;
        };
        if !matches!(last.pass.kind, PassKind::Music(_)) {
            return;
        }
        let pass = &last.pass;
        let mut bars = pass.standing.form_bars(&pass.material);
        bars.truncate(last.to_bar);
        let lap = pass.material.form.lap(&bars);
        let target = &self.cursor;
        let sounds = !self.ends && !target.standing.breathing && target.count_in.is_none();
        let target_lap = target.standing.lap(&target.material);
        let first_bar = target_lap
            .bars
            .get(target.from_bar)
            .map_or(Tick(0), |bar| bar.start);
        let next = target_lap
            .chords
            .iter()
            .find(|chord| chord.start + chord.len > first_bar)
            .filter(|_| sounds)
            .map(|chord| &target.material.contexts[chord.form_chord]);
        let standing = pass.standing.clone();
        let written = Pass::music(
            &pass.material,
            standing,
            lap,
            next,
            self.ends,
            pass.tempo,
            playing,
        );
        self.timeline.rewrite(last.start(), Arc::new(written));
    }

    /// Works out steps, page turns, cues and the agenda anew from the plan.
    pub fn settle(&mut self) {
        let (timeline, origin, rate) = (&self.timeline, self.origin, self.rate);
        let ms = |tick: Tick| ms_of(timeline, origin, rate, tick);
        let counts = steps::counts(&self.timeline);
        self.steps = steps::steps(&self.timeline);
        self.units = flips::units(&self.steps, &ms);
        self.flips = flips::flips(&self.units, &counts, &ms);
        self.cues = target_cues(&self.steps, &counts, self.names, &ms);
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
            self.flips
                .iter()
                .enumerate()
                .map(|(index, flip)| (flip.at, Due::Flip(index))),
        );
        agenda.extend(counts.iter().map(|count| (*count, Due::Count)));
        let all_cues = self.cues.iter().chain(&self.announcements).enumerate();
        agenda.extend(all_cues.map(|(index, cue)| (cue.hand_over, Due::Cue(index))));
        agenda.retain(|(at, _)| *at > self.done);
        agenda.sort();
        agenda.reverse();
        self.agenda = agenda;
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
    }

    /// The commands that write the future anew from `from` on.
    pub fn resend(&mut self, from: Tick, ids: &mut u32) -> Command {
        self.epoch += 1;
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
