//! From the times at which ticks came to the line on which they were meant: tempo and phase.
//!
//! A delay-locked loop whose bandwidth is that of a growing window (F. Adriaensen, "Using a DLL to filter time",
//! Linux Audio Conference 2005, has it fixed): the line through all ticks since the tempo last changed. Whether
//! it changed is judged in units of what the line itself expects to be off. Two kinds of unsteady master are
//! told apart: one that scatters around an even grid (the line averages it out), and one whose steps scatter, so
//! that its phase walks (the phase is then where the last tick was, and only the tempo is averaged).

use super::kind::{KindWatch, MasterKind};
use super::numbering::{LEARNING, PERIODS_S, numbered};
use super::steps::{EXPECTED_SCATTER, LEAST_SCATTER_S, Steps};
use super::window::{FittedLine, Sample, Window};
use arrayvec::ArrayVec;

/// What a lost or a doubled tick costs in the choice of a tick's number, as half a squared deviation.
const ODDITY: f64 = 5.0;
/// So many periods without a tick are a silence.
const SILENCE: f64 = 4.0;
/// A tick far off costs at most this.
const FAR: f64 = 14.0;
/// The first tick of a song may be so far off the line that was known before, in seconds, and be averaged.
const MEET_S: f64 = 0.001_5;
/// Two ticks nearer than this are one until the tempo is known, in seconds.
const TWIN_S: f64 = 0.006;

/// What a tick was found to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum BeatPlace {
    /// The next tick, or one after some that were lost.
    New {
        /// How many were lost before it.
        lost: i64,
    },
    /// A tick that had come already.
    Twin,
}

/// The line of ticks as it is believed at present.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TickGrid {
    /// The newest tick.
    pub(super) index: i64,
    /// When the newest tick was meant, in seconds.
    pub(super) at_s: f64,
    /// Seconds between ticks.
    pub(super) period_s: f64,
    /// How far a tick is expected to be off, in seconds.
    pub(super) scatter_s: f64,
    /// How far `at_s` is expected to be off, in seconds.
    pub(super) doubt_s: f64,
    /// How far the period is expected to be off, as a part of it.
    pub(super) doubt_period: f64,
    /// Ticks that made it.
    pub(super) count: usize,
}

impl TickGrid {
    /// When a tick is meant.
    pub(super) fn time_of(&self, index: i64) -> f64 {
        self.at_s + (index - self.index) as f64 * self.period_s
    }
}

/// Follows the ticks.
#[derive(Debug, Clone)]
pub(super) struct Tracker {
    pub(super) window: Window,
    pub(super) grid: Option<TickGrid>,
    pub(super) line: Option<FittedLine>,
    pub(super) kinds: KindWatch,
    /// When the last bytes came, twins too: the raw distances.
    pub(super) raw: ArrayVec<f64, LEARNING>,
}

impl Tracker {
    pub(super) fn new() -> Tracker {
        Tracker {
            window: Window::new(),
            grid: None,
            line: None,
            kinds: KindWatch::new(),
            raw: ArrayVec::new(),
        }
    }

    /// Forgets all.
    pub(super) fn clear(&mut self) {
        self.window.clear();
        (self.grid, self.line) = (None, None);
        self.raw.clear();
        self.kinds.clear();
    }

    /// The line; none before two ticks.
    pub(super) fn grid(&self) -> Option<&TickGrid> {
        self.grid.as_ref()
    }

    /// The newest tick's number and when it came.
    pub(super) fn newest(&self) -> Option<(i64, f64)> {
        self.window.get(0).map(|sample| (sample.index, sample.at_s))
    }

    /// Takes a tick that came at `at_s` (not before the one before).
    pub(super) fn tick(&mut self, at_s: f64) -> BeatPlace {
        if self.raw.is_full() {
            self.raw.remove(0);
        }
        self.raw.push(at_s);
        let Some((newest, newest_s)) = self.newest() else {
            self.window.push(Sample {
                index: 0,
                at_s,
                odd: false,
            });
            return BeatPlace::New { lost: 0 };
        };
        if self.window.len() < LEARNING {
            return self.learn(at_s);
        }
        if let Some(count) = self.jumped() {
            return self.begin_again(count);
        }
        let step = self.step_to(at_s, newest, newest_s);
        if step <= 0 {
            self.twin(at_s);
            return BeatPlace::Twin;
        }
        let index = newest + step;
        let odd = self.is_odd(at_s, index);
        self.window.push(Sample { index, at_s, odd });
        if let Some(count) = self.kinds.look(&self.window) {
            self.window.reopen(count, true);
        }
        self.fit();
        if self.grid.is_some() {
            self.open_if_needed();
        }
        BeatPlace::New { lost: step - 1 }
    }

    /// The newest tick came at `at_s` and is right, wherever the line would have it: if it lies off, the line
    /// moves there and keeps its tempo.
    pub(super) fn meet(&mut self, at_s: f64) {
        let Some(grid) = &self.grid else { return };
        let off = at_s - grid.at_s;
        if off.abs() <= MEET_S.max(3.0 * grid.scatter_s) {
            return;
        }
        self.window.shift(off);
        if self.window.len() > 0 {
            let sample = self.window.get_mut(0);
            (sample.at_s, sample.odd) = (at_s, false);
        }
        self.fit();
    }

    // --- the first ticks

    /// Numbers the first ticks anew with each that comes.
    fn learn(&mut self, at_s: f64) -> BeatPlace {
        let Some((newest, newest_s)) = self.newest() else {
            return BeatPlace::Twin;
        };
        let first_twin = self.window.len() < 3 && at_s - newest_s < TWIN_S;
        self.window.push(Sample {
            index: newest + 1,
            at_s,
            odd: false,
        });
        if first_twin && self.window.len() == 2 {
            // Nothing is known yet: it is kept for the numbering to come, and counts as nothing.
            self.window.get_mut(0).index = newest;
            return BeatPlace::Twin;
        }
        self.number_anew();
        self.fit();
        match self.newest().map_or(newest, |(index, _)| index) - newest {
            step if step > 0 => BeatPlace::New { lost: step - 1 },
            _ => BeatPlace::Twin,
        }
    }

    /// Numbers all ticks of the window by their distances.
    fn number_anew(&mut self) {
        let count = self.window.len().min(LEARNING);
        let times: ArrayVec<f64, LEARNING> = (0..count)
            .rev()
            .filter_map(|back| Some(self.window.get(back)?.at_s))
            .collect();
        let first = self
            .window
            .get(count.saturating_sub(1))
            .map_or(0, |s| s.index);
        for (number, (index, odd)) in numbered(&times).into_iter().enumerate() {
            let sample = self.window.get_mut(count - 1 - number);
            (sample.index, sample.odd) = (first + index, odd);
        }
    }

    /// The last `count` bytes are numbered by their own distances, because the line gave them wrong numbers.
    pub(super) fn number_last(&mut self, count: usize) {
        let from = self.raw.len().saturating_sub(count);
        let times: ArrayVec<f64, LEARNING> = self.raw[from..].iter().copied().collect();
        let Some(&first_s) = times.first() else {
            return;
        };
        while self
            .window
            .get(0)
            .is_some_and(|sample| sample.at_s > first_s)
        {
            self.window.pop();
        }
        let first = self.window.get(0).map_or(0, |sample| sample.index);
        for (at_s, (index, odd)) in times.iter().zip(numbered(&times)).skip(1) {
            let sample = Sample {
                index: first + index,
                at_s: *at_s,
                odd,
            };
            self.window.push(sample);
        }
    }

    // --- which tick it is

    /// How many ticks on from the newest this one is; 0: a twin.
    fn step_to(&self, at_s: f64, newest: i64, newest_s: f64) -> i64 {
        let Some(grid) = &self.grid else { return 1 };
        let near = ((at_s - grid.at_s) / grid.period_s).round() as i64 + grid.index - newest;
        let candidates = [0, 1, near - 1, near, near + 1];
        let cost = |step: i64| {
            let index = newest + step;
            let off = (at_s - grid.time_of(index)) / self.expected(index);
            let lost = if step > 1 {
                ODDITY * (1.0 + 0.05 * (step - 2).min(20) as f64)
            } else {
                0.0
            };
            let twin = if step == 0 { ODDITY } else { 0.0 };
            (off * off / 2.0).min(FAR + off.abs().min(1e6) * 1e-3) + lost + twin
        };
        // After a silence only its length tells how many were lost: who comes back may have another phase.
        let least = if at_s - newest_s > SILENCE * grid.period_s {
            (near - 1).max(1)
        } else {
            0
        };
        let allowed = candidates.into_iter().filter(|step| *step >= least);
        let best = allowed.min_by(|a, b| cost(*a).total_cmp(&cost(*b)));
        let walks = self.kinds.kind() == MasterKind::Walks && at_s - newest_s < 1.6 * grid.period_s;
        match best.unwrap_or(1) {
            _ if walks && at_s - newest_s > 0.3 * grid.period_s => 1,
            step => step,
        }
    }

    /// How far from the line a tick is expected to come, in seconds.
    fn expected(&self, index: i64) -> f64 {
        let (Some(grid), Some(line)) = (&self.grid, &self.line) else {
            return 1.0;
        };
        let on = (index - grid.index) as f64;
        match self.kinds.kind() {
            MasterKind::Scatters => grid.scatter_s * (1.0 + line.variance(on)).sqrt(),
            MasterKind::Walks => grid.scatter_s * (1.0 + on.abs()).sqrt(),
        }
    }

    fn is_odd(&self, at_s: f64, index: i64) -> bool {
        let Some(grid) = &self.grid else { return false };
        let off = (at_s - grid.time_of(index)).abs();
        off > 5.0 * self.expected(index) && self.kinds.kind() == MasterKind::Scatters
    }

    /// Of two ticks with one number the one nearer to the line counts.
    fn twin(&mut self, at_s: f64) {
        let Some(grid) = &self.grid else { return };
        let Some(newest) = self.window.get(0) else {
            return;
        };
        let meant = grid.time_of(newest.index);
        if newest.odd && (at_s - meant).abs() < (newest.at_s - meant).abs() {
            let odd = self.is_odd(at_s, newest.index);
            let sample = self.window.get_mut(0);
            (sample.at_s, sample.odd) = (at_s, odd);
            self.fit();
        }
    }

    // --- a jump of the tempo

    /// How many of the last ticks agree on quite another tempo.
    fn jumped(&self) -> Option<usize> {
        let grid = self.grid.as_ref()?;
        [5, 8].into_iter().find(|count| {
            let Some(from) = self.raw.len().checked_sub(*count) else {
                return false;
            };
            let last = &self.raw[from..];
            let steps = (count - 1) as f64;
            let mean = (last[count - 1] - last[0]) / steps;
            let off = (mean / grid.period_s - 1.0).abs();
            // The scatter of one step, and of the mean of them.
            let (usual, apart) = match self.kinds.kind() {
                MasterKind::Scatters => (grid.scatter_s * std::f64::consts::SQRT_2, steps),
                MasterKind::Walks => (grid.scatter_s, steps.sqrt()),
            };
            let squares = last
                .windows(2)
                .map(|pair| (pair[1] - pair[0] - mean).powi(2));
            let uneven = (squares.sum::<f64>() / steps).sqrt();
            let even = uneven < (0.1 * mean).max(1.3 * usual).min(0.25 * mean);
            let expected = usual / apart / grid.period_s;
            // Two doubled ticks in a row look like twice the tempo; three and a half would have to.
            let twice = *count == 5 && (mean / grid.period_s - 0.5).abs() < 0.08;
            let sound = (PERIODS_S.0..PERIODS_S.1).contains(&mean);
            even && sound && !twice && off > 0.14 && off > 6.0 * expected
        })
    }

    /// Begins anew with the last `count` ticks, by their own distances.
    fn begin_again(&mut self, count: usize) -> BeatPlace {
        let before = self.newest().map_or(0, |(index, _)| index);
        self.number_last(count);
        self.window.forget(count);
        self.kinds.clear();
        self.fit();
        let after = self.newest().map_or(0, |(index, _)| index);
        match after - before {
            step if step > 0 => BeatPlace::New { lost: step - 1 },
            _ => BeatPlace::Twin,
        }
    }

    // --- the line

    pub(super) fn fit(&mut self) {
        let (total, []) = self.window.sums(&[]);
        let Some(line) = total.line() else { return };
        let newest = self.window.get(0).unwrap_or_default();
        let (sum, n) = self.window.scatter(&line);
        let (expected, weight) = EXPECTED_SCATTER;
        let variance = (sum + weight * expected * expected) / ((n - 2.0).max(0.0) + weight);
        let scatter = variance.sqrt().max(LEAST_SCATTER_S);
        let (at, period, doubt, doubt_period) = match self.kinds.kind() {
            MasterKind::Scatters => {
                let doubt = scatter * line.variance(0.0).sqrt();
                let slope = scatter * line.slope_variance().sqrt();
                (line.at(0.0), line.slope, doubt, slope)
            }
            MasterKind::Walks => {
                let steps = Steps::of(&self.window);
                let grid = TickGrid {
                    index: newest.index,
                    at_s: newest.at_s,
                    period_s: steps.period_s,
                    scatter_s: steps.scatter_s,
                    doubt_s: steps.scatter_s,
                    doubt_period: steps.doubt_s / steps.period_s,
                    count: self.window.open(),
                };
                return self.set(grid, line);
            }
        };
        let grid = TickGrid {
            index: newest.index,
            at_s: newest.at_s + at,
            period_s: period,
            scatter_s: scatter,
            doubt_s: doubt,
            doubt_period: doubt_period / period,
            count: n as usize,
        };
        self.set(grid, line);
    }

    fn set(&mut self, grid: TickGrid, line: FittedLine) {
        let is_sane = (PERIODS_S.0 * 0.5..PERIODS_S.1 * 2.0).contains(&grid.period_s);
        if is_sane && grid.at_s.is_finite() {
            (self.grid, self.line) = (Some(grid), Some(line));
        }
    }
}
