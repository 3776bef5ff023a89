//! How a master is unsteady: around an even grid, or from tick to tick, so that its phase walks.

use super::steps::Steps;
use super::window::{KEPT, Window};

/// Ticks from which the kind of master is told.
const KIND: usize = 256;
/// As many are enough for a first judgement.
const KIND_FEW: usize = 64;
/// Before that, with so many ticks, a guess is made.
const GUESSED_FROM: std::ops::Range<usize> = 20..128;
/// A master is guessed to walk whose ticks are off their line so many times more (in squares) than its steps are off each
/// other. On a grid it is half as much; on a walk a fifteenth for each tick.
const WALK_MORE: f64 = 1.25;
/// Steps that scatter less do not walk, in seconds.
const WALK_S: f64 = 0.000_3;
/// The least second difference that is believed, in seconds.
const LEAST_BEND_S: f64 = 0.000_4;
/// How many of the last ticks count when a walk turns out to be a scatter.
const AFTER_A_WALK: usize = 96;

/// How the master is unsteady.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum MasterKind {
    /// Around an even grid.
    Scatters,
    /// From tick to tick.
    Walks,
}

/// Watches which kind it is.
#[derive(Debug, Clone)]
pub(super) struct KindWatch {
    kind: MasterKind,
    /// Second differences over 1 and over 8 ticks, the last ones, unsigned.
    near: [f32; KIND],
    far: [f32; KIND],
    seen: usize,
    /// The kind was guessed from the first ticks, and may be taken back.
    guessed: bool,
}

impl KindWatch {
    pub(super) fn new() -> KindWatch {
        KindWatch {
            kind: MasterKind::Scatters,
            near: [0.0; KIND],
            far: [0.0; KIND],
            seen: 0,
            guessed: false,
        }
    }

    /// Forgets all.
    pub(super) fn clear(&mut self) {
        (self.kind, self.seen, self.guessed) = (MasterKind::Scatters, 0, false);
    }

    /// What is believed.
    pub(super) fn kind(&self) -> MasterKind {
        self.kind
    }

    /// Looks at the newest tick. Where the kind turns out to be the other one: how many of the last ticks count from now
    /// on.
    ///
    /// Second differences tell a walk from a scatter: those over 8 ticks are as large as those over 1 on a grid
    /// (variance 6 each), on a walk eight times so (16 and 2). Medians, so that a jump of the tempo does not count.
    pub(super) fn look(&mut self, window: &Window) -> Option<usize> {
        let bend = |span: usize| {
            let (a, b, c) = (window.get(0)?, window.get(span)?, window.get(2 * span)?);
            let even = a.index - b.index == span as i64 && b.index - c.index == span as i64;
            even.then_some((a.at_s - 2.0 * b.at_s + c.at_s).abs() as f32)
        };
        let (near, far) = (bend(1)?, bend(8)?);
        let slot = self.seen % KIND;
        (self.near[slot], self.far[slot]) = (near, far);
        self.seen += 1;
        let known = self.seen.min(KIND);
        if known < KIND_FEW {
            return self.guess(window);
        }
        if !self.seen.is_multiple_of(4) {
            return None;
        }
        let (near, far) = (median(&self.near, known), median(&self.far, known));
        let ratio = (f64::from(far) / f64::from(near).max(LEAST_BEND_S)).powi(2);
        self.judge(ratio, known)
    }

    fn judge(&mut self, ratio: f64, known: usize) -> Option<usize> {
        let limit = if known < KIND { 4.0 } else { 2.5 };
        match self.kind {
            MasterKind::Scatters if ratio > limit => {
                self.kind = MasterKind::Walks;
                // What looked like changes of tempo was the walk: all of it counts.
                Some(KEPT)
            }
            MasterKind::Walks if self.guessed && ratio > limit => {
                self.guessed = false;
                None
            }
            MasterKind::Walks if (known == KIND || self.guessed) && ratio < 1.5 => {
                (self.kind, self.guessed) = (MasterKind::Scatters, false);
                Some(AFTER_A_WALK)
            }
            _ => None,
        }
    }

    /// The kind by the first ticks, while no change of tempo was seen among them.
    fn guess(&mut self, window: &Window) -> Option<usize> {
        let count = window.len();
        let whole = window.open() == count && GUESSED_FROM.contains(&count);
        if !whole || self.kind == MasterKind::Walks {
            return None;
        }
        let (all, []) = window.sums(&[]);
        let line = all.line()?;
        let (squares, n) = window.scatter(&line);
        let steps = Steps::of(window).scatter_s;
        if steps <= WALK_S || squares / (n - 2.0).max(1.0) <= WALK_MORE * steps * steps {
            return None;
        }
        (self.kind, self.guessed) = (MasterKind::Walks, true);
        Some(KEPT)
    }
}

fn median(values: &[f32; KIND], known: usize) -> f32 {
    let mut sorted = *values;
    let sorted = &mut sorted[..known];
    let middle = known / 2;
    *sorted.select_nth_unstable_by(middle, f32::total_cmp).1
}
