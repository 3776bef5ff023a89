//! How a player stands in time and in tune, so that it can be taken out of what is judged.

use crate::judging::rules::Rules;
use crate::judging::verdict::HeardNote;
use std::f64::consts::TAU;

/// The fewest notes that say anything about an offset or a tuning.
const FEWEST: usize = 4;
/// The newest notes that are kept.
const KEPT: usize = 32;

/// How a player stood in time and in tune so far in a take: a few notes alone say little.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PlayerBias {
    late_ms: Vec<f64>,
    cents: Vec<f64>,
}

impl PlayerBias {
    /// The take's tuning in cents, by these notes and those before them.
    pub(crate) fn tuning_cents(&mut self, played: &[HeardNote], rules: &Rules) -> f64 {
        let is_sure = |note: &&HeardNote| note.confidence >= rules.confidence;
        let sure = played.iter().filter(is_sure);
        keep(&mut self.cents, sure.map(|note| note.cents));
        if self.cents.len() < FEWEST {
            return 0.0;
        }
        // Cents go round: a guitar half a semitone flat reads now as +50 and now as -50. The mean of the directions
        // tells.
        let (mut x, mut y) = (0.0, 0.0);
        for cent in &self.cents {
            let angle = cent / 100.0 * TAU;
            (x, y) = (x + angle.cos(), y + angle.sin());
        }
        let around = y.atan2(x) / TAU * 100.0;
        let from_there = |cent: &f64| (cent - around + 50.0).rem_euclid(100.0) - 50.0;
        let off = median(self.cents.iter().map(from_there).collect());
        (around + off).clamp(-rules.tuning_cents, rules.tuning_cents)
    }

    /// The steady offset in ms, by how late these notes are and those before them; none where it is too much to be
    /// meant.
    pub(crate) fn offset_ms(&mut self, late_ms: impl Iterator<Item = f64>, rules: &Rules) -> f64 {
        keep(&mut self.late_ms, late_ms);
        if self.late_ms.len() < FEWEST {
            return 0.0;
        }
        let offset = median(self.late_ms.clone());
        if offset.abs() <= rules.offset_ms {
            offset
        } else {
            0.0
        }
    }
}

fn keep(kept: &mut Vec<f64>, new: impl Iterator<Item = f64>) {
    kept.extend(new);
    kept.drain(..kept.len().saturating_sub(KEPT));
}

/// The middle of some values, of which there is one at least.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    (values[(values.len() - 1) / 2] + values[values.len() / 2]) / 2.0
}
