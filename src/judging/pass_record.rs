//! What one pass asks for, and what is known of it.

use crate::drill::Drill;
use crate::judging::around::Around;
use crate::judging::choice::ChoiceSpan;
use crate::judging::reentry::BandReturn;
use crate::judging::rules::Rules;
use crate::judging::verdict::{Judged, Verdict, Wanted};
use crate::plan::material::Tune;
use crate::plan::missed::Missed;
use crate::plan::standing::Loop;
use crate::time::{Frame, Tick};

/// A note has its name so long after its beginning: a string, a voice.
const NAMED_MS: (f64, f64) = (300.0, 500.0);

/// A note that is asked for, and where it stands in the music.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Target {
    pub(crate) wanted: Wanted,
    pub(crate) tick: Tick,
    pub(crate) bar: Option<u32>,
    pub(crate) section: String,
    pub(crate) around: Around,
}

/// Which pass of which take: where its lap begins, its stage and its number there. A stage that changes within a lap makes
/// another pass of the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct PassKey {
    pub(crate) take: u32,
    pub(crate) origin: Tick,
    pub(crate) stage: usize,
    pub(crate) pass: u32,
}

/// What one pass asks for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PassRecord {
    pub(crate) key: PassKey,
    /// The chart and the key that are practised.
    pub(crate) tune: Tune,
    pub(crate) stage: String,
    /// The pass of the stage, from 1.
    pub(crate) pass: u32,
    /// The round of the stage's cycle.
    pub(crate) round: u32,
    pub(crate) sung: bool,
    pub(crate) looping: Loop,
    /// Whether it is the stage as its drill wants it: no hard spot, no longer chords by foot.
    pub(crate) as_asked: bool,
    /// Whether all its bars came, from the first to the last.
    pub(crate) whole: bool,
    pub(crate) targets: Vec<Target>,
    /// The chords over which the player chooses.
    pub(crate) spans: Vec<ChoiceSpan>,
    /// Where the band comes back.
    pub(crate) returns: Vec<BandReturn>,
    pub(crate) begins: Frame,
    /// None while it sounds, or is still to come.
    pub(crate) ends: Option<Frame>,
}

impl PassRecord {
    /// Whether it asks for nothing.
    pub(super) fn is_empty(&self) -> bool {
        self.targets.is_empty() && self.spans.is_empty() && self.returns.is_empty()
    }

    /// Takes in more of the same pass. A bar may be served twice where the plan grew with it.
    pub(super) fn extend(&mut self, more: PassRecord) {
        // The foot moved it to another key: it is no whole chorus of either.
        self.as_asked &= self.tune == more.tune;
        extend_after(&mut self.targets, more.targets, |new, known| {
            new.tick > known.tick
        });
        extend_after(&mut self.spans, more.spans, |new, known| {
            new.from_ms > known.from_ms + 1.0
        });
        extend_after(&mut self.returns, more.returns, |new, known| {
            new.at_ms > known.at_ms + 1.0
        });
    }

    /// Ends it on `at`: what it asks for from there on is not asked for any more.
    pub(super) fn cut(&mut self, at: Frame, rate: u32) {
        let at_ms = at.ms(rate);
        self.ends = Some(at);
        self.whole = false;
        self.targets
            .retain(|target| target.wanted.at_ms < at_ms - 1.0);
        self.spans.retain(|span| span.from_ms < at_ms - 1.0);
        // Who had no bar left to come back in was not late.
        self.returns
            .retain(|band| band.at_ms + band.bar_ms < at_ms + 1.0);
    }

    /// When the last note that may belong to a pass that ends so has its name.
    pub(super) fn due_ms(&self, ends_ms: f64, rules: &Rules) -> f64 {
        let last_ms = self.targets.last().map_or(ends_ms, |target| {
            let late_ms = 2.0 * rules.window_ms(target.wanted.beat_ms).1;
            target.wanted.at_last_ms + late_ms + rules.offset_ms
        });
        let named_ms = if self.sung { NAMED_MS.1 } else { NAMED_MS.0 };
        last_ms.max(ends_ms).max(self.back_by_ms()) + named_ms
    }

    /// Until when a player may come back to the band.
    pub(super) fn back_by_ms(&self) -> f64 {
        let last = self.returns.last();
        last.map_or(0.0, |band| band.at_ms + band.bar_ms + band.beat_ms)
    }

    /// What a verdict is about: its target, or the last one before a note without one.
    pub(crate) fn target_of(&self, verdict: &Verdict) -> Option<&Target> {
        let before = || {
            let is_over = |target: &Target| target.wanted.at_ms <= verdict.at_ms + 1.0;
            self.targets.partition_point(is_over).checked_sub(1)
        };
        self.targets.get(verdict.target.or_else(before)?)
    }
}

fn extend_after<T>(known: &mut Vec<T>, new: Vec<T>, is_after: impl Fn(&T, &T) -> bool) {
    let last = known.len().checked_sub(1);
    for item in new {
        if last.is_none_or(|last| is_after(&item, &known[last])) {
            known.push(item);
        }
    }
}

/// What was missed in a pass that was judged; `None` unless it is the first one of its stage that is played.
pub(crate) fn missed_when_first_played(
    drill: &Drill,
    record: &PassRecord,
    judged: &Judged,
) -> Option<Missed> {
    let mut stages = drill.stages.iter();
    let cycle = stages.find(|stage| stage.name == record.stage)?.cycle;
    let is_first = record.pass == cycle.listen + cycle.sing + 1;
    let missed = judged.verdicts.iter().filter(|verdict| verdict.is_missed());
    (is_first && !record.sung).then(|| Missed {
        stage: record.stage.clone(),
        // Counted from 0 it is the pass after this one, which is counted from 1.
        pass: record.pass,
        chords: missed.map(|verdict| verdict.chord).collect(),
    })
}
