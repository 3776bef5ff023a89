//! The steps from tick to tick, for a master whose phase walks: how long they are, and how they scatter.
//!
//! Of steps that scatter in any way the mean is known to the scatter by the root of their number. Where they lie evenly
//! between two sharp edges, the middle of the edges is known far better: its error falls with the number itself
//! (the midrange of a uniform distribution; a textbook matter, from memory). So the edges are looked for, and count
//! only where nothing speaks against them.
//!
//! # Why the edges of a master's steps?
//!
//! Of steps that scatter the mean is known to their scatter by the root of their
//! number: at 20 % (the test program's most) half a percent takes 13 s for the middle one of many masters, 49 s for 95 % of
//! them. But its steps lie evenly between two edges, and the middle of the edges is known to the edge by the number itself.
//! `clock/steps.rs` looks for edges and takes the mean where there are none. With it, and with the walk seen after half a second
//! (ticks lie farther off their line than steps off each other), 95 % of masters are held from 1.7, 2.4 and 3.7 s on at 5, 10
//! and 20 %; before it was 3.0, 39 and 60 s. The figures of ticks around a grid did not change.

use super::window::{KEPT, Window};
use arrayvec::ArrayVec;

/// The scatter that is expected before any was seen, in seconds, and how many ticks that counts for.
pub(super) const EXPECTED_SCATTER: (f64, f64) = (0.001, 4.0);
/// The least scatter that is believed of a source, in seconds.
pub(super) const LEAST_SCATTER_S: f64 = 0.000_15;
/// Edges are looked for from so many steps on.
const EDGES_FROM: usize = 20;
/// Farther from the middle than so many median deviations lies no step between two edges (they lie at two of them),
/// not counting a few that something else disturbed.
const BEYOND: f64 = 2.6;
/// Nor is one so many times farther from the next than they are on average (by chance once in e to the so many).
const GAP: f32 = 8.0;
/// Part of the steps that may lie there, besides one.
const DISTURBED: f64 = 0.01;
/// So many median deviations from the middle the edges must lie. Two for even scatter, one where there are but two
/// lengths, and more where the scatter has no edges.
const EDGES_AT: std::ops::RangeInclusive<f64> = 1.6..=2.5;
/// Scatter below this is that of a coarse clock, in seconds.
const COARSE_S: f64 = 0.000_1;
/// The mean may lie so many times its own error off the middle of the edges.
const AGREE: f64 = 3.5;

/// What is known of the steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Steps {
    /// Seconds from tick to tick.
    pub(super) period_s: f64,
    /// How far that may be off, in seconds.
    pub(super) doubt_s: f64,
    /// How far a step is usually off, in seconds.
    pub(super) scatter_s: f64,
}

impl Steps {
    /// Those of the window.
    pub(super) fn of(window: &Window) -> Steps {
        let open = window.open();
        let ends = (window.get(open.saturating_sub(1)), window.get(0));
        let (Some(first), Some(last)) = ends else {
            return Steps {
                period_s: 0.02,
                doubt_s: 1.0,
                scatter_s: 1.0,
            };
        };
        let ticks = (last.index - first.index).max(1) as f64;
        let mean = (last.at_s - first.at_s) / ticks;
        let mut single: ArrayVec<f32, KEPT> = ArrayVec::new();
        let mut squares = 0.0;
        for back in 1..open {
            let (Some(new), Some(old)) = (window.get(back - 1), window.get(back)) else {
                break;
            };
            let steps = (new.index - old.index) as f64;
            let off = new.at_s - old.at_s - steps * mean;
            squares += off * off;
            if steps == 1.0 {
                let _ = single.try_push(off as f32);
            }
        }
        let (expected, weight) = EXPECTED_SCATTER;
        let variance = (squares + weight * expected * expected) / (ticks - 1.0 + weight);
        let scatter_s = variance.sqrt().max(LEAST_SCATTER_S);
        match middle_of_edges(&mut single) {
            Some((off, doubt_s)) => Steps {
                period_s: mean + off,
                doubt_s,
                scatter_s,
            },
            None => Steps {
                period_s: mean,
                doubt_s: scatter_s / (open as f64).sqrt(),
                scatter_s,
            },
        }
    }
}

/// The middle of the two edges between which the values lie evenly, and how far it may be off; none where they have no
/// edges. The values come back in order.
fn middle_of_edges(values: &mut [f32]) -> Option<(f64, f64)> {
    let count = values.len();
    if count < EDGES_FROM {
        return None;
    }
    values.sort_unstable_by(f32::total_cmp);
    let median = values.get(count / 2).copied()?;
    let usual = median_deviation(values, median);
    if usual < COARSE_S {
        return None;
    }
    let inside = without_disturbed(values, median, (BEYOND * usual) as f32);
    let (low, high) = (f64::from(*inside.first()?), f64::from(*inside.last()?));
    let kept = inside.len() as f64;
    let mean = inside.iter().map(|value| f64::from(*value)).sum::<f64>() / kept;
    let (middle, edge) = (low.midpoint(high), (high - low) / 2.0);
    // Of even scatter the standard deviation is the edge by the root of three.
    let error_of_mean = edge / (3.0 * kept).sqrt();
    let fits = count as f64 - kept <= 1.0 + DISTURBED * count as f64
        && EDGES_AT.contains(&(edge / usual))
        && (mean - middle).abs() <= AGREE * error_of_mean;
    fits.then_some((middle, std::f64::consts::SQRT_2 * edge / kept))
}

/// The median of how far ordered values are from their median.
fn median_deviation(values: &[f32], median: f32) -> f64 {
    let mut off: ArrayVec<f32, KEPT> = ArrayVec::new();
    for value in values {
        let _ = off.try_push((value - median).abs());
    }
    let middle = off.len() / 2;
    f64::from(*off.select_nth_unstable_by(middle, f32::total_cmp).1)
}

/// Of ordered values those that nothing disturbed: no farther from the median than `beyond`, and none at an end with a
/// gap to the next that even scatter would hardly have.
fn without_disturbed(values: &[f32], median: f32, beyond: f32) -> &[f32] {
    let first = values.partition_point(|value| *value < median - beyond);
    let last = values.partition_point(|value| *value <= median + beyond);
    let mut inside = values.get(first..last).unwrap_or_default();
    while let [low, second, .., before, high] = inside {
        let usual = GAP * (before - second) / inside.len() as f32;
        inside = match () {
            () if second - low > usual => &inside[1..],
            () if high - before > usual => &inside[..inside.len() - 1],
            () => break,
        };
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Deviations in ms, repeated, each a little further on so that they are even.
    fn even(count: usize, edge_ms: f64) -> Vec<f32> {
        // A low-discrepancy row (multiples of the golden section).
        let part = |n: usize| (n as f64 * 0.618_033_988_749_895).fract();
        let value = |n: usize| (2.0 * part(n) - 1.0) * edge_ms / 1000.0;
        (0..count).map(|n| value(n) as f32).collect()
    }

    #[test]
    fn edges_are_found_where_there_are_some() {
        let shifted = |by_ms: f64| {
            let values = even(200, 2.0).into_iter();
            values.map(move |value| value + by_ms as f32 / 1000.0)
        };
        // Three lengths of a clock that counts milliseconds; two lengths; normal scatter; a few even ones.
        let coarse: Vec<f32> = (0..200)
            .map(|n| [0.0, 0.0, 0.001, 0.0, -0.001][n % 5])
            .collect();
        let two: Vec<f32> = (0..200).map(|n| [-0.001, 0.002][n % 3 % 2]).collect();
        let normal: Vec<f32> = (1..200)
            .map(|n| {
                // The quantiles of a logistic distribution, near enough to normal in its middle.
                let part = f64::from(n) / 200.0;
                (0.001 * (part / (1.0 - part)).ln()) as f32
            })
            .collect();
        let disturbed = shifted(0.0).chain([0.04, -0.002_2]).collect::<Vec<f32>>();
        for (what, mut values, middle_ms) in [
            ("even", shifted(0.0).collect::<Vec<f32>>(), Some(0.0)),
            ("even, to one side", shifted(0.5).collect(), Some(0.5)),
            ("even, two disturbed", disturbed, Some(0.0)),
            ("coarse", coarse, None),
            ("two lengths", two, None),
            ("normal", normal, None),
            ("few", even(10, 2.0), None),
        ] {
            let found = middle_of_edges(&mut values).map(|(middle, _)| middle * 1000.0);
            match (found, middle_ms) {
                (Some(found), Some(wanted)) => {
                    assert!((found - wanted).abs() < 0.02, "{what}: {found}");
                }
                (found, wanted) => assert_eq!(found, wanted, "{what}"),
            }
        }
    }
}
