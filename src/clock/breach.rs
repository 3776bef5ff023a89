//! Whether the last ticks have left the line, so that the loop must open.

use super::kind::MasterKind;
use super::tracker::Tracker;
use super::window::{FittedLine, Window};

/// The loop opens when the last ticks are off the line by so many times what is expected.
const GATE: f64 = 5.0;
/// A single tick counts for at most so many times the scatter: one that is late tells little.
const CLIP: f64 = 3.5;
/// How many of the last ticks are looked at together.
const SPANS: [usize; 10] = [3, 4, 6, 8, 12, 16, 24, 32, 48, 64];
/// Ticks before the span that make a line to compare with.
const FEWEST_BEFORE: f64 = 8.0;

impl Tracker {
    pub(super) fn open_if_needed(&mut self) {
        let breach = match self.kinds.kind() {
            MasterKind::Scatters => self.breach(),
            MasterKind::Walks => self.breach_of_steps(),
        };
        if let Some(count) = breach {
            if count <= self.raw.len() {
                self.number_last(count);
            }
            self.window.reopen(count, true);
            self.fit();
        }
    }

    /// Whether the last ticks lie off the line through those before; how many of them, where most clearly so.
    fn breach(&self) -> Option<usize> {
        let grid = self.grid.as_ref()?;
        let (total, at_marks) = self.window.sums(&SPANS);
        let mut worst: Option<(f64, usize)> = None;
        for (span, last) in SPANS.into_iter().zip(&at_marks) {
            if self.window.open() <= span {
                break;
            }
            let Some(line) = Window::before(&total, last).line() else {
                break;
            };
            if line.n < FEWEST_BEFORE {
                break;
            }
            let (off, middle) = self.clipped_mean(span, &line, grid.scatter_s);
            let variance = 1.0 / span as f64 + line.variance(middle);
            let ratio = off.abs() / (grid.scatter_s * variance.sqrt());
            if ratio > GATE && worst.is_none_or(|(most, _)| ratio > most) {
                worst = Some((ratio, span));
            }
        }
        worst.map(|(_, span)| span)
    }

    fn clipped_mean(&self, span: usize, line: &FittedLine, scatter_s: f64) -> (f64, f64) {
        let (mut sum, mut x_sum) = (0.0, 0.0);
        for (x, u, _) in self.window.samples().take(span) {
            let limit = CLIP * scatter_s * (1.0 + line.variance(x)).sqrt();
            sum += (u - line.at(x)).clamp(-limit, limit);
            x_sum += x;
        }
        (sum / span as f64, x_sum / span as f64)
    }

    /// The same for a master whose phase walks: whether the last steps are longer or shorter than those before.
    fn breach_of_steps(&self) -> Option<usize> {
        let grid = self.grid.as_ref()?;
        let open = self.window.open();
        let newest = self.window.get(0)?;
        let oldest = self.window.get(open.checked_sub(1)?)?;
        let mut worst: Option<(f64, usize)> = None;
        for span in SPANS {
            if open < span + 1 + FEWEST_BEFORE as usize {
                break;
            }
            let middle = self.window.get(span)?;
            let (after, before) = (newest.index - middle.index, middle.index - oldest.index);
            let (after, before) = (after.max(1) as f64, before.max(1) as f64);
            let step = (newest.at_s - middle.at_s) / after;
            let usual = (middle.at_s - oldest.at_s) / before;
            let expected = grid.scatter_s * (1.0 / after + 1.0 / before).sqrt();
            let ratio = (step - usual).abs() / expected;
            if ratio > GATE && worst.is_none_or(|(most, _)| ratio > most) {
                worst = Some((ratio, span + 1));
            }
        }
        worst.map(|(_, span)| span)
    }
}
