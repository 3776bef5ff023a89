//! What is told of a pass that was judged: its verdicts, how the chorus went, the summary in the breath.

use crate::fretboard::fewest_positions;
use crate::judging::choice::Choice;
use crate::judging::judge::{Judged, Outcome};
use crate::judging::passes::{JudgedPass, PassRecord, Target};
use crate::judging::readiness::{Advice, Chorus};
use crate::judging::trading::Reentry;
use crate::plan::cues;
use crate::plan::steps;
use crate::plan::take::Missed;
use crate::practice::core::{Core, Spoken};
use crate::practice::event::{Effect, Record, Recorded};
use crate::practice::show;
use crate::speech::PhraseSet;
use crate::time::Frame;

impl Core {
    pub(super) fn tell(&mut self, done: JudgedPass) {
        let JudgedPass {
            stretch,
            judged,
            heard,
            notes,
            choice,
            backs,
        } = done;
        self.tell_backs(&stretch, &backs);
        if let Some(choice) = choice {
            return self.tell_choice(&stretch, choice);
        }
        if judged.verdicts.is_empty() {
            // He came back to the band, and had rested before.
            self.say_summary();
            return self.refresh();
        }
        let mut symbols = Vec::with_capacity(judged.verdicts.len());
        for (verdict, heard) in judged.verdicts.iter().zip(heard) {
            let place = verdict
                .target
                .or_else(|| {
                    let targets = &stretch.targets;
                    let after = targets.partition_point(|t| t.wanted.at_ms <= verdict.at_ms + 1.0);
                    after.checked_sub(1)
                })
                .and_then(|index| stretch.targets.get(index));
            // One symbol a verdict, also where a note came before all that was asked for.
            symbols.push(place.map(|place| place.symbol.clone()).unwrap_or_default());
            let Some(place) = place else { continue };
            let at = self.hearing.frame_of(verdict.at_ms);
            let what = Recorded::Verdict(Box::new(verdict.clone()), heard);
            self.record_heard(&stretch, place, at, what);
        }
        let targets = judged.verdicts.iter().filter(|v| v.target.is_some());
        let right = targets
            .clone()
            .filter(|verdict| verdict.outcome == Outcome::Right)
            .count();
        let (chorus, says) = self.weigh(&stretch, &judged, notes);
        let what = Recorded::Judged {
            targets: targets.count(),
            right,
            offset_ms: judged.offset_ms,
            tuning_cents: judged.tuning_cents,
            chorus,
            ready: says == Some(Advice::Ready),
        };
        if let (Some(last), Some(ends)) = (stretch.targets.last(), stretch.ends) {
            self.record_heard(&stretch, last, ends, what);
        }
        self.name_missed(&stretch, &judged);
        self.hearing
            .summary
            .add(&stretch.stage, stretch.round, &judged, symbols);
        if matches!(chorus, Some(Chorus::Clean | Chorus::Fair)) {
            self.hearing.summary.withdraw_offer();
        }
        match says {
            Some(Advice::Ready) => self.go_on_when_ready(&stretch),
            Some(Advice::Easier) => self.offer_easier(&stretch),
            None => {}
        }
        self.say_summary();
        self.refresh();
    }

    /// What was missed when a stage was first played is named again in the pass after it.
    fn name_missed(&mut self, stretch: &PassRecord, judged: &Judged) {
        let missed = Missed::when_first_played(&self.material.drill, stretch, judged);
        let is_now = stretch.key.take == self.takes;
        let (Some(missed), Some(take), true) = (missed, self.take.as_mut(), is_now) else {
            return;
        };
        let now = take.timeline.tick(self.now);
        take.name_missed(missed, now);
    }

    fn tell_backs(&mut self, stretch: &PassRecord, backs: &[Reentry]) {
        for back in backs {
            let frame = self.hearing.frame_of(back.at_ms);
            self.record_pass(stretch, frame, Recorded::Reentry(*back));
        }
        let (stage, round) = (&stretch.stage, stretch.round);
        self.hearing.summary.come_back(stage, round, backs);
    }

    fn tell_choice(&mut self, stretch: &PassRecord, mut choice: Choice) {
        choice.positions = fewest_positions(&self.settings.neck, &choice.keys);
        self.hearing
            .summary
            .choose(&stretch.stage, stretch.round, choice.clone());
        let frame = stretch.ends.unwrap_or(self.now);
        self.record_pass(stretch, frame, Recorded::Choice(Box::new(choice)));
        self.say_summary();
        self.refresh();
    }

    /// Tells something of a whole pass.
    fn record_pass(&mut self, stretch: &PassRecord, frame: Frame, what: Recorded) {
        self.out.push(Effect::Record(Record {
            frame,
            tick: None,
            bar: None,
            section: show::section_name(&self.material, &self.standing),
            stage: stretch.stage.clone(),
            pass: stretch.pass,
            what,
        }));
    }

    /// In the breath, if wished, in one sentence: where it ends before the next notes are named.
    fn say_summary(&mut self) {
        let is_silent = !self.settings.spoken_summary || self.settings.spoken == Spoken::Asked;
        if is_silent || self.hearing.is_waiting() || !self.standing.breathing {
            return;
        }
        let Some(take) = &self.take else { return };
        let now = take.timeline.tick(self.now);
        let Some(segment) = take.timeline.segment_at(now) else {
            return;
        };
        let standing = &segment.pass.standing;
        let stage = &standing.stage_of(&segment.pass.material).name;
        let round = standing.round(&segment.pass.material);
        let Some(sentence) = self.hearing.summary.sentence(stage, round) else {
            return;
        };
        let counts = steps::counts(&take.timeline);
        let before = counts.partition_point(|count| *count < segment.end());
        let Some(until) = before.checked_sub(2).map(|index| counts[index]) else {
            return;
        };
        let ms = |tick| take.ms(tick);
        let phrases = PhraseSet::plain(sentence);
        let planned = cues::announcement(phrases, &take.steps, &counts, now, until, &ms);
        let Some(cue) = planned else { return };
        self.say_in_time(cue);
    }

    fn record_heard(&mut self, stretch: &PassRecord, place: &Target, frame: Frame, what: Recorded) {
        self.out.push(Effect::Record(Record {
            frame,
            tick: Some(place.tick),
            bar: place.bar,
            section: place.section.clone(),
            stage: stretch.stage.clone(),
            pass: stretch.pass,
            what,
        }));
    }
}
