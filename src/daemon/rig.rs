//! Core and player put together: what both the offline renderer and the daemon do with effects.

use super::events::{EventLog, LogLine};
use crate::audio::{Command, Counts, Cue, CueChoice, CueForm, Notice, Played, PlayerEnd};
use crate::display::Page;
use crate::practice::{
    Core, Effect, Event, EventKind, Leads, Record, Recorded, Replay, Saved, Saying,
};
use crate::speech::{ClipChoices, FormLimit, PhraseSet, Speaker, SpeakerThread};
use crate::time::Frame;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

/// Phrases that wait for their clips at the most.
const ASKED: usize = 64;
/// The id of what is only rendered ahead; no cue has it.
const WARMING: u32 = 0;

/// Whoever turns words into sound. Asking never blocks; the answer may come at once or later.
pub trait VoicePort: Send {
    /// Asks for the clips of what may be said of a phrase within `limit`, at `rate` frames a second.
    fn ask(&mut self, id: u32, phrases: &PhraseSet, limit: FormLimit, rate: u32);

    /// The next answer: the id and the clips, fullest first; empty: it cannot be said.
    fn answer(&mut self) -> Option<(u32, ClipChoices)>;

    /// Phrases that will be needed.
    fn prepare(&mut self, phrases: Vec<PhraseSet>);
}

/// A voice that answers at once: for the offline renderer. Takes that are made side by side share a speaker.
#[derive(Debug)]
pub struct AtOnce {
    speaker: Arc<Mutex<Speaker>>,
    answers: VecDeque<(u32, ClipChoices)>,
}

impl AtOnce {
    /// Speaks with this speaker.
    pub fn new(speaker: Speaker) -> AtOnce {
        AtOnce::shared(Arc::new(Mutex::new(speaker)))
    }

    /// Speaks with the speaker of others, too.
    pub fn shared(speaker: Arc<Mutex<Speaker>>) -> AtOnce {
        AtOnce {
            speaker,
            answers: VecDeque::new(),
        }
    }
}

impl VoicePort for AtOnce {
    fn ask(&mut self, id: u32, phrases: &PhraseSet, limit: FormLimit, rate: u32) {
        let mut speaker = self.speaker.lock().unwrap_or_else(PoisonError::into_inner);
        let clips = speaker.clips_now(phrases, limit, rate);
        self.answers.push_back((id, clips));
    }

    fn answer(&mut self) -> Option<(u32, ClipChoices)> {
        self.answers.pop_front()
    }

    fn prepare(&mut self, _phrases: Vec<PhraseSet>) {}
}

/// A voice on its own thread: for the daemon.
impl VoicePort for SpeakerThread {
    fn ask(&mut self, id: u32, phrases: &PhraseSet, limit: FormLimit, rate: u32) {
        // A full queue is a cue that was not said; the player's silence tells so.
        let _ = SpeakerThread::ask(self, id, phrases.clone(), limit, rate);
    }

    fn answer(&mut self) -> Option<(u32, ClipChoices)> {
        self.poll().map(|answer| (answer.id, answer.clips))
    }

    fn prepare(&mut self, phrases: Vec<PhraseSet>) {
        let _ = SpeakerThread::prepare(self, phrases);
    }
}

/// What comes out besides sound.
#[derive(Debug, Default)]
pub struct RigOutcome {
    /// Pages to show, oldest first; the last is the one that stands. Where the page turned: the frame of the line
    /// that tells of it.
    pub pages: Vec<(Page, Option<Frame>)>,
    /// Lines of the event log.
    pub lines: Vec<LogLine>,
    /// Whether a drill of weak spots is asked for.
    pub weak_spots: bool,
    /// Whether a short report is.
    pub report: bool,
    /// Whether the proposal of the day was skipped.
    pub skipped: bool,
    /// Whether the version that was offered is to be installed.
    pub update: bool,
    /// What of it a practice journal is told.
    pub records: Vec<Record>,
    /// The newest place to come back to.
    pub saved: Option<Saved>,
    /// Stretches of what was heard that are to be played back.
    pub replays: Vec<Replay>,
    /// From where up to where what was heard is to become a file.
    pub keeps: Vec<(Frame, Frame)>,
    /// The newest bar that began.
    pub bar: Option<Record>,
    /// Who leads the clock from now on, where that changed.
    pub clock: Option<Option<Leads>>,
}

/// The core with the control side of a player.
pub struct Rig {
    pub core: Core,
    /// The player's control side; `None` while there is no audio server.
    pub end: Option<PlayerEnd>,
    pub log: EventLog,
    /// What players counted that are gone, and how many commands they refused.
    gone: Option<(Counts, u64)>,
    voice: Box<dyn VoicePort>,
    asked: VecDeque<Saying>,
    rate: u32,
    unsent: VecDeque<Command>,
    effects: Vec<Effect>,
    /// Phrases that a scripted take waits for; the first has been asked for.
    warming: VecDeque<PhraseSet>,
}

impl std::fmt::Debug for Rig {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Rig")
            .field("core", &self.core)
            .finish_non_exhaustive()
    }
}

impl Rig {
    /// Puts a core, a player and a voice together.
    pub fn new(
        core: Core,
        end: Option<PlayerEnd>,
        log: EventLog,
        voice: Box<dyn VoicePort>,
        rate: u32,
    ) -> Rig {
        Rig {
            core,
            end,
            log,
            gone: None,
            voice,
            asked: VecDeque::new(),
            rate,
            unsent: VecDeque::new(),
            effects: Vec::new(),
            warming: VecDeque::new(),
        }
    }

    /// Frames a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// A new player at `rate`; what was meant for the old one is dropped.
    pub fn new_player(&mut self, end: PlayerEnd, rate: u32) {
        self.lose_player();
        self.end = Some(end);
        if rate != self.rate {
            self.log.set_rate(rate);
        }
        self.rate = rate;
        self.unsent.clear();
        // Clips on their way are for the old player, at its rate.
        self.asked.clear();
    }

    /// Another voice; what the old one was asked for is dropped. Gives back the old one, whose end may take its time.
    pub fn set_voice(&mut self, voice: Box<dyn VoicePort>) -> Box<dyn VoicePort> {
        let before = std::mem::replace(&mut self.voice, voice);
        self.asked.clear();
        self.prepare();
        before
    }

    /// The player is gone.
    pub fn lose_player(&mut self) {
        self.gone = self.counted();
        self.end = None;
        self.unsent.clear();
    }

    /// What all players counted since the start, by name.
    pub fn counts(&self) -> impl Iterator<Item = (&'static str, u64)> + use<> {
        let counted = self.counted().into_iter();
        counted.flat_map(|(counts, refused)| {
            let refused = std::iter::once(("refused_commands", refused));
            counts.0.into_iter().chain(refused)
        })
    }

    fn counted(&self) -> Option<(Counts, u64)> {
        let Some(end) = &self.end else {
            return self.gone;
        };
        let (counts, refused) = (end.counters().all(), u64::from(end.refused()));
        Some(match self.gone {
            Some((before, refused_before)) => (before.and(counts), refused_before + refused),
            None => (counts, refused),
        })
    }

    /// Has every phrase rendered that practising from here may need; [`Rig::is_warm`] tells when that is done.
    pub fn warm(&mut self) {
        self.warming = self.core.vocabulary().into();
        self.warm_next();
    }

    /// Whether what [`Rig::warm`] asked for is rendered. Give the voice's answers a chance by handling events.
    pub fn is_warm(&self) -> bool {
        self.warming.is_empty()
    }

    /// Whether something waits that no input tells of: phrases that are rendered one after the other, commands for which the
    /// player has no room yet.
    pub fn is_waiting(&self) -> bool {
        !(self.is_warm() && self.unsent.is_empty())
    }

    fn warm_next(&mut self) {
        if let Some(phrases) = self.warming.front() {
            self.voice.ask(WARMING, phrases, FormLimit::Full, self.rate);
        }
    }

    /// Lets phrases be rendered ahead.
    pub fn prepare(&mut self) {
        let phrases = self.core.vocabulary();
        self.voice.prepare(phrases);
    }

    /// Takes an event in and does everything that follows from it.
    pub fn handle(&mut self, event: Event, outcome: &mut RigOutcome) {
        let mut effects = std::mem::take(&mut self.effects);
        self.core.handle(event, &mut effects);
        for effect in effects.drain(..) {
            self.carry_out(effect, outcome);
        }
        self.effects = effects;
        self.hear_voice(outcome);
        self.flush();
    }

    /// Takes in what the player reports.
    pub fn notices(&mut self, at: Frame, outcome: &mut RigOutcome) {
        while let Some(notice) = self.end.as_mut().and_then(PlayerEnd::notice) {
            self.handle(
                Event {
                    at,
                    what: EventKind::Notice(notice),
                },
                outcome,
            );
        }
    }

    /// Takes in what was played.
    pub fn played(&mut self, what: Played, outcome: &mut RigOutcome) {
        outcome.lines.extend(self.log.played(what));
    }

    fn carry_out(&mut self, effect: Effect, outcome: &mut RigOutcome) {
        match effect {
            Effect::Audio(command) => self.unsent.push_back(command),
            Effect::Show(page) => outcome.pages.push((page, None)),
            Effect::Say(saying) => self.say(saying),
            Effect::Record(record) => {
                if matches!(record.what, Recorded::Page { .. })
                    && let Some(last) = outcome.pages.last_mut()
                {
                    last.1 = Some(record.frame);
                }
                if matches!(record.what, Recorded::Tune { .. }) {
                    self.prepare();
                }
                outcome.lines.extend(self.log.record(&record));
                if record.what == Recorded::Bar {
                    outcome.bar = Some(record);
                } else if is_for_journal(&record.what) {
                    outcome.records.push(record);
                }
            }
            Effect::Save(saved) => outcome.saved = Some(saved),
            Effect::PlayBack(replay) => outcome.replays.push(replay),
            Effect::Keep(from, to) => outcome.keeps.push((from, to)),
            Effect::WeakSpots => outcome.weak_spots = true,
            Effect::Report => outcome.report = true,
            Effect::Skipped => outcome.skipped = true,
            Effect::Update => outcome.update = true,
            Effect::Clock(leads) => outcome.clock = Some(leads),
        }
    }

    fn say(&mut self, saying: Saying) {
        self.voice
            .ask(saying.id, &saying.phrases, saying.limit, self.rate);
        if self.asked.len() == ASKED {
            self.asked.pop_front();
        }
        self.asked.push_back(saying);
    }

    /// Passes on the clips that are ready.
    fn hear_voice(&mut self, outcome: &mut RigOutcome) {
        while let Some((id, clips)) = self.voice.answer() {
            if id == WARMING {
                self.warming.pop_front();
                self.warm_next();
                continue;
            }
            let Some(index) = self.asked.iter().position(|asked| asked.id == id) else {
                continue;
            };
            let Some(saying) = self.asked.remove(index) else {
                continue;
            };
            if clips.is_empty() {
                let at = self.core.now();
                let what = EventKind::Notice(Notice::CueSkipped { cue: id, frame: at });
                let mut effects = Vec::new();
                self.core.handle(Event { at, what }, &mut effects);
                effects
                    .into_iter()
                    .for_each(|effect| self.carry_out(effect, outcome));
                continue;
            }
            let cue = Cue {
                id,
                choices: clips,
                windows: saying.windows,
                now: saying.now,
            };
            self.unsent.push_back(Command::Cue(Box::new(cue)));
        }
    }

    /// Plays back what was heard.
    pub fn play_back(&mut self, replay: Replay, samples: Arc<[f32]>) {
        let form = CueForm::Full;
        let cue = Cue {
            id: replay.id,
            choices: [CueChoice { form, samples }].into_iter().collect(),
            windows: Default::default(),
            now: Some(replay.at),
        };
        self.send(Command::Cue(Box::new(cue)));
    }

    /// Sends a command that does not come from the core.
    pub fn send(&mut self, command: Command) {
        self.unsent.push_back(command);
        self.flush();
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

/// Whether a practice journal is told of it.
fn is_for_journal(what: &Recorded) -> bool {
    matches!(
        what,
        Recorded::Take { .. } | Recorded::Verdict(..) | Recorded::Choice(_) | Recorded::Foot { .. }
    )
}
