//! What comes of how the last choruses went: the next stage by itself, where the stage wants that, or the offer of
//! something easier in the breath.

use crate::drill::{Advance, Stage};
use crate::judging::{Advice, Chorus, ChorusPart, Easier, Judged, PassRecord, Weighed};
use crate::practice::core::Core;

/// The steps of the tempo by ear, in quarter notes a minute: common practice of teachers, no source.
const QUICKER_QPM: f64 = 4.0;
const SLOWER_QPM: f64 = -8.0;

impl Core {
    /// Weighs a pass that was judged, if it was a whole chorus that counts, and tells what it says with the one before.
    pub(super) fn weigh(
        &mut self,
        record: &PassRecord,
        judged: &Judged,
        notes: usize,
    ) -> (Option<Chorus>, Option<Advice>) {
        let mut stages = self.material.drill.stages.iter();
        let stage = stages.find(|stage| stage.name == record.stage);
        let Some(stage) = stage.filter(|stage| counts(stage, record)) else {
            return (None, None);
        };
        let Some(weighed) = Weighed::new(stage, judged, notes) else {
            return (None, None);
        };
        let chorus = weighed.chorus;
        let had_its_passes = record.pass >= stage.passes;
        let part = ChorusPart {
            stage: record.stage.clone(),
            looping: record.looping.clone(),
            tune: record.tune.clone(),
        };
        let says = self.readiness.add(part, weighed, had_its_passes);
        (Some(chorus), says)
    }

    /// The stage is secure: where it wants that, the next one is armed as if the foot had asked for it, to be seen and
    /// called off.
    pub(super) fn go_on_when_ready(&mut self, record: &PassRecord) {
        let stage = self.standing.stage_of(&self.material);
        let is_last = self.standing.stage + 1 >= self.material.drill.stages.len();
        let is_free = self.take.as_ref().is_some_and(|take| take.armed.is_none());
        let wants = stage.advance == Advance::Ready && !is_last;
        let by_ear = stage.tempo_by_ear;
        if !self.goes_on_as_in(record) {
            return;
        }
        // One thing at a time: the next stage, or the tempo.
        if wants && is_free {
            self.arm_by_itself(self.now);
            self.acknowledge();
        } else if by_ear && !wants {
            self.tempo_by_itself(QUICKER_QPM);
        }
    }

    fn tempo_by_itself(&mut self, step_qpm: f64) {
        self.tempo_by(step_qpm, self.now);
        self.acknowledge();
    }

    /// Whether what sounds now goes on from a pass: the foot has changed nothing since.
    fn goes_on_as_in(&self, record: &PassRecord) -> bool {
        let (standing, key) = (&self.standing, &record.key);
        let same_stage = (key.take, key.stage) == (self.takes, standing.stage);
        let same_tune = standing.looping == record.looping && self.material.tune() == record.tune;
        same_stage && same_tune && standing.longer == 1 && standing.pass >= key.pass
    }

    /// Two rough choruses: slower where the stage wants that; else what would be easier stands in the breath.
    pub(super) fn offer_easier(&mut self, record: &PassRecord) {
        let by_ear = self.standing.stage_of(&self.material).tempo_by_ear;
        if by_ear && !self.is_driven() && self.goes_on_as_in(record) {
            return self.tempo_by_itself(SLOWER_QPM);
        }
        let easier = match (self.is_driven(), self.standing.stage) {
            (false, 0) => Easier::Slower,
            (false, _) => Easier::SlowerOrStageBefore,
            (true, 0) => Easier::LongerChords,
            (true, _) => Easier::StageBefore,
        };
        self.summary.offer(record, easier);
    }
}

/// Whether a pass says something about its stage: all of it, as the stage wants it, played where the stage is played.
fn counts(stage: &Stage, record: &PassRecord) -> bool {
    record.whole && record.as_asked && (!record.sung || stage.cycle.play == 0)
}
