//! What is counted before the first bar, and the count that sounds.

use crate::plan::steps::PlanStep;
use crate::time::{Part, Tick};

/// All that is counted in a count-in, a dash where a count is silent, and which of it sounds.
pub(super) fn counted(step: &PlanStep, now: Tick) -> (Vec<String>, usize) {
    let clicks = step
        .pass
        .notes
        .iter()
        .filter(|note| note.part == Part::Click);
    let clicks: Vec<Tick> = clicks.map(|note| note.at).collect();
    let (mut counts, mut at) = (Vec::new(), 0);
    for bar in &step.pass.lap.bars {
        let mut number = 0;
        for count in 0..i64::from(bar.meter.counts()) {
            let start = bar.start + Tick(count * bar.meter.count_ticks().0);
            if step.origin + start <= now {
                at = counts.len();
            }
            let sounds = clicks.contains(&start);
            number += usize::from(sounds);
            counts.push(match sounds {
                true => number.to_string(),
                false => "-".to_string(),
            });
        }
    }
    (counts, at)
}

/// The count that sounds in a step's bar, and how many the bar has.
pub(super) fn count_at(step: &PlanStep, now: Tick) -> (u32, u32) {
    let bars = &step.pass.lap.bars;
    let within = now - step.origin;
    let bar = bars.iter().rev().find(|bar| bar.start <= within);
    bar.or(bars.first()).map_or((1, 4), |bar| {
        let count = (within - bar.start).0 / bar.meter.count_ticks().0 + 1;
        (count.max(1) as u32, u32::from(bar.meter.counts()))
    })
}
