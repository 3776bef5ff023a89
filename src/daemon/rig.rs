//! Core and player put together: what both the offline renderer and the daemon do with effects.

use super::events::{EventLog, Line};
use crate::audio::{Command, Cue, CueChoice, Played, PlayerEnd};
use crate::display::Page;
use crate::practice::{Core, Effect, Event, Recorded, Saved, Saying};
use crate::speech::PhraseSet;
use std::collections::VecDeque;

/// Whoever turns words into sound.
pub trait Voice {
    /// The clips of a phrase at `rate` frames a second, fullest first; empty where there is no voice or they
    /// are not ready.
    fn clips(&mut self, phrases: &PhraseSet, rate: u32) -> Vec<CueChoice>;

    /// Phrases that will be needed.
    fn prepare(&mut self, phrases: Vec<PhraseSet>) {
        let _ = phrases;
    }
}

/// No voice at all: every cue is shown only.
#[derive(Debug)]
pub struct Mute;

impl Voice for Mute {
    fn clips(&mut self, _phrases: &PhraseSet, _rate: u32) -> Vec<CueChoice> {
        Vec::new()
    }
}

/// What comes out besides sound.
#[derive(Debug, Default)]
pub struct Outcome {
    /// Pages to show, oldest first; the last is the one that stands. `true`: the page turned (it is recorded).
    pub pages: Vec<(Page, bool)>,
    /// Lines of the event log.
    pub lines: Vec<Line>,
    /// The newest place to come back to.
    pub saved: Option<Saved>,
}

/// The core with the control side of a player.
pub struct Rig {
    /// The core.
    pub core: Core,
    /// The player's control side; `None` while there is no audio server.
    pub end: Option<PlayerEnd>,
    /// The log.
    pub log: EventLog,
    voice: Box<dyn Voice>,
    rate: u32,
    unsent: VecDeque<Command>,
    effects: Vec<Effect>,
}

impl std::fmt::Debug for Rig {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Rig").field("core", &self.core).finish_non_exhaustive()
    }
}

impl Rig {
    /// Puts a core, a player and a voice together.
    pub fn new(core: Core, end: Option<PlayerEnd>, log: EventLog, voice: Box<dyn Voice>, rate: u32) -> Rig {
        Rig { core, end, log, voice, rate, unsent: VecDeque::new(), effects: Vec::new() }
    }

    /// A new player at `rate`; what was meant for the old one is dropped.
    pub fn new_player(&mut self, end: PlayerEnd, rate: u32) {
        self.end = Some(end);
        self.rate = rate;
        self.unsent.clear();
    }

    /// The player is gone.
    pub fn lose_player(&mut self) {
        self.end = None;
        self.unsent.clear();
    }

    /// Whether commands are waiting for room in the queue.
    pub fn is_behind(&self) -> bool {
        !self.unsent.is_empty()
    }

    /// Lets phrases be rendered ahead.
    pub fn prepare(&mut self) {
        let phrases = self.core.vocabulary();
        self.voice.prepare(phrases);
    }

    /// Takes an event in and does everything that follows from it.
    pub fn handle(&mut self, event: Event, outcome: &mut Outcome) {
        let mut effects = std::mem::take(&mut self.effects);
        self.core.handle(event, &mut effects);
        for effect in effects.drain(..) {
            self.carry_out(effect, outcome);
        }
        self.effects = effects;
        self.flush();
    }

    /// Takes in what the player reports.
    pub fn notices(&mut self, at: crate::time::Frame, outcome: &mut Outcome) {
        while let Some(notice) = self.end.as_mut().and_then(PlayerEnd::notice) {
            self.handle(Event { at, what: crate::practice::What::Notice(notice) }, outcome);
        }
    }

    /// Takes in what was played.
    pub fn played(&mut self, what: Played, outcome: &mut Outcome) {
        outcome.lines.extend(self.log.played(what));
    }

    fn carry_out(&mut self, effect: Effect, outcome: &mut Outcome) {
        match effect {
            Effect::Audio(command) => self.unsent.push_back(command),
            Effect::Show(page) => outcome.pages.push((page, false)),
            Effect::Say(saying) => self.say(saying, outcome),
            Effect::Prepare(phrases) => self.voice.prepare(phrases),
            Effect::Record(record) => {
                if matches!(record.what, Recorded::Page { .. })
                    && let Some(last) = outcome.pages.last_mut()
                {
                    last.1 = true;
                }
                outcome.lines.extend(self.log.record(&record));
            }
            Effect::Save(saved) => outcome.saved = Some(saved),
        }
    }

    fn say(&mut self, saying: Saying, outcome: &mut Outcome) {
        let clips = self.voice.clips(&saying.phrases, self.rate);
        if clips.is_empty() {
            let notice = crate::audio::Notice::CueSkipped { cue: saying.id, frame: self.core.now() };
            let event = Event { at: self.core.now(), what: crate::practice::What::Notice(notice) };
            let mut effects = Vec::new();
            self.core.handle(event, &mut effects);
            for effect in effects {
                self.carry_out(effect, outcome);
            }
            return;
        }
        let cue = Cue {
            id: saying.id,
            choices: clips.into_iter().take(crate::audio::CUE_CHOICES).collect(),
            windows: saying.windows,
            now: saying.now,
        };
        self.unsent.push_back(Command::Cue(Box::new(cue)));
    }

    /// Sends what the player has room for.
    pub fn flush(&mut self) {
        let Some(end) = self.end.as_mut() else {
            self.unsent.clear();
            return;
        };
        while let Some(command) = self.unsent.pop_front() {
            if let Err(command) = end.send(command) {
                self.unsent.push_front(command);
                break;
            }
        }
        end.collect_garbage();
    }
}
