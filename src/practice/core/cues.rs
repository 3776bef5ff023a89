//! Cues on their way: handed to the player, and what the player reports of them.

use crate::audio::{CueForm, Notice};
use crate::practice::core::Awaited;
use crate::practice::core::Core;
use crate::practice::event::{Effect, Record, Recorded, Saying};
use crate::speech::{FormLimit, PhraseSet};
use crate::time::Tick;

/// Cues that wait for the player's word at most; older ones are taken as not said.
const CUES_AWAITED: usize = 32;

impl Core {
    pub(in crate::practice) fn hand_over_cue(&mut self, index: usize) {
        let Some(cue) = self.take.as_ref().and_then(|take| take.cue(index)).cloned() else {
            return;
        };
        if cue.windows.is_empty() || cue.limit == FormLimit::None {
            self.not_said(&cue.phrases, Some(cue.deadline), cue.form_chord);
            return;
        }
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
                let (section, bar) = self.where_now();
                let tick = self.take.as_ref().map(|take| take.timeline.tick(frame));
                let stage = self.standing.stage_of(&self.material).name.clone();
                let pass = self.standing.pass + 1;
                self.out.push(Effect::Record(Record {
                    frame,
                    tick,
                    bar,
                    section,
                    stage,
                    pass,
                    what,
                }));
            }
            Notice::CueSkipped { cue, .. } => {
                if let Some(found) = self.take_awaited(cue) {
                    self.not_said(&found.phrases, found.deadline, found.index);
                }
            }
            Notice::Ended { frame } => self.ended(frame),
            _ => {}
        }
    }

    fn take_awaited(&mut self, id: u32) -> Option<Awaited> {
        let index = self.awaited.iter().position(|awaited| awaited.id == id)?;
        self.awaited.remove(index)
    }
}
