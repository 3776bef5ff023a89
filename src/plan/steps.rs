//! The plan as a row of steps: one for each chord (or rest) in the order of playing, with absolute ticks.
//! Pages and voice read it.

use super::pass::{Pass, PassKind};
use super::timeline::Timeline;
use crate::drill::Phase;
use crate::drill::TargetSet;
use crate::time::Tick;
use std::sync::Arc;

/// One chord of the plan, or a stretch without one.
#[derive(Debug, Clone)]
pub struct PlanStep {
    /// Where it starts in the take.
    pub start: Tick,
    pub end: Tick,
    /// The pass it belongs to.
    pub pass: Arc<Pass>,
    /// Where the pass's lap starts in the take.
    pub origin: Tick,
    /// The chord of the pass's lap; `None`: count-in or breath.
    pub chord: Option<usize>,
    /// Where its target notes fall, in the take, straight.
    pub places: Vec<Tick>,
}

impl PlanStep {
    /// The target set; empty without a chord.
    pub fn set(&self) -> Option<&TargetSet> {
        self.pass.targets.get(self.chord?)
    }

    /// The length of a count in its first bar.
    pub fn pass_count(&self) -> Tick {
        let bar = self
            .chord
            .map_or(0, |chord| self.pass.lap.chords[chord].bar);
        let meter = self.pass.lap.bars.get(bar).map(|bar| bar.meter);
        meter.unwrap_or(crate::time::Meter::COMMON).count_ticks()
    }

    /// Whether the player only listens here: places then bind neither page nor voice.
    pub fn is_listening(&self) -> bool {
        self.pass.kind == PassKind::Music(Phase::Listen)
    }

    /// The chord's index in the form, where it is one of the form's.
    pub fn form_chord(&self) -> Option<usize> {
        if self.pass.of_pickup {
            return None;
        }
        self.chord
            .map(|chord| self.pass.lap.chords[chord].form_chord)
    }
}

/// The steps of a plan in order, without gaps.
pub fn steps(timeline: &Timeline) -> Vec<PlanStep> {
    let mut steps: Vec<PlanStep> = Vec::new();
    for segment in timeline.segments() {
        let (start, end) = (segment.start(), segment.end());
        let step = |chord: Option<usize>, from: Tick, to: Tick, places: Vec<Tick>| PlanStep {
            start: from,
            end: to,
            pass: segment.pass.clone(),
            origin: segment.origin,
            chord,
            places,
        };
        let is_count_in = segment.pass.kind == PassKind::CountIn;
        if segment.pass.lap.chords.is_empty() || is_count_in {
            steps.push(step(None, start, end, Vec::new()));
            continue;
        }
        for (index, chord) in segment.pass.lap.chords.iter().enumerate() {
            let from = (segment.origin + chord.start).max(start);
            let to = (segment.origin + chord.start + chord.len).min(end);
            if from >= to {
                continue;
            }
            let set = segment.pass.targets.get(index);
            let notes = set.map_or(&[][..], |set| &set.notes[..]);
            let rhythm = set.map_or(&[][..], |set| &set.rhythm[..]);
            let places = notes.iter().map(|note| note.at);
            let places = places.chain(rhythm.iter().map(|(_, at)| *at));
            let places = places.map(|at| at + segment.origin);
            steps.push(step(
                Some(index),
                from,
                to,
                places.filter(|at| *at < to).collect(),
            ));
        }
    }
    steps
}

/// Every count of the plan, in order.
pub fn counts(timeline: &Timeline) -> Vec<Tick> {
    let mut counts = Vec::new();
    for segment in timeline.segments() {
        for (index, bar) in segment.bars() {
            let start = segment.bar_start(index);
            let each = bar.meter.count_ticks();
            counts.extend(
                (0..i64::from(bar.meter.counts())).map(|count| start + Tick(count * each.0)),
            );
        }
    }
    counts
}
