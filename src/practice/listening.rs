//! What is heard: notes beside what was asked for, passes judged and told, chords out of time that go on when they were
//! right.

use super::armed::AskedBy;
use super::core::Core;
use super::event::{Effect, Record, Recorded};
use super::running::OnTop;
use super::settings::Spoken;
use super::summary_words;
use crate::drill::{Advance, Every};
use crate::foot::Action;
use crate::fretboard::fewest_positions;
use crate::judging::{
    Advice, Asking, Choice, Chorus, EarEvent, Finding, Judged, JudgedPass, MeantNote, Offer,
    Offered, PassRecord, PassResult, Reentry, Target, figure, missed_when_first_played,
};
use crate::plan::cues::CueAbout;
use crate::plan::landmarks::round_end;
use crate::speech::PhraseSet;
use crate::time::{Frame, Tick};

/// The steps of the tempo by ear, in quarter notes a minute: common practice of teachers, no source.
const QUICKER_QPM: f64 = 4.0;
const SLOWER_QPM: f64 = -8.0;

impl Core {
    /// Takes in what the ear tells.
    pub(super) fn heard(&mut self, told: EarEvent) {
        if let EarEvent::Reading { hz } = told {
            let (is_tuning, a4_hz) = (self.is_tuning(), self.settings.a4_hz);
            let tuner = self.board.tuner.as_mut().filter(|_| is_tuning);
            if tuner.is_some_and(|tuner| tuner.heard(hz, a4_hz)) {
                self.refresh();
            }
            return;
        }
        if let EarEvent::Input(report) = told {
            return self.heard_input(report);
        }
        self.heard.sounded(told);
        if self.is_held() && self.session.stage().advance == Advance::Right {
            let rate = self.settings.rate;
            let running = self.running_mut();
            let meant = running.and_then(|running| running.finding.heard(told, rate));
            let sure = self.settings.rules.confidence;
            if let Some(note) = meant.filter(|note| note.confidence >= sure) {
                self.heard_out_of_time(note);
            }
        }
    }

    /// A bar begins: what falls into it is asked for from now on, on the frames where it sounds.
    pub(super) fn ask_for_bar(&mut self, at: Tick) {
        let Some(running) = self.running() else {
            return;
        };
        let line = running.plan.timeline();
        let Some(here) = line.segment_at(at) else {
            return;
        };
        let asking = Asking {
            line,
            rate: self.settings.rate,
            take: running.number,
        };
        let bar = here.bar_at(at);
        let until = here.bar_start(bar + 1).min(here.end());
        let bars = here.pass.standing.form_bars(&here.pass.material).len();
        let (asked, back) = (asking.in_bar(at, until), asking.band_back_at(at, here));
        let (key, begins) = (asking.key(here), line.frame(here.start()));
        back.into_iter().for_each(|record| self.heard.ask(record));
        self.heard.end_before(key, begins);
        asked.into_iter().for_each(|record| self.heard.ask(record));
        self.heard.bar_comes(key, bar, bars);
    }

    /// Judges the passes that are over and heard.
    pub(super) fn judge_due(&mut self) {
        while let Some(done) = self.heard.judge_due(self.now, &self.settings.rules) {
            self.tell(done);
        }
    }

    /// Judges all that is over; the audio clock is gone.
    pub(super) fn judge_now(&mut self) {
        while let Some(done) = self.heard.judge_now(&self.settings.rules) {
            self.tell(done);
        }
    }

    /// Out of time the ear decides when it goes on.
    fn heard_out_of_time(&mut self, note: MeantNote) {
        let Some(running) = self.running() else {
            return;
        };
        let plan = &running.plan;
        let Some(segment) = plan.segment_at(plan.tick(self.now)) else {
            return;
        };
        let whole = figure(&segment.pass).len();
        let Some(verdict) = running.finding.verdict(&segment.pass, note) else {
            return;
        };
        let is_right = verdict.is_right();
        let what = Recorded::Verdict(Box::new(verdict), Some(note.onset), None);
        self.record_on(note.onset, what);
        let (times, rate) = (self.session.stage().passes.max(1), self.settings.rate);
        let find = self.session.stage().find;
        let octaves = find.map_or(0, |places| self.octaves_of(note.midi).min(places as usize));
        if let Some(running) = self.running_mut().filter(|_| is_right) {
            running.finding.found(note, whole, (times, octaves), rate);
        }
    }

    /// In how many octaves the neck has a note: an ear tells these apart, not strings.
    fn octaves_of(&self, midi: u8) -> usize {
        let neck = &self.settings.neck;
        let keys = (0..=127u8).filter(|key| key % 12 == midi % 12);
        keys.filter(|key| !neck.places(*key).is_empty()).count()
    }

    /// What was right has rung: the next chord.
    pub(super) fn go_on_when_found(&mut self) {
        let now = self.now;
        let running = self.running_mut();
        let Some(running) = running.filter(|running| running.finding.goes_on_by(now)) else {
            return;
        };
        running.finding = Finding::default();
        if self.is_held() {
            self.next_held(Action::NextStage, now);
            self.bind_switches();
            self.acknowledge();
        }
    }

    /// Tells of a pass that was judged: its verdicts, how the chorus went, the summary in the breath.
    fn tell(&mut self, done: JudgedPass) {
        let record = &done.record;
        self.tell_reentries(record, &done.reentries);
        match done.result {
            PassResult::Chosen(choice) => {
                let choice = self.tell_choice(record, choice);
                self.summary.choose(record, choice);
            }
            PassResult::Rested => {}
            PassResult::Judged {
                judged,
                heard,
                notes,
            } => {
                if let Some(choice) = done.chosen {
                    self.tell_choice(record, choice);
                }
                self.tell_verdicts(record, &judged, &heard);
                self.weigh(record, &judged, notes);
            }
        }
        self.say_summary();
        self.refresh();
    }

    /// The verdicts on a pass, each where its note was asked for.
    fn tell_verdicts(&mut self, record: &PassRecord, judged: &Judged, heard: &[Option<Frame>]) {
        for (verdict, heard) in judged.verdicts.iter().zip(heard) {
            if let Some(target) = record.target_of(verdict) {
                let at = Frame(0).plus_ms(verdict.at_ms, self.settings.rate);
                if let Some(known) = self.known.as_mut().filter(|_| verdict.target.is_some()) {
                    known.learn(verdict, &target.around);
                }
                let around = Box::new(target.around.clone());
                let what = Recorded::Verdict(Box::new(verdict.clone()), *heard, Some(around));
                self.record_heard(record, target, at, what);
            }
        }
    }

    /// Weighs a pass, if it was a whole chorus that counts, and does what it asks for with the one before.
    fn weigh(&mut self, record: &PassRecord, judged: &Judged, notes: usize) {
        let drill = &self.session.material.drill;
        let known = self.known.as_deref();
        let heard = (judged, notes);
        let (chorus, advice) = self.readiness.add_pass(drill, record, heard, known);
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
            self.session.offered = None;
        }
        match advice {
            Some(Advice::Ready) => self.go_on_when_ready(record),
            Some(Advice::Easier) => self.offer_easier(record),
            None => {}
        }
    }

    /// The stage is secure: where it wants that, the next one is armed as if the foot had asked for it, to be seen and
    /// called off.
    fn go_on_when_ready(&mut self, record: &PassRecord) {
        if !self.goes_on_as_in(record) {
            return;
        }
        let stage = self.session.stage();
        let is_last = self.session.standing.stage + 1 >= self.session.material.drill.stages.len();
        let is_free = self
            .running()
            .is_some_and(|running| running.armed.is_none());
        let (wants, by_ear) = (
            stage.advance == Advance::Ready && !is_last,
            stage.tempo_by_ear,
        );
        let standing = &self.session.standing;
        let is_at_full_tempo = standing.is_at_full_tempo(&self.session.material);
        // One thing at a time: the next stage, or the tempo.
        if !is_at_full_tempo {
            if stage.tempo.is_some_and(|tempo| tempo.every == Every::Ready) {
                self.quicken(1);
            }
        } else if wants && is_free {
            let next = OnTop::Actions(vec![Action::NextStage], AskedBy::ByItself);
            self.change(self.now, |_| next);
            self.acknowledge();
        } else if by_ear && !wants {
            self.tempo_by(QUICKER_QPM, self.now);
            self.acknowledge();
        } else if !wants {
            let stage = self.session.offer_harder(record.key.stage);
            let what = Offered::Harder;
            if stage.is_some() {
                self.summary.offer(record, Offer { what, stage });
            }
        }
    }

    /// Whether what sounds now goes on from a pass: the foot has changed nothing since.
    fn goes_on_as_in(&self, record: &PassRecord) -> bool {
        let (session, key) = (&self.session, &record.key);
        let standing = &session.standing;
        let same_stage = (key.take, key.stage) == (self.practised.takes, standing.stage);
        let same_tune =
            standing.looping == record.looping && session.material.tune() == record.tune;
        same_stage && same_tune && standing.longer == 1 && standing.pass >= key.pass
    }

    /// The stage's tempo a step up or down, where the round ends.
    fn quicken(&mut self, by: i32) {
        self.change(self.now, |change| {
            let (running, passes) = (change.running, &change.session.passes);
            let course = &mut running.plan.course;
            let cut = round_end(&course.timeline, change.from);
            let sounds = course.timeline.segment_at(Tick(cut.0 - 1));
            if let Some(before) = sounds.map(|segment| segment.pass.standing.clone()) {
                let mut cursor = course.cursor_at(cut);
                cursor.standing = cursor.standing.quickened(by, &cursor.material, &before);
                course.lead_to(cut, cursor, passes);
            }
            running.as_before(change.pending, change.from)
        });
        self.acknowledge();
    }

    /// Two rough choruses: slower where the stage wants that; else what would be easier stands in the breath.
    fn offer_easier(&mut self, record: &PassRecord) {
        let by_ear = self.session.stage().tempo_by_ear;
        if by_ear && !self.is_driven() && self.goes_on_as_in(record) {
            self.tempo_by(SLOWER_QPM, self.now);
            return self.acknowledge();
        }
        let steps = self.session.stage().tempo;
        let earned = self.session.standing.quicker > 0;
        if earned && steps.is_some_and(|tempo| tempo.every == Every::Ready) {
            if self.goes_on_as_in(record) {
                self.quicken(-1);
            }
            return;
        }
        let what = match (self.is_driven(), self.session.standing.stage) {
            (false, 0) => Offered::Slower,
            (false, _) => Offered::SlowerOrStageBefore,
            (true, 0) => Offered::LongerChords,
            (true, _) => Offered::StageBefore,
        };
        let stage = self.session.offer_easier(record.key.stage);
        self.summary.offer(record, Offer { what, stage });
    }

    /// What was missed when a stage was first played is named again in the pass after it.
    fn name_missed(&mut self, record: &PassRecord, judged: &Judged) {
        let missed = missed_when_first_played(&self.session.material.drill, record, judged);
        let now = self.tick_now();
        let running = self.running_mut();
        let running = running.filter(|running| running.number == record.key.take);
        if let (Some(missed), Some(now), Some(running)) = (missed, now, running) {
            running.plan.name_missed(missed, now);
        }
    }

    fn tell_reentries(&mut self, record: &PassRecord, reentries: &[Reentry]) {
        for reentry in reentries {
            let frame = Frame(0).plus_ms(reentry.at_ms, self.settings.rate);
            self.record_pass(record, frame, Recorded::Reentry(*reentry));
        }
        self.summary.come_back(record, reentries);
    }

    fn tell_choice(&mut self, record: &PassRecord, mut choice: Choice) -> Choice {
        choice.positions = fewest_positions(&self.settings.neck, &choice.keys);
        let frame = record.ends.unwrap_or(self.now);
        let what = Recorded::Choice(Box::new(choice.clone()));
        self.record_pass(record, frame, what);
        choice
    }

    /// In the breath, if wished, in one sentence: where it ends before the next notes are named.
    fn say_summary(&mut self) {
        let is_silent = !self.settings.spoken_summary || self.settings.spoken == Spoken::Asked;
        if is_silent || self.heard.is_waiting() || !self.session.standing.breathing {
            return;
        }
        let (Some(running), Some(now)) = (self.running(), self.tick_now()) else {
            return;
        };
        let plan = &running.plan;
        let cue = plan.segment_at(now).and_then(|segment| {
            let (standing, material) = (&segment.pass.standing, &segment.pass.material);
            let stage = &standing.stage_of(material).name;
            let summary = self.summary.of_round(stage, standing.round(material))?;
            let sentence = summary_words::sentence(&summary, self.settings.names)?;
            let until = plan.count_before(segment.end(), 1)?;
            // What is called before the next pass goes first.
            let called = plan
                .cues
                .all()
                .find(|cue| cue.about == CueAbout::Call && cue.deadline == segment.end());
            let until = called
                .and_then(|cue| cue.windows.last())
                .map_or(until, |window| window.0.min(until));
            plan.announcement(PhraseSet::plain(sentence), now, until)
        });
        if let Some(cue) = cue {
            self.say_in_time(cue);
        }
    }

    /// Tells something of a whole pass.
    fn record_pass(&mut self, record: &PassRecord, frame: Frame, what: Recorded) {
        let section = self.view().section();
        self.record_of(record, frame, (None, None, section), what);
    }

    /// Tells something of a place in a pass.
    fn record_heard(&mut self, record: &PassRecord, place: &Target, frame: Frame, what: Recorded) {
        let section = place.section.clone();
        self.record_of(record, frame, (Some(place.tick), place.bar, section), what);
    }

    fn record_of(
        &mut self,
        record: &PassRecord,
        frame: Frame,
        (tick, bar, section): (Option<Tick>, Option<u32>, String),
        what: Recorded,
    ) {
        self.out.push(Effect::Record(Record {
            frame,
            tick,
            bar,
            section,
            stage: record.stage.clone(),
            pass: record.pass,
            what,
        }));
    }
}
