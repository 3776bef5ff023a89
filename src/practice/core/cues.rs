//! Cues on their way: handed to the player, and what the player reports of them.

use crate::audio::{Command, CueForm, Notice};
use crate::plan::cues::{self, PlannedCue};
use crate::practice::core::Awaited;
use crate::practice::core::{Core, Spoken};
use crate::practice::event::{Effect, Recorded, Saying};
use crate::practice::show;
use crate::speech::{FormLimit, PhraseSet};
use crate::time::{Frame, Tick};
use std::collections::VecDeque;

/// Cues that wait for the player's word at most; older ones are taken as not said.
const CUES_AWAITED: usize = 32;

/// A cue that the player has, as long as it may sound.
#[derive(Debug, Clone)]
pub(in crate::practice) struct Handed {
    id: u32,
    phrases: PhraseSet,
    deadline: Option<Tick>,
    /// The frame after its last, once it has its place.
    end: Option<Frame>,
}

impl Core {
    pub(in crate::practice) fn hand_over_cue(&mut self, index: usize) {
        let Some(cue) = self.take.as_ref().and_then(|take| take.cue(index)).cloned() else {
            return;
        };
        if !self.is_spoken(cue.form_chord) {
            return;
        }
        if cue.windows.is_empty() || cue.limit == FormLimit::None {
            self.not_said(&cue.phrases, Some(cue.deadline), cue.form_chord);
            return;
        }
        self.say_in_time(cue);
    }

    /// Whether the notes of a chord, or (`None`) the name of a stage or section, are to be said.
    pub(in crate::practice) fn is_spoken(&self, form_chord: Option<usize>) -> bool {
        match self.settings.spoken {
            Spoken::Drill => true,
            Spoken::Sections => form_chord.is_none(),
            Spoken::Asked => false,
        }
    }

    /// Hands over a cue that is to sound in one of its windows.
    pub(in crate::practice) fn say_in_time(&mut self, cue: PlannedCue) {
        let id = self.await_cue(
            cue.phrases.clone(),
            cue.limit,
            Some(cue.deadline),
            cue.form_chord,
        );
        self.out.push(Effect::Say(Saying {
            id,
            phrases: cue.phrases,
            limit: cue.limit,
            windows: cue.windows,
            now: None,
        }));
    }

    pub(in crate::practice) fn await_cue(
        &mut self,
        phrases: PhraseSet,
        limit: FormLimit,
        deadline: Option<Tick>,
        index: Option<usize>,
    ) -> u32 {
        self.cue_ids += 1;
        if self.handed.len() == CUES_AWAITED {
            self.handed.pop_front();
        }
        self.handed.push_back(Handed {
            id: self.cue_ids,
            phrases: phrases.clone(),
            deadline,
            end: None,
        });
        if self.awaited.len() == CUES_AWAITED {
            self.awaited.pop_front();
        }
        self.awaited.push_back(Awaited {
            id: self.cue_ids,
            phrases,
            limit,
            deadline,
            index,
        });
        self.cue_ids
    }

    fn not_said(&mut self, phrases: &PhraseSet, deadline: Option<Tick>, index: Option<usize>) {
        let deadline =
            deadline.and_then(|tick| self.take.as_ref().map(|take| take.timeline.frame(tick)));
        let text = phrases.full.clone();
        self.record_outside(Recorded::Say {
            text,
            form: CueForm::None,
            end: None,
            deadline,
            index,
        });
    }

    pub(in crate::practice) fn notice(&mut self, notice: Notice) {
        match notice {
            Notice::CueStarted {
                cue,
                form,
                frame,
                end,
            } => {
                self.placed(cue, end);
                let Some(found) = self.take_awaited(cue) else {
                    return;
                };
                let choices = found.phrases.choices(found.limit);
                let said = choices.iter().find(|(choice, _)| *choice == form);
                let text = said
                    .map(|(_, text)| (*text).to_string())
                    .unwrap_or_default();
                let deadline = found
                    .deadline
                    .and_then(|tick| Some(self.take.as_ref()?.timeline.frame(tick)));
                let what = Recorded::Say {
                    text,
                    form,
                    end: Some(end),
                    deadline,
                    index: found.index,
                };
                let tick = self.take.as_ref().map(|take| take.timeline.tick(frame));
                let place = match tick {
                    Some(tick) => show::place_at(self, tick),
                    None => self.where_now(),
                };
                self.push_record(frame, tick, place, what);
            }
            Notice::CueSkipped { cue, .. } => {
                self.handed.retain(|handed| handed.id != cue);
                if let Some(found) = self.take_awaited(cue) {
                    self.not_said(&found.phrases, found.deadline, found.index);
                }
            }
            Notice::Ended { frame } => self.ended(frame),
            Notice::Clock { .. } | Notice::ClockBegan { .. } => self.clock_notice(notice),
            _ => {}
        }
    }

    fn take_awaited(&mut self, id: u32) -> Option<Awaited> {
        let index = self.awaited.iter().position(|awaited| awaited.id == id)?;
        self.awaited.remove(index)
    }

    fn placed(&mut self, id: u32, end: Frame) {
        let now = self.now;
        let over = |handed: &Handed| handed.end.is_some_and(|end| end < now);
        self.handed.retain(|handed| !over(handed));
        if let Some(handed) = self.handed.iter_mut().find(|handed| handed.id == id) {
            handed.end = Some(end);
        }
    }

    /// Cues that were handed over are not wanted any more from `at` on.
    pub(in crate::practice) fn hush_cues(&mut self, at: Frame) {
        self.handed.clear();
        self.out.push(hush(at, 0..self.cue_ids + 1));
    }

    /// The plan has changed: hushes the cues that would now be wrong, and no others. A call that is broken off
    /// in the middle of a word says less than none, and a chord that still comes has no second cue: so the notes
    /// of chords that stay are spoken to their end, while those of chords that went, and the announcement of
    /// what was called off, are taken back even while they sound.
    pub(in crate::practice) fn hush_wrong_cues(&mut self, at: Frame) {
        let Some(take) = self.take.as_ref() else {
            return self.hush_cues(at);
        };
        let names = self.settings.names;
        let now = take.timeline.tick(self.now);
        let names_step = |handed: &Handed, step: &crate::plan::steps::Step| {
            let comes = handed
                .deadline
                .map_or(step.start > now, |at| at == step.start);
            comes && cues::phrases_of(step, names).as_ref() == Some(&handed.phrases)
        };
        let announced = |handed: &Handed| {
            let same = |cue: &cues::PlannedCue| {
                Some(cue.deadline) == handed.deadline && cue.phrases == handed.phrases
            };
            let calls = take.cues.iter().filter(|cue| cue.form_chord.is_none());
            take.announcements.iter().chain(calls).any(same)
        };
        let in_time = |handed: &Handed| match (handed.end, handed.deadline) {
            (Some(end), Some(deadline)) => end <= take.timeline.frame(deadline),
            _ => true,
        };
        let is_right = |handed: &Handed| {
            let meant = take.steps.iter().any(|step| names_step(handed, step)) || announced(handed);
            meant && in_time(handed)
        };
        let (right, wrong): (VecDeque<Handed>, VecDeque<Handed>) =
            self.handed.drain(..).partition(is_right);
        self.handed = right;
        for handed in wrong {
            if let (Some(take), Some(deadline)) = (self.take.as_mut(), handed.deadline) {
                take.take_back_call(deadline, &handed.phrases);
            }
            self.out.push(hush(at, handed.id..handed.id + 1));
        }
    }
}

/// Hushes on `at` the cues with these ids.
fn hush(at: Frame, ids: std::ops::Range<u32>) -> Effect {
    Effect::Audio(Command::HushCues {
        at,
        from: ids.start,
        below: ids.end,
    })
}
