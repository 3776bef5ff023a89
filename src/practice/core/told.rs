//! What is told of a pass that was judged: its verdicts, how the chorus went, the summary in the breath.

use crate::fretboard::fewest_positions;
use crate::judging::{
    Advice, Choice, Chorus, Judged, JudgedPass, PassRecord, PassResult, Reentry, Target,
    missed_when_first_played,
};
use crate::plan::cues;
use crate::plan::steps;
use crate::plan::take::Missed;
use crate::practice::core::{Core, Spoken};
use crate::practice::event::{Effect, Record, Recorded};
use crate::practice::show;
use crate::practice::summary_words;
use crate::speech::PhraseSet;
use crate::time::Frame;

impl Core {
    pub(super) fn tell(&mut self, done: JudgedPass) {
        let record = &done.record;
        self.tell_reentries(record, &done.reentries);
        match done.result {
            PassResult::Chosen(choice) => self.tell_choice(record, choice),
            PassResult::Rested => {}
            PassResult::Judged {
                judged,
                heard,
                notes,
            } => {
                self.tell_verdicts(record, &judged, &heard);
                self.tell_chorus(record, &judged, notes);
            }
        }
        self.say_summary();
        self.refresh();
    }

    /// The verdicts on a pass, each where its note was asked for.
    fn tell_verdicts(&mut self, record: &PassRecord, judged: &Judged, heard: &[Option<Frame>]) {
        for (verdict, heard) in judged.verdicts.iter().zip(heard) {
            let Some(target) = record.target_of(verdict) else {
                continue;
            };
            let at = Frame(0).plus_ms(verdict.at_ms, self.settings.rate);
            let what = Recorded::Verdict(Box::new(verdict.clone()), *heard);
            self.record_heard(record, target, at, what);
        }
    }

    /// How a pass went as a whole, and what comes of it.
    fn tell_chorus(&mut self, record: &PassRecord, judged: &Judged, notes: usize) {
        let (chorus, advice) = self.weigh(record, judged, notes);
        let what = Recorded::Judged {
            targets: judged.targets().count(),
            right: judged.targets().filter(|v| v.is_right()).count(),
            offset_ms: judged.offset_ms,
            tuning_cents: judged.tuning_cents,
            chorus,
            ready: advice == Some(Advice::Ready),
        };
        if let (Some(last), Some(ends)) = (record.targets.last(), record.ends) {
            self.record_heard(record, last, ends, what);
        }
        self.name_missed(record, judged);
        self.summary.add(record, judged);
        if matches!(chorus, Some(Chorus::Clean | Chorus::Fair)) {
            self.summary.withdraw_offer();
        }
        match advice {
            Some(Advice::Ready) => self.go_on_when_ready(record),
            Some(Advice::Easier) => self.offer_easier(record),
            None => {}
        }
    }

    /// What was missed when a stage was first played is named again in the pass after it.
    fn name_missed(&mut self, record: &PassRecord, judged: &Judged) {
        let missed = missed_when_first_played(&self.material.drill, record, judged);
        let is_now = record.key.take == self.takes;
        let (Some((stage, pass, chords)), Some(take), true) = (missed, self.take.as_mut(), is_now)
        else {
            return;
        };
        let now = take.timeline.tick(self.now);
        let missed = Missed {
            stage,
            pass,
            chords,
        };
        take.name_missed(missed, now);
    }

    fn tell_reentries(&mut self, record: &PassRecord, reentries: &[Reentry]) {
        for reentry in reentries {
            let frame = Frame(0).plus_ms(reentry.at_ms, self.settings.rate);
            self.record_pass(record, frame, Recorded::Reentry(*reentry));
        }
        self.summary.come_back(record, reentries);
    }

    fn tell_choice(&mut self, record: &PassRecord, mut choice: Choice) {
        choice.positions = fewest_positions(&self.settings.neck, &choice.keys);
        self.summary.choose(record, choice.clone());
        let frame = record.ends.unwrap_or(self.now);
        self.record_pass(record, frame, Recorded::Choice(Box::new(choice)));
    }

    /// Tells something of a whole pass.
    fn record_pass(&mut self, record: &PassRecord, frame: Frame, what: Recorded) {
        self.out.push(Effect::Record(Record {
            frame,
            tick: None,
            bar: None,
            section: show::section_name(&self.material, &self.standing),
            stage: record.stage.clone(),
            pass: record.pass,
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
        let summary = self.summary.of_round(stage, round);
        let names = self.settings.names;
        let sentence = summary.and_then(|summary| summary_words::sentence(&summary, names));
        let Some(sentence) = sentence else { return };
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

    fn record_heard(&mut self, record: &PassRecord, place: &Target, frame: Frame, what: Recorded) {
        self.out.push(Effect::Record(Record {
            frame,
            tick: Some(place.tick),
            bar: place.bar,
            section: place.section.clone(),
            stage: record.stage.clone(),
            pass: record.pass,
            what,
        }));
    }
}
