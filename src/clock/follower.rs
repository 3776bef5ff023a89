//! Follows a MIDI clock: which tick sounds when.
//!
//! Start and Continue only arm, the next tick is the beat. The tempo is followed also while the master is
//! stopped. Ticks that stay away are played on at the last tempo. What sounds never jumps: where the belief
//! about the master changes, the next ticks come a little sooner or later until both agree.
//!
//! Pure: times are seconds on whatever clock the caller has. Between messages the caller plays the ticks that
//! [`Follower::next_tick`] tells, in the order of time, by [`Follower::take_tick`]; nothing that comes later can
//! change them.
//!
//! # Why does the follower not have a fixed bandwidth?
//!
//! Such a loop is either slow to lock or unsteady for ever, and lags in a ramp. Ours draws a line through all ticks since the
//! tempo last changed; whether it changed is judged by what the line itself expects to be off. Masters whose ticks scatter
//! around a grid and those whose phase walks (then the phase is the last tick's, only the tempo is averaged) are told apart
//! by the second differences of their ticks over 1 and over 8 ticks. `tests/house/clock/traces.rs` prints both beside two fixed
//! loops; `UNDERFOOT_SEEDS=200` tries as many masters of each kind. Known limits: where ticks come in pairs from the start, a
//! fast clock bunched and a slow one doubled look the same; up to 200 quarters a minute it is taken for a bunched one.

use super::message::ClockMessage;
use super::tracker::{BeatPlace, TickGrid, Tracker};

/// Ticks of MIDI clock to a quarter note.
pub const TICKS_PER_QUARTER: i64 = 24;
/// Ticks to a unit of Song Position Pointer.
const TICKS_PER_POSITION: i64 = 6;
/// The ticks that sound may be so much nearer or farther apart than the master's, while they catch up.
const SLEW: f64 = 0.12;
/// What is farther off is caught up within so many ticks: a bar of four quarters.
const SLEW_TICKS: f64 = 96.0;
/// Ticks are missed after so many periods, and after so many seconds.
const MISSED: (f64, f64) = (4.0, 0.25);
/// From so many ticks on, and with the tempo so well known, it counts as locked.
const LOCKED: (usize, f64) = (12, 0.002_5);
/// Up to this tick the box waits a little for a tick that is due, because its guess is rough.
const ROUGH: usize = 8;
/// After this silence of a stopped master its tempo is forgotten, in seconds.
const FORGET_S: f64 = 1.0;

/// How well the master is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockState {
    Waiting,
    /// Its tempo is not certain yet.
    Locking,
    Locked,
    /// Its ticks stay away; the last tempo goes on.
    Holding,
}

impl ClockState {
    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            ClockState::Waiting => "waiting",
            ClockState::Locking => "locking",
            ClockState::Locked => "locked",
            ClockState::Holding => "holding",
        }
    }
}

/// A tick that sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlayedTick {
    /// When, in seconds.
    pub at_s: f64,
    /// Which: ticks from the beginning of the song.
    pub tick: i64,
    /// The tempo, in quarter notes a minute, once it is known.
    pub qpm: Option<f64>,
    /// How well the master is known.
    pub state: ClockState,
}

/// What changed with a message, beside the ticks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// The song begins, or goes on, with this tick, now.
    Begins {
        /// Ticks from the beginning of the song.
        tick: i64,
    },
    /// The song stops, now.
    Stops,
}

/// What the master does with the song.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Song {
    Stopped,
    /// The next tick is this one.
    Armed(i64),
    /// The master's tick `index` is tick `tick` of the song.
    Running {
        index: i64,
        tick: i64,
    },
}

/// The tick that sounded last.
#[derive(Debug, Clone, Copy)]
struct Sounded {
    /// The master's number of it.
    index: i64,
    at_s: f64,
}

/// Counts of what was odd about a master.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Oddities {
    pub ticks: u64,
    /// Ticks that did not come.
    pub lost: u64,
    /// Ticks that came twice, or so late that the next was there.
    pub twins: u64,
}

/// The follower.
#[derive(Debug, Clone)]
pub struct Follower {
    tracker: Tracker,
    song: Song,
    /// Where Continue goes on, in ticks.
    position: i64,
    sounded: Option<Sounded>,
    hold_ticks: i64,
    now_s: f64,
    stamp_s: f64,
    last_tick_s: Option<f64>,
    oddities: Oddities,
}

impl Follower {
    /// A follower that plays on for `hold_quarters` quarter notes after the last tick.
    pub fn new(hold_quarters: u32) -> Follower {
        Follower {
            tracker: Tracker::new(),
            song: Song::Stopped,
            position: 0,
            sounded: None,
            hold_ticks: i64::from(hold_quarters) * TICKS_PER_QUARTER,
            now_s: f64::NEG_INFINITY,
            stamp_s: f64::NEG_INFINITY,
            last_tick_s: None,
            oddities: Oddities::default(),
        }
    }

    /// Plays on for `hold_quarters` quarter notes after the last tick, from now on.
    pub fn hold_for(&mut self, hold_quarters: u32) {
        self.hold_ticks = i64::from(hold_quarters) * TICKS_PER_QUARTER;
    }

    /// Forgets the master: another one follows.
    pub fn reset(&mut self) {
        self.tracker.clear();
        self.song = Song::Stopped;
        self.position = 0;
        self.sounded = None;
        self.last_tick_s = None;
        (self.now_s, self.stamp_s) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    }

    /// Takes a message that came at `at_s`. The ticks due before must have been taken; where the box plays ahead,
    /// they may lie a little later than the message. A time that goes back counts as the last one.
    pub fn message(&mut self, at_s: f64, message: ClockMessage) -> Option<Change> {
        self.stamp_s = at_s.max(self.stamp_s);
        let at_s = self.stamp_s;
        self.advance(at_s);
        let lapsed = self.lapse();
        match message {
            ClockMessage::Tick => return self.tick(at_s).or(lapsed),
            ClockMessage::Start => self.song = Song::Armed(0),
            ClockMessage::Continue => {
                if self.song == Song::Stopped {
                    self.song = Song::Armed(self.position);
                }
            }
            ClockMessage::Stop => return self.stop().or(lapsed),
            ClockMessage::Position(at) => {
                if !self.is_running() {
                    self.position = i64::from(at) * TICKS_PER_POSITION;
                    if let Song::Armed(tick) = &mut self.song {
                        *tick = self.position;
                    }
                }
            }
        }
        lapsed
    }

    /// Time passes; stops if the ticks stayed away for too long.
    pub fn pass(&mut self, at_s: f64) -> Option<Change> {
        self.advance(at_s);
        self.lapse()
    }

    /// The tick that the next one of the master begins the song with, if Start or Continue armed it.
    pub fn armed(&self) -> Option<i64> {
        match self.song {
            Song::Armed(tick) => Some(tick),
            _ => None,
        }
    }

    /// Stops if the ticks stayed away for longer than was to be held on; tells it once.
    fn lapse(&mut self) -> Option<Change> {
        let (Song::Running { index, tick }, Some(sounded)) = (self.song, self.sounded) else {
            return None;
        };
        let (newest, _) = self.tracker.newest()?;
        let next = sounded.index + 1;
        let grid = self.tracker.grid()?;
        // A tick that is merely late has not stayed away.
        let (periods, seconds) = MISSED;
        let patience = (periods * grid.period_s).max(seconds);
        if next <= newest + self.hold_ticks || self.now_s <= grid.time_of(next) + patience {
            return None;
        }
        self.position = tick + (next - index);
        (self.song, self.sounded) = (Song::Stopped, None);
        Some(Change::Stops)
    }

    /// The song begins with `tick` here, as the foot says: for a master that never sends Start. The tick nearest
    /// to `at_s` is meant.
    pub fn begin_here(&mut self, at_s: f64, tick: i64) -> Option<Change> {
        let at_s = self.advance(at_s);
        let grid = *self.tracker.grid()?;
        let index = grid.index + ((at_s - grid.at_s) / grid.period_s).round() as i64;
        self.song = Song::Running { index, tick };
        self.sounded = Some(Sounded { index, at_s });
        Some(Change::Begins { tick })
    }

    fn advance(&mut self, at_s: f64) -> f64 {
        self.now_s = at_s.max(self.now_s);
        self.now_s
    }

    fn is_running(&self) -> bool {
        matches!(self.song, Song::Running { .. })
    }

    fn stop(&mut self) -> Option<Change> {
        if let (Song::Running { index, tick }, Some(sounded)) = (self.song, self.sounded) {
            // Continue goes on with the tick that would have come.
            self.position = tick + (sounded.index + 1 - index);
        }
        let ran = self.is_running();
        self.song = Song::Stopped;
        self.sounded = None;
        ran.then_some(Change::Stops)
    }

    fn tick(&mut self, at_s: f64) -> Option<Change> {
        self.oddities.ticks += 1;
        if !self.is_running() && self.last_tick_s.is_some_and(|last| at_s - last > FORGET_S) {
            self.tracker.clear();
        }
        self.last_tick_s = Some(at_s);
        let place = self.tracker.tick(at_s);
        match place {
            BeatPlace::New { lost } => self.oddities.lost += lost.max(0) as u64,
            BeatPlace::Twin => self.oddities.twins += 1,
        }
        if let Song::Armed(tick) = self.song {
            // Many masters count anew at Start: the beat is this tick, wherever the line would have it.
            self.tracker.meet(at_s);
            let (index, _) = self.tracker.newest()?;
            self.song = Song::Running { index, tick };
            self.sounded = Some(Sounded {
                index: index - 1,
                at_s: f64::NEG_INFINITY,
            });
            return Some(Change::Begins { tick });
        }
        None
    }

    /// When the next tick sounds, unless a message comes before, in seconds; none while nothing runs.
    pub fn next_tick(&self) -> Option<f64> {
        self.next().map(|(_, at_s)| at_s)
    }

    fn next(&self) -> Option<(i64, f64)> {
        let Song::Running { index, tick } = self.song else {
            return None;
        };
        let sounded = self.sounded?;
        let next = sounded.index + 1;
        let (newest, newest_s) = self.tracker.newest()?;
        if next > newest + self.hold_ticks {
            return None;
        }
        let number = tick + (next - index);
        let Some(grid) = self.tracker.grid() else {
            // One tick alone tells nothing of the next.
            return (next <= newest).then_some((number, newest_s.max(self.now_s)));
        };
        Some((number, self.place(grid, next, sounded).max(self.now_s)))
    }

    /// When a tick sounds, a step towards the master's line from the tick before.
    fn place(&self, grid: &TickGrid, next: i64, sounded: Sounded) -> f64 {
        let meant = grid.time_of(next);
        if !sounded.at_s.is_finite() {
            return meant;
        }
        // A rough guess waits a little for the tick itself.
        let (newest, _) = self.tracker.newest().unwrap_or_default();
        let patience = if grid.count < ROUGH && next > newest {
            (3.0 * grid.doubt_s.max(grid.scatter_s)).min(0.2 * grid.period_s)
        } else {
            0.0
        };
        let off = sounded.at_s - grid.time_of(sounded.index);
        let most = (SLEW * grid.period_s)
            .max(off.abs() / SLEW_TICKS)
            .min(0.5 * grid.period_s);
        meant + off - off.clamp(-most, most) + patience
    }

    /// Takes the next tick, which sounds at the time that [`Follower::next_tick`] told.
    pub fn take_tick(&mut self) -> Option<PlayedTick> {
        self.take_tick_at(f64::NEG_INFINITY)
    }

    /// The same where it can sound at `at_s` only, later than it should; the next ones catch up.
    pub fn take_tick_at(&mut self, at_s: f64) -> Option<PlayedTick> {
        let (tick, due_s) = self.next()?;
        let at_s = at_s.max(due_s);
        self.advance(at_s);
        let sounded = self.sounded.as_mut()?;
        sounded.index += 1;
        sounded.at_s = at_s;
        Some(PlayedTick {
            at_s,
            tick,
            qpm: self.qpm(),
            state: self.state(at_s),
        })
    }

    /// The tempo, in quarter notes a minute, once two ticks came.
    pub fn qpm(&self) -> Option<f64> {
        let grid = self.tracker.grid()?;
        Some(60.0 / (TICKS_PER_QUARTER as f64 * grid.period_s))
    }

    /// Seconds from tick to tick, once two ticks came.
    pub fn period_s(&self) -> Option<f64> {
        self.tracker.grid().map(|grid| grid.period_s)
    }

    /// How far a tick of this master is usually off, in seconds, once two ticks came.
    pub fn scatter_s(&self) -> Option<f64> {
        self.tracker.grid().map(|grid| grid.scatter_s)
    }

    /// What was odd so far.
    pub fn oddities(&self) -> Oddities {
        self.oddities
    }

    /// Whether the song runs.
    pub fn runs(&self) -> bool {
        self.is_running()
    }

    /// How well the master is known at `at_s`.
    pub fn state(&self, at_s: f64) -> ClockState {
        let Some((_, last_s)) = self.tracker.newest() else {
            return ClockState::Waiting;
        };
        let Some(grid) = self.tracker.grid() else {
            return ClockState::Locking;
        };
        let silent = at_s - self.last_tick_s.unwrap_or(last_s);
        let (periods, seconds) = MISSED;
        if silent > (periods * grid.period_s).max(seconds) {
            return if self.is_running() {
                ClockState::Holding
            } else {
                ClockState::Waiting
            };
        }
        if grid.count >= LOCKED.0 && grid.doubt_period < LOCKED.1 {
            ClockState::Locked
        } else {
            ClockState::Locking
        }
    }
}

#[cfg(test)]
mod tests;
