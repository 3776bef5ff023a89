//! The take that a clock from outside drives: it begins with the master's Start, its time is the master's.

use super::change::Conductor;
use super::clock_link::{Home, near};
use super::core::Core;
use crate::audio::{ClockSource, Command};
use crate::clock::ClockState;
use crate::plan::cursor::Cursor;
use crate::plan::{Loop, Standing};
use crate::time::{Frame, Tick, UsPerQuarter};
use std::sync::Arc;

/// What the player tells of the clock outside.
#[derive(Debug, Clone, Copy)]
pub(super) struct ClockNews {
    pub frame: Frame,
    /// Which clock; none: ours.
    pub source: Option<ClockSource>,
    pub state: ClockState,
    /// Where it is on `frame`, and how fast from there.
    pub beat: (Option<Tick>, Option<UsPerQuarter>),
    pub scatter_us: u32,
    pub lost: u32,
}

impl Core {
    /// A clock from outside is followed from now on; `mutes`: it silences comping, bass and drums.
    pub fn follow_clock(&mut self, follows: bool, mutes: bool) {
        self.clock.follows = follows;
        self.clock.mutes = mutes;
        self.clock.home = None;
    }

    /// A new player knows nothing: it needs the bars of the beginning again, and no clock drives it yet.
    pub(super) fn forget_home(&mut self) {
        self.clock.home = None;
        if let Some(running) = self.running_mut() {
            running.driven_since = None;
        }
    }

    /// At rest the player holds the bars with which the master's Start begins.
    pub(super) fn keep_home(&mut self) {
        let can_begin = self.running().is_none() && self.board.no_sound.is_none();
        if !self.clock.follows_here() || !can_begin || self.session.is_blank() {
            return;
        }
        let session = &self.session;
        let passes = self.clock.with_others(&session.passes);
        let is_same = |home: &Home| {
            Arc::ptr_eq(&home.material, &session.material)
                && home.standing == session.standing
                && near(home.tempo, session.tempo)
                && home.passes == passes
        };
        if self.clock.home.as_ref().is_some_and(is_same) {
            return;
        }
        let (material, standing) = (session.material.clone(), session.standing.clone());
        let (here, tempo) = (session.here(), session.tempo);
        let alone = std::mem::replace(&mut self.session.passes, passes.clone());
        let mut plan = self.plan_from(here, self.now, Tick(0));
        self.session.passes = alone;
        let replace = plan.resend(Tick(0));
        self.sent.epoch = plan.epoch();
        if let Command::Replace { bars, .. } = replace {
            let tick = Tick(0);
            self.send(Command::Home { tick, bars });
        }
        self.clock.home = Some(Home {
            plan,
            material,
            standing,
            tempo,
            passes,
        });
    }

    /// The player tells of the clock.
    pub(super) fn clock_told(&mut self, news: ClockNews) {
        let before = self.lost_clock();
        let (tick, tempo) = news.beat;
        self.clock.told = news.source.map(|source| (source, news.state));
        self.clock.scatter_ms = f64::from(news.scatter_us) / 1000.0;
        self.clock.lost_ticks = news.lost;
        self.clock.tempo = news.source.and(tempo);
        if let (Some((tick, tempo)), Some(running)) = (tick.zip(tempo), self.running_mut()) {
            let line = &mut running.plan.course.timeline;
            line.follow(tick, news.frame, tempo);
            running.driven_since = running.driven_since.or(Some(news.frame));
        }
        if let Some(tempo) = tempo.filter(|tempo| !near(*tempo, self.session.tempo)) {
            self.session.tempo = tempo;
        }
        if self.lost_clock() != before {
            self.acknowledge();
        }
    }

    /// The master began: tick `tick` of the song sounds on `frame`. `holds_bars`: the player begins with what it was given
    /// for that.
    pub(super) fn begun_by_clock(&mut self, frame: Frame, tick: Tick, holds_bars: bool) {
        if self.session.is_blank() {
            return;
        }
        self.board.menu = None;
        self.clock.enter(&mut self.session.passes);
        let home = self.clock.home.take().filter(|_| holds_bars);
        let mut plan = match home {
            Some(home) => home.plan,
            None => {
                let (cursor, first) = self.cursor_of_song(tick);
                let mut plan = self.plan_from(cursor, frame, first);
                let replace = plan.resend(first);
                self.send(replace);
                plan
            }
        };
        plan.course.timeline.follow(tick, frame, self.session.tempo);
        plan.begin_at(frame);
        self.launch(plan, frame, tick, Conductor::Master);
        if let Some(running) = self.running_mut() {
            running.driven_since = Some(frame);
        }
        self.now = self.now.max(frame);
        self.bind_switches();
        self.acknowledge();
    }

    /// What the song plays at `tick` ticks from bar 1 of the unrolled form, and where that bar begins. Beyond the
    /// end of the form it goes round. The beginning itself is that of what goes round at present.
    fn cursor_of_song(&self, tick: Tick) -> (Cursor, Tick) {
        let session = &self.session;
        if tick <= Tick(0) {
            return (session.here(), Tick(0));
        }
        let standing = Standing {
            looping: Loop::Form,
            ..session.standing.again(&session.material)
        };
        let cursor = Cursor::pass(&session.material, standing);
        let lap = cursor.standing.lap(&cursor.material);
        let within = Tick(tick.0.rem_euclid(lap.len.0.max(1)));
        let after = lap.bars.partition_point(|bar| bar.start <= within);
        let from_bar = after.saturating_sub(1);
        let start = lap.bars.get(from_bar).map_or(Tick(0), |bar| bar.start);
        let cursor = Cursor { from_bar, ..cursor };
        (cursor, tick - (within - start))
    }
}
