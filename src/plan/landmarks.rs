//! Places on the line of ticks that a foot can mean: the end of the section, of the round, the bars around now.

use super::pass::PassKind;
use super::timeline::{Segment, Timeline};
use crate::time::Tick;
use std::sync::Arc;

/// The end of the section (or of what goes round) that sounds at `from`: where its last bar ends.
pub fn section_end(timeline: &Timeline, from: Tick) -> Tick {
    let Some(segment) = timeline.segment_at(from) else {
        return timeline.end();
    };
    if !matches!(segment.pass.kind, PassKind::Music(_)) {
        return segment.end();
    }
    let first = timeline.segments().next().map_or(from, Segment::start);
    // A bar line that is exactly `from` is still in time.
    let at = match timeline.bar_line(from) == from && from > first {
        true => Tick(from.0 - 1),
        false => from,
    };
    let mut item = None;
    for segment in timeline.segments().filter(|segment| segment.end() > at) {
        let pass = &segment.pass;
        for (index, bar) in segment.bars() {
            let start = segment.bar_start(index);
            let here = pass.material.form.bars[bar.form_bar].item;
            if start <= at {
                item = Some(here);
                continue;
            }
            let ends = index == 0 || item != Some(here);
            if ends || !matches!(pass.kind, PassKind::Music(_)) {
                return start;
            }
        }
    }
    timeline.end()
}

/// The end of the pass that sounds at `from`, and of the breath after it.
pub fn round_end(timeline: &Timeline, from: Tick) -> Tick {
    // A line that is exactly `from` is still in time.
    let before = timeline.segment_at(Tick(from.0 - 1));
    let before = before.filter(|segment| segment.end() == from);
    let Some(here) = before.or(timeline.segment_at(from)) else {
        return timeline.end();
    };
    let mut end = here.end();
    while let Some(next) = timeline.segment_at(end) {
        let (standing, next_one) = (&here.pass.standing, &next.pass.standing);
        let goes_on = next_one == standing || next_one.breathing;
        if !goes_on || next.end() <= end {
            break;
        }
        end = next.end();
    }
    end
}

/// A bar of the chart, as often as it comes where chords last longer, in the plan where the band plays.
#[derive(Debug, Clone, Copy)]
pub struct PlannedBar {
    /// Where it starts in the take.
    pub start: Tick,
    /// Where it ends, its last time.
    pub end: Tick,
    /// Its index among the bars of the form as the chart writes it.
    pub chart_bar: usize,
}

/// The two bars around a tick, in the order of playing, over the seam of the loop too: early in a bar the one before and
/// this one, else this one and the next; one where there is no neighbour; `None` where the band does not play.
pub fn spot_around(timeline: &Timeline, at: Tick) -> Option<Vec<PlannedBar>> {
    let here = timeline.segment_at(at)?;
    let mut bars: Vec<PlannedBar> = Vec::new();
    for segment in timeline.segments() {
        let like_here = Arc::ptr_eq(&segment.pass.material, &here.pass.material);
        if like_here && matches!(segment.pass.kind, PassKind::Music(_)) {
            add_bars(&mut bars, segment);
        }
    }
    let is_here = |bar: &PlannedBar| bar.start <= at && at < bar.end;
    let index = bars.iter().position(is_here)?;
    let bar = bars[index];
    let before = bars[..index].last().filter(|other| other.end == bar.start);
    let after = bars.get(index + 1).filter(|other| other.start == bar.end);
    let early = (at - bar.start).0 * 2 < (bar.end - bar.start).0;
    Some(match (before, after) {
        (Some(before), _) if early => vec![*before, bar],
        (_, Some(after)) => vec![bar, *after],
        (Some(before), None) => vec![*before, bar],
        (None, None) => vec![bar],
    })
}

/// Adds the bars of the chart that a segment plays. A change of tempo parts a pass in two: the bar goes on.
fn add_bars(bars: &mut Vec<PlannedBar>, segment: &Segment) {
    let times = segment.pass.material.chords_last() as usize;
    for (index, bar) in segment.bars() {
        let start = segment.bar_start(index);
        let end = start + bar.meter.bar_ticks();
        match bars.last_mut() {
            Some(last) if bar.form_bar % times != 0 && last.end == start => last.end = end,
            _ => bars.push(PlannedBar {
                start,
                end,
                chart_bar: bar.form_bar / times,
            }),
        }
    }
}
