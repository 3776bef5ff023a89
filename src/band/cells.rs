//! Comping cells: the rhythms of a bar, as steps (eighths) from its start.

use super::grid;
use crate::chart::Feel;
use crate::time::Meter;

/// A rhythm of one bar and how often it is wanted beside the others.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RhythmCell {
    pub steps: Vec<u8>,
    pub weight: f64,
}

fn cells(all: &[(&[u8], f64)]) -> Vec<RhythmCell> {
    all.iter()
        .map(|(steps, weight)| RhythmCell {
            steps: steps.to_vec(),
            weight: *weight,
        })
        .collect()
}

/// The cells for a bar that is the `index`th of its lap.
pub(super) fn for_bar(meter: Meter, feel: Feel, learning: bool, index: usize) -> Vec<RhythmCell> {
    // The longest meter, 32/1, has 256 steps: its last one is never struck.
    let steps = (meter.bar_ticks().0 / grid::step(meter).0).min(255) as u8;
    match (steps, feel) {
        _ if learning => plain(meter, steps),
        _ if meter.is_compound() => compound(meter.counts()),
        (8, Feel::Bossa) => bossa(index),
        // {1} {1,3} {1,2&} {1,3&} {2&}
        (8, Feel::Ballad) => cells(&[
            (&[0], 2.0),
            (&[0, 4], 2.0),
            (&[0, 3], 1.0),
            (&[0, 5], 1.0),
            (&[3], 0.5),
        ]),
        // Off the beat beside a drummer who has them all.
        (8, Feel::Shuffle) => cells(&[
            (&[3, 5], 1.2),
            (&[1, 5], 1.2),
            (&[0, 3], 1.0),
            (&[2, 5], 1.0),
            (&[2, 6], 1.0),
            (&[1, 3], 0.9),
            (&[3], 0.8),
            (&[0, 5], 0.8),
            (&[0, 4], 0.6),
            (&[1, 3, 5], 0.5),
        ]),
        // {1} {1,3} {1,2&} {2,4} {2&,4} {1&,4} {2&} {1,3&} {2,3&}
        (8, _) => cells(&[
            (&[0], 0.7),
            (&[0, 4], 0.8),
            (&[0, 3], 1.2),
            (&[2, 6], 1.0),
            (&[3, 6], 1.0),
            (&[1, 6], 1.0),
            (&[3], 0.8),
            (&[0, 5], 1.0),
            (&[2, 5], 1.0),
        ]),
        // {1,2&} {2,3} {2&}
        (6, _) => cells(&[(&[0, 3], 1.2), (&[2, 4], 1.0), (&[3], 0.8)]),
        // Five as three and two.
        (10, _) => cells(&[
            (&[0, 6], 1.2),
            (&[0, 3], 1.0),
            (&[3, 6], 1.0),
            (&[0, 5], 1.0),
            (&[2, 6], 1.0),
            (&[3], 0.7),
        ]),
        _ => general(steps),
    }
}

/// Learning: {1} {1,3} {1,2&}, as far as the bar has them.
fn plain(meter: Meter, steps: u8) -> Vec<RhythmCell> {
    let wanted: &[&[u8]] = if meter.is_compound() {
        &[&[0], &[0, 3], &[0, 6]]
    } else {
        &[&[0], &[0, 4], &[0, 3]]
    };
    wanted
        .iter()
        .filter(|cell| cell.iter().all(|step| *step < steps))
        .map(|cell| RhythmCell {
            steps: cell.to_vec(),
            weight: 1.0,
        })
        .collect()
}

/// {1,2&,4 | 2,3&} and {1,2,3&} carry it; thinner forms of the same two bars keep it from turning to stone.
fn bossa(index: usize) -> Vec<RhythmCell> {
    if index.is_multiple_of(2) {
        cells(&[
            (&[0, 3, 6], 3.0),
            (&[0, 2, 5], 1.5),
            (&[0, 3], 1.0),
            (&[0, 6], 0.7),
            (&[3, 6], 0.7),
        ])
    } else {
        cells(&[
            (&[2, 5], 3.0),
            (&[0, 2, 5], 1.5),
            (&[0, 5], 1.0),
            (&[2, 6], 0.7),
            (&[5], 0.5),
        ])
    }
}

/// None has the bar's last eighth: a stroke there is heard as the next chord's, so only a push may take it.
fn compound(counts: u8) -> Vec<RhythmCell> {
    let last = 3 * (counts - 1);
    let half = 3 * counts.div_ceil(2);
    let mut all = vec![
        (vec![0], 0.8),
        (vec![0, half], 1.2),
        (vec![0, half - 1], 1.0),
        (vec![2, half], 0.8),
    ];
    if counts >= 4 {
        all.push((vec![3, last], 1.0));
        all.push((vec![5, last], 0.8));
    }
    all.into_iter()
        .map(|(steps, weight)| RhythmCell { steps, weight })
        .collect()
}

fn general(steps: u8) -> Vec<RhythmCell> {
    let half = (steps / 4) * 2;
    let mut all = vec![RhythmCell {
        steps: vec![0],
        weight: 1.0,
    }];
    for late in [half, half.saturating_sub(1), steps.saturating_sub(2), 1] {
        if late > 0 && late < steps {
            all.push(RhythmCell {
                steps: vec![0, late],
                weight: 1.0,
            });
            all.push(RhythmCell {
                steps: vec![late],
                weight: 0.5,
            });
        }
    }
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Draws a cell as a bar: a letter for each step that is struck.
    fn picture(cell: &RhythmCell, steps: usize) -> String {
        (0..steps)
            .map(|step| {
                if cell.steps.contains(&(step as u8)) {
                    'x'
                } else {
                    '.'
                }
            })
            .collect()
    }

    fn pictures(meter: &str, feel: Feel, learning: bool, index: usize) -> Vec<String> {
        let meter: Meter = meter.parse().unwrap();
        let steps = (meter.bar_ticks().0 / grid::step(meter).0) as usize;
        for_bar(meter, feel, learning, index)
            .iter()
            .map(|cell| picture(cell, steps))
            .collect()
    }

    #[test]
    fn the_cells_of_the_trade() {
        // 1 & 2 & 3 & 4 &: common practice, no source
        assert_eq!(
            pictures("4/4", Feel::Swing, false, 0),
            [
                "x.......", "x...x...", "x..x....", "..x...x.", "...x..x.", ".x....x.", "...x....",
                "x....x..", "..x..x.."
            ]
        );
        assert_eq!(
            pictures("4/4", Feel::Swing, true, 0),
            ["x.......", "x...x...", "x..x...."]
        );
        assert_eq!(
            pictures("3/4", Feel::Waltz, false, 0),
            ["x..x..", "..x.x.", "...x.."]
        );
        assert_eq!(
            pictures("4/4", Feel::Bossa, false, 0)[..2],
            ["x..x..x.", "x.x..x.."]
        );
        assert_eq!(
            pictures("4/4", Feel::Bossa, false, 1)[..2],
            ["..x..x..", "x.x..x.."]
        );
    }

    #[test]
    fn every_meter_has_cells_within_its_bar() {
        for beats in 1..=32u8 {
            for unit in [1, 2, 4, 8, 16] {
                let meter = Meter::new(beats, unit).unwrap();
                let steps = meter.bar_ticks().0 / grid::step(meter).0;
                for feel in [
                    Feel::Swing,
                    Feel::Straight,
                    Feel::Bossa,
                    Feel::Waltz,
                    Feel::Ballad,
                    Feel::Shuffle,
                ] {
                    for (learning, index) in [(false, 0), (false, 1), (true, 0)] {
                        let cells = for_bar(meter, feel, learning, index);
                        assert!(!cells.is_empty(), "{meter}");
                        for cell in cells {
                            let fits = cell.steps.iter().all(|step| i64::from(*step) < steps);
                            assert!(fits && cell.steps.is_sorted(), "{meter} {cell:?}");
                        }
                    }
                }
            }
        }
    }
}
