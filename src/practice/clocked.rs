//! The take that a clock from outside drives: it begins with the master's Start, its time is the master's.

use crate::audio::{ClockSource, Command, Notice};
use crate::clock::ClockState;
use crate::plan::cursor::Cursor;
use crate::plan::pass::PassSettings;
use crate::plan::standing::Loop;
use crate::plan::take::{Begins, TakePlan};
use crate::plan::{Material, Standing};
use crate::practice::core::Core;
use crate::time::{Frame, Part, Tick, UsPerQuarter};
use std::sync::Arc;

/// A tempo that differs by less is the same, as far as swing and the page are concerned.
const SAME_TEMPO: f64 = 0.005;
/// What is mute by default while others play.
const BAND: [Part; 4] = [Part::Comping, Part::Bass, Part::Drums, Part::Melody];

/// What the core knows of the clock outside.
#[derive(Debug, Default)]
pub(super) struct Clocked {
    /// Whether one is followed at all.
    follows: bool,
    /// Whether it silences the band.
    mutes: bool,
    /// The source and its state, as last told.
    pub(super) told: Option<(ClockSource, ClockState)>,
    /// How far its ticks usually are off, in ms, and how many were lost.
    pub(super) scatter_ms: f64,
    pub(super) lost: u32,
    /// Its tempo, to the last digit.
    pub(super) tempo: Option<UsPerQuarter>,
    /// The take is driven by it since this frame.
    since: Option<Frame>,
    /// What the foot had muted before.
    muted: Option<Vec<Part>>,
    home: Option<Home>,
}

/// What the player was given to begin with at the master's Start.
#[derive(Debug)]
struct Home {
    take: TakePlan,
    material: Arc<Material>,
    standing: Standing,
    tempo: UsPerQuarter,
    playing: PassSettings,
}

impl Core {
    /// A clock from outside is followed from now on; `mutes`: it silences comping, bass and drums.
    pub fn follow_clock(&mut self, follows: bool, mutes: bool) {
        self.clocked.follows = follows;
        self.clocked.mutes = mutes;
        self.clocked.home = None;
    }

    /// Whether a clock from outside drives the take.
    pub(super) fn is_driven(&self) -> bool {
        self.take.is_some() && self.clocked.since.is_some()
    }

    /// The clock that went silent while it drives the take.
    pub(super) fn lost_clock(&self) -> Option<ClockSource> {
        let (source, state) = self.clocked.told?;
        (self.is_driven() && state == ClockState::Holding).then_some(source)
    }

    /// A new player knows nothing: it needs the bars of the beginning again.
    pub(super) fn forget_home(&mut self) {
        self.clocked.home = None;
        self.clocked.since = None;
    }

    /// At rest the player holds the bars with which the master's Start begins.
    pub(super) fn keep_home(&mut self) {
        if !self.clocked.follows || self.take.is_some() || self.lost.is_some() {
            return;
        }
        let playing = self.playing_with_others();
        let same = self.clocked.home.as_ref().is_some_and(|home| {
            Arc::ptr_eq(&home.material, &self.material)
                && home.standing == self.standing
                && near(home.tempo, self.tempo)
                && home.playing == playing
        });
        if same {
            return;
        }
        let mut take = self.take_from(self.here(), self.now, Tick(0), &playing);
        let replace = take.resend(Tick(0), &mut self.bar_ids);
        self.epoch = take.epoch();
        if let Command::Replace { bars, .. } = replace {
            let tick = Tick(0);
            self.out
                .push(super::Effect::Audio(Command::Home { tick, bars }));
        }
        self.clocked.home = Some(Home {
            take,
            material: self.material.clone(),
            standing: self.standing.clone(),
            tempo: self.tempo,
            playing,
        });
    }

    fn playing_with_others(&self) -> PassSettings {
        let mut playing = self.playing.clone();
        if self.clocked.mutes && self.clocked.muted.is_none() {
            let more = BAND
                .into_iter()
                .filter(|part| !self.playing.muted.contains(part));
            playing.muted.extend(more);
        }
        playing
    }

    fn take_from(
        &self,
        cursor: Cursor,
        at: Frame,
        first: Tick,
        playing: &PassSettings,
    ) -> TakePlan {
        let begins = Begins {
            at,
            first,
            tempo: self.tempo,
            rate: self.settings.rate,
            epoch: self.epoch,
            names: self.settings.names,
        };
        let mut take = TakePlan::new(cursor, begins);
        take.extend(first, self.tempo, playing);
        take.settle();
        take
    }

    /// The player tells of the clock.
    pub(super) fn clock_notice(&mut self, notice: Notice) {
        match notice {
            Notice::ClockBegan { frame, tick, home } => self.begun_by_clock(frame, tick, home),
            Notice::Clock {
                frame,
                source,
                state,
                tick,
                tempo,
                scatter_us,
                lost,
            } => {
                let before = self.lost_clock();
                let beat = tick.zip(tempo);
                self.clocked.told = source.map(|source| (source, state));
                self.clocked.scatter_ms = f64::from(scatter_us) / 1000.0;
                self.clocked.lost = lost;
                self.clocked.tempo = source.and(tempo);
                if let (Some((tick, tempo)), Some(take)) = (beat, self.take.as_mut()) {
                    take.timeline.follow(tick, frame, tempo);
                    self.clocked.since = self.clocked.since.or(Some(frame));
                }
                if let Some(tempo) = tempo.filter(|tempo| !near(*tempo, self.tempo)) {
                    self.tempo = tempo;
                }
                if self.lost_clock() != before {
                    self.acknowledge();
                }
            }
            _ => {}
        }
    }

    fn begun_by_clock(&mut self, frame: Frame, tick: Tick, home: bool) {
        if let Some(take) = &self.take {
            self.epoch = take.epoch();
        }
        self.menu = None;
        self.paused_bar = None;
        let playing = self.playing_with_others();
        if self.clocked.mutes && self.clocked.muted.is_none() {
            self.clocked.muted = Some(std::mem::replace(
                &mut self.playing.muted,
                playing.muted.clone(),
            ));
        }
        let kept = self.clocked.home.take().filter(|_| home);
        let mut take = match kept {
            Some(home) => home.take,
            None => {
                let (cursor, first) = self.cursor_of_song(tick);
                let mut take = self.take_from(cursor, frame, first, &playing);
                let replace = take.resend(first, &mut self.bar_ids);
                self.epoch = take.epoch();
                self.out.push(super::Effect::Audio(replace));
                take
            }
        };
        take.timeline.follow(tick, frame, self.tempo);
        take.begin_at(frame);
        self.hearing.cut(frame);
        self.new_take(true);
        self.take = Some(take);
        self.clocked.since = Some(frame);
        self.now = self.now.max(frame);
        self.last_section = None;
        self.last_stage = None;
        self.announced = None;
        self.began = self.began.or(Some(frame));
        self.record(tick, super::Recorded::Take { starts: true });
        self.bind_switches();
        self.acknowledge();
    }

    /// What the song plays at `tick` ticks from bar 1 of the unrolled form, and where that bar begins. Beyond the
    /// end of the form it goes round. The beginning itself is that of what goes round at present.
    fn cursor_of_song(&self, tick: Tick) -> (Cursor, Tick) {
        if tick <= Tick(0) {
            return (self.here(), Tick(0));
        }
        let standing = Standing {
            looping: Loop::Form,
            pass: 0,
            breathing: false,
            ..self.standing.clone()
        };
        let lap = standing.lap(&self.material.walked(&standing));
        let within = Tick(tick.0.rem_euclid(lap.len.0.max(1)));
        let bar = lap
            .bars
            .partition_point(|bar| bar.start <= within)
            .saturating_sub(1);
        let start = lap.bars.get(bar).map_or(Tick(0), |bar| bar.start);
        let cursor = Cursor {
            from_bar: bar,
            ..Cursor::pass(&self.material, standing)
        };
        (cursor, tick - (within - start))
    }

    /// The player's take is over; a driven one ends with the master's Stop.
    pub(super) fn ended_by_clock(&mut self, frame: Frame) -> bool {
        let since = self.clocked.since;
        self.is_driven() && since.is_some_and(|since| frame > since)
    }

    /// The take is over: what the foot had muted is so again.
    pub(super) fn leave_clock(&mut self) {
        self.clocked.since = None;
        if let Some(muted) = self.clocked.muted.take() {
            self.playing.muted = muted;
        }
    }

    /// The clock's source, state, jitter in ms and lost ticks, for the status.
    pub(super) fn clock_status(&self) -> super::core::ClockStatus {
        let (source, state) = match self.clocked.told {
            Some((source, state)) => (source.name(), state.name()),
            None => ("internal", "own"),
        };
        super::core::ClockStatus {
            source,
            state,
            jitter_ms: self.clocked.scatter_ms,
            lost: self.clocked.lost,
        }
    }
}

fn near(one: UsPerQuarter, other: UsPerQuarter) -> bool {
    (one.qpm() / other.qpm() - 1.0).abs() < SAME_TEMPO
}
