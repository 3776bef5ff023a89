//! What the voice says: cues handed over in their time, what a foot asks for, chords out of time.

use super::core::Core;
use super::event::{Effect, Recorded, Saying};
use super::page::NO_CHART;
use super::running::State;
use super::settings::Spoken;
use super::telling::say_again;
use super::voice::CueOnItsWay;
use crate::audio::{Command, CueForm};
use crate::drill::Voice;
use crate::plan::cues::{CueAbout, PlannedCue, Windows, phrases_of};
use crate::plan::pass::PassKind;
use crate::plan::steps::PlanStep;
use crate::speech::{self, FormLimit, PhraseSet};
use crate::time::{Frame, Tick};
use std::collections::VecDeque;
use std::ops::Range;

impl Core {
    /// A cue's time has come: it is handed over, or it is told that it finds no room.
    pub(super) fn hand_over_cue(&mut self, cue: PlannedCue) {
        if !self.is_spoken(cue.about) {
            return;
        }
        if cue.windows.is_empty() || cue.limit == FormLimit::None {
            return self.not_said(&cue.phrases, Some(cue.deadline), cue.about);
        }
        self.say_in_time(cue);
    }

    /// Whether the player wants to be told this at all.
    fn is_spoken(&self, about: CueAbout) -> bool {
        match self.settings.spoken {
            Spoken::Drill => true,
            Spoken::Sections => about.form_chord().is_none(),
            Spoken::Asked => false,
        }
    }

    /// Hands over a cue that is to sound in one of its windows.
    pub(super) fn say_in_time(&mut self, cue: PlannedCue) {
        let deadline = Some(cue.deadline);
        let said = (cue.phrases, cue.limit, cue.about);
        self.say(said, deadline, (cue.windows, cue.otherwise), None);
    }

    /// Says all of something on a frame, or as soon after as it can be.
    pub(super) fn say_whole(&mut self, phrases: PhraseSet, about: CueAbout, at: Frame) -> u32 {
        let said = (phrases, FormLimit::Full, about);
        self.say(said, None, Default::default(), Some(at))
    }

    /// Says where the menu stands, in place of where it stood: who asks by foot is answered at once, as by "say again".
    pub(super) fn say_choice_word(&mut self, phrases: PhraseSet, stamp: Frame) {
        self.hush_choice(stamp);
        self.voice.choice = Some(self.say_whole(phrases, CueAbout::Name, self.earliest(stamp)));
    }

    /// The word of the menu that may still sound is not wanted any more.
    pub(super) fn hush_choice(&mut self, stamp: Frame) {
        let Some(id) = self.voice.choice.take() else {
            return;
        };
        let at = self.earliest(stamp);
        for cue in self.voice.hush_wrong(|cue| cue.id != id) {
            self.send(hush(at, cue.id..cue.id + 1));
        }
    }

    fn say(
        &mut self,
        (phrases, limit, about): (PhraseSet, FormLimit, CueAbout),
        deadline: Option<Tick>,
        (windows, otherwise): (Windows, VecDeque<Windows>),
        now: Option<Frame>,
    ) -> u32 {
        let cue = phrases.clone();
        let id = self.voice.hand(cue, limit, deadline, about, otherwise);
        self.out.push(Effect::Say(Saying {
            id,
            phrases,
            limit,
            windows,
            now,
        }));
        id
    }

    /// The player tells that a cue sounds.
    pub(super) fn cue_started(&mut self, id: u32, form: CueForm, frame: Frame, end: Frame) {
        let Some(cue) = self.voice.started(id, end, self.now) else {
            return;
        };
        let choices = cue.phrases.choices(cue.limit);
        let said = choices.iter().find(|(choice, _)| *choice == form);
        let text = said.map(|(_, text)| (*text).to_string());
        let what = Recorded::Say {
            text: text.unwrap_or_default(),
            form,
            end: Some(end),
            deadline: cue.deadline.and_then(|tick| self.frame_of(tick)),
            index: cue.about.form_chord(),
        };
        self.record_on(frame, what);
    }

    /// The player tells that a cue found no room.
    pub(super) fn cue_skipped(&mut self, id: u32) {
        let Some((mut cue, is_wanted)) = self.voice.skipped(id) else {
            return;
        };
        match cue.otherwise.pop_front().filter(|_| is_wanted) {
            Some(windows) => {
                let said = (cue.phrases, cue.limit, cue.about);
                self.say(said, cue.deadline, (windows, cue.otherwise), None);
            }
            None => self.not_said(&cue.phrases, cue.deadline, cue.about),
        }
    }

    fn not_said(&mut self, phrases: &PhraseSet, deadline: Option<Tick>, about: CueAbout) {
        let what = Recorded::Say {
            text: phrases.full.clone(),
            form: CueForm::None,
            end: None,
            deadline: deadline.and_then(|tick| self.frame_of(tick)),
            index: about.form_chord(),
        };
        self.record_on(self.now, what);
    }

    /// The frame of a tick of the take that plays.
    fn frame_of(&self, tick: Tick) -> Option<Frame> {
        self.running().map(|running| running.plan.frame(tick))
    }

    /// Cues that were handed over are not wanted any more from `at` on.
    pub(super) fn hush_cues(&mut self, at: Frame) {
        let ids = self.voice.hush_all();
        self.send(hush(at, ids));
    }

    /// The plan has changed: hushes the cues that would now be wrong, and no others. A call that is broken off
    /// in the middle of a word says less than none, and a chord that still comes has no second cue: so the notes
    /// of chords that stay are spoken to their end, while those of chords that went, and the announcement of
    /// what was called off, are taken back even while they sound.
    pub(super) fn hush_wrong_cues(&mut self, at: Frame) {
        let (Some(now), names) = (self.tick_now(), self.settings.names) else {
            return;
        };
        let State::Playing(running) = &mut self.state else {
            return;
        };
        let plan = &mut running.plan;
        let names_step = |cue: &CueOnItsWay, step: &PlanStep| {
            let comes = cue.deadline.map_or(step.start > now, |at| at == step.start);
            comes && phrases_of(step, names).as_ref() == Some(&cue.phrases)
        };
        let is_planned = |cue: &CueOnItsWay| {
            let is_same = |planned: &PlannedCue| {
                let is_call = planned.about == CueAbout::Call;
                is_call && Some(planned.deadline) == cue.deadline && planned.phrases == cue.phrases
            };
            plan.cues.all().any(is_same)
        };
        let is_right = |cue: &CueOnItsWay| {
            let meant = plan.steps().iter().any(|step| names_step(cue, step)) || is_planned(cue);
            let in_time = match (cue.end(), cue.deadline) {
                (Some(end), Some(deadline)) => end <= plan.frame(deadline),
                _ => true,
            };
            meant && in_time
        };
        let wrong = self.voice.hush_wrong(is_right);
        for cue in &wrong {
            if let Some(deadline) = cue.deadline {
                plan.cues.take_back_call(deadline, &cue.phrases);
            }
        }
        for cue in wrong {
            self.send(hush(at, cue.id..cue.id + 1));
        }
    }

    /// Says what is large on the page, whatever the tempo.
    pub(super) fn say_again(&mut self, stamp: Frame) {
        let phrases = say_again(&self.view());
        if !phrases.full.is_empty() {
            self.say_whole(phrases, CueAbout::Name, self.earliest(stamp));
        }
    }

    /// Says why a start is none.
    pub(super) fn say_no_chart(&mut self, stamp: Frame) {
        let phrases = PhraseSet {
            full: NO_CHART.to_string(),
            ..PhraseSet::default()
        };
        self.say_whole(phrases, CueAbout::Name, self.earliest(stamp));
    }

    /// A chord out of time is named when it comes, if its stage is to be spoken; before the first one the stage.
    pub(super) fn name_held(&mut self) {
        let step = self
            .running()
            .and_then(|running| running.plan.steps().first());
        let Some(step) = step.filter(|step| step.pass.kind == PassKind::Held) else {
            return;
        };
        let standing = &step.pass.standing;
        let stage = standing.stage;
        let name = speech::stage_phrases(standing.stage_of(&step.pass.material));
        let name = (self.voice.announced != Some(stage)).then_some((name, CueAbout::Name));
        let is_spoken = step.pass.help.voice != Voice::Off;
        let notes = phrases_of(step, self.settings.names).filter(|_| is_spoken);
        let about = step.form_chord().map_or(CueAbout::Name, CueAbout::Notes);
        let notes = notes.map(|phrases| (phrases, about));
        self.voice.announced = Some(stage);
        let said = name.into_iter().chain(notes);
        let said: Vec<_> = said.filter(|(_, about)| self.is_spoken(*about)).collect();
        for (phrases, about) in said {
            self.say_whole(phrases, about, self.earliest(self.now));
        }
    }
}

/// Hushes on `at` the cues with these numbers.
fn hush(at: Frame, ids: Range<u32>) -> Command {
    Command::HushCues {
        at,
        from: ids.start,
        below: ids.end,
    }
}
