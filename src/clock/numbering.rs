//! Which tick is which, from the distances between a few of them alone.

use super::window::Sums;
use arrayvec::ArrayVec;

/// Seconds between ticks at 300 and at 20 quarters a minute, with a little room at both ends.
pub(super) const PERIODS_S: (f64, f64) = (60.0 / 24.0 / 330.0, 60.0 / 24.0 / 18.0);
/// So few ticks are numbered by the distances between them alone.
pub(super) const LEARNING: usize = 12;
/// What a lost or a doubled tick costs in the choice of numbers, as half a squared deviation.
const ODDITY_AT_FIRST: f64 = 3.2;
/// No clock is taken for more even than this part of a period, while it is learned.
const EVEN: f64 = 0.01;
/// Where every tick comes in a pair from the start, it may be a doubled slow clock or a bunched fast one. Above
/// this tempo it is taken for doubled.
const PAIRED_QPM: f64 = 200.0;

/// The numbers of a few ticks by the distances between them, the first 0, and whether each is left aside. Of all
/// readings the likeliest is taken: how even the ticks then are against how many were lost or doubled.
pub(super) fn numbered(times: &[f64]) -> ArrayVec<(i64, bool), LEARNING> {
    let gaps: ArrayVec<f64, LEARNING> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    if are_paired(&gaps) {
        // Of pairs those count that agree with the very first tick.
        return (0..times.len() as i64)
            .map(|index| (index, index % 2 != 0))
            .collect();
    }
    let spans = times.windows(3).map(|three| (three[2] - three[0]) / 2.0);
    let periods = gaps.iter().copied().chain(spans);
    let usable = periods.filter(|period| *period > PERIODS_S.0 * 0.6);
    let readings = usable.map(|period| read(times, period));
    let best = readings.min_by(|a, b| a.1.total_cmp(&b.1));
    best.map_or_else(
        || {
            (0..times.len() as i64)
                .map(|index| (index, false))
                .collect()
        },
        |(numbers, _)| numbers,
    )
}

/// The numbers of ticks `period` apart, and how unlikely that is.
fn read(times: &[f64], period: f64) -> (ArrayVec<(i64, bool), LEARNING>, f64) {
    let mut numbers: ArrayVec<(i64, bool), LEARNING> = ArrayVec::new();
    let (mut index, mut last, mut oddities) = (0, times.first().copied().unwrap_or(0.0), 0);
    let mut window = Sums::default();
    for (count, at_s) in times.iter().enumerate() {
        let step = ((at_s - last) / period).round() as i64;
        let twin = count > 0 && step == 0;
        if !twin {
            (index, last) = (index + step, *at_s);
            window.add(index as f64, at_s - times[0]);
        }
        oddities += if twin { 1 } else { (step - 1).max(0) };
        let _ = numbers.try_push((index, twin));
    }
    let Some(line) = window.line().filter(|line| line.slope > 0.0) else {
        return (numbers, f64::MAX);
    };
    let squares = times.iter().zip(&numbers).filter(|(_, (_, twin))| !twin);
    let squares: f64 = squares
        .map(|(at_s, (index, _))| (at_s - times[0] - line.at(*index as f64)).powi(2))
        .sum();
    let free = (line.n - 2.0).max(0.0);
    let scatter = squares / free.max(1.0) / line.slope.powi(2) + EVEN * EVEN;
    (
        numbers,
        free / 2.0 * scatter.ln() + ODDITY_AT_FIRST * oddities as f64,
    )
}

/// Whether ticks come in pairs, two at a time, and rather a fast clock bunched than a slow one doubled.
fn are_paired(gaps: &[f64]) -> bool {
    let most = gaps.iter().copied().fold(0.0, f64::max);
    let alternate = gaps
        .windows(2)
        .all(|two| (two[0] < 0.3 * most) != (two[1] < 0.3 * most));
    let pairs = gaps.len() / 2 * 2;
    let period = gaps[..pairs].iter().sum::<f64>() / pairs.max(1) as f64;
    gaps.len() >= 3 && alternate && 60.0 / (24.0 * period) <= PAIRED_QPM
}
