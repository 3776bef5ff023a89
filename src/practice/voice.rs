//! Cues on their way: handed to the player, until it has told what became of them and they can sound no more.

use crate::plan::cues::{CueAbout, Windows};
use crate::speech::{FormLimit, PhraseSet};
use crate::time::{Frame, Tick};
use std::collections::VecDeque;
use std::ops::Range;

/// Cues on their way at the most; of older ones nothing more is told.
const MOST_CUES: usize = 32;

/// A cue that the player has.
#[derive(Debug, Clone)]
pub(super) struct CueOnItsWay {
    pub id: u32,
    pub phrases: PhraseSet,
    pub limit: FormLimit,
    /// When it has to have ended; `None`: whenever it is said.
    pub deadline: Option<Tick>,
    pub about: CueAbout,
    /// Where else it may sound, should it find no room.
    pub otherwise: VecDeque<Windows>,
    /// What the player has told of it.
    state: CueState,
}

/// What is known of a cue on its way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum CueState {
    /// The player has told nothing yet.
    Handed,
    /// It is not wanted any more, and the player has told nothing yet.
    Hushed,
    /// It sounds, or will, up to a frame.
    Placed { end: Frame },
}

impl CueOnItsWay {
    /// The frame after its last, once it has its place.
    pub fn end(&self) -> Option<Frame> {
        match self.state {
            CueState::Placed { end } => Some(end),
            CueState::Handed | CueState::Hushed => None,
        }
    }
}

/// The cues on their way.
#[derive(Debug, Default)]
pub(super) struct VoiceCues {
    ids: u32,
    cues: VecDeque<CueOnItsWay>,
    /// The stage out of time that was named last since the start of the take.
    pub announced: Option<usize>,
    /// The word of the menu that was said last.
    pub choice: Option<u32>,
}

impl VoiceCues {
    /// A number that no cue has had.
    pub fn next_id(&mut self) -> u32 {
        self.ids += 1;
        self.ids
    }

    /// Hands a cue over; gives its number.
    pub fn hand(
        &mut self,
        phrases: PhraseSet,
        limit: FormLimit,
        deadline: Option<Tick>,
        about: CueAbout,
        otherwise: VecDeque<Windows>,
    ) -> u32 {
        let id = self.next_id();
        if self.cues.len() == MOST_CUES {
            self.cues.pop_front();
        }
        self.cues.push_back(CueOnItsWay {
            id,
            phrases,
            limit,
            deadline,
            about,
            otherwise,
            state: CueState::Handed,
        });
        id
    }

    /// The player tells that a cue sounds, up to `end`; gives the cue, the first time.
    pub fn started(&mut self, id: u32, end: Frame, now: Frame) -> Option<CueOnItsWay> {
        self.cues
            .retain(|cue| cue.end().is_none_or(|end| end >= now));
        let index = self.cues.iter().position(|cue| cue.id == id)?;
        match self.cues[index].state {
            CueState::Handed => {
                self.cues[index].state = CueState::Placed { end };
                Some(self.cues[index].clone())
            }
            CueState::Hushed => self.cues.remove(index),
            CueState::Placed { .. } => None,
        }
    }

    /// The player tells that a cue found no room, or was hushed; gives the cue, if nothing was told of it before, and whether
    /// it is still wanted.
    pub fn skipped(&mut self, id: u32) -> Option<(CueOnItsWay, bool)> {
        let index = self.cues.iter().position(|cue| cue.id == id)?;
        let cue = self.cues.remove(index)?;
        let is_wanted = cue.state == CueState::Handed;
        cue.end().is_none().then_some((cue, is_wanted))
    }

    /// No cue is wanted any more; gives the numbers to be hushed.
    pub fn hush_all(&mut self) -> Range<u32> {
        self.hush_wrong(|_| false);
        0..self.ids + 1
    }

    /// The cues that are not right are not wanted any more; gives them.
    pub fn hush_wrong(&mut self, is_right: impl Fn(&CueOnItsWay) -> bool) -> Vec<CueOnItsWay> {
        let mut wrong = Vec::new();
        self.cues.retain_mut(|cue| {
            if cue.state == CueState::Hushed || is_right(cue) {
                return true;
            }
            wrong.push(cue.clone());
            let is_told = cue.end().is_some();
            cue.state = CueState::Hushed;
            !is_told
        });
        wrong
    }

    /// The take is over: what the player still tells of its cues is of no interest.
    pub fn forget_untold(&mut self) {
        self.cues.retain(|cue| cue.end().is_some());
    }
}
