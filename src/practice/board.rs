//! What stands on the page besides the music: the menu, messages, devices that are missing, the tuner, what was just done.
//!
//! A message takes the whole page and the next press (but for the one that begins the first take), so it waits while anything plays and while the menu is open.

use super::input_page::InputPage;
use super::proposal::Proposal;
use super::tuner::Tuner;
use super::update_news::UpdateOffer;
use crate::foot::Menu;
use crate::time::Frame;
use std::collections::VecDeque;

/// How long the page tells what was done, in ms.
const DONE_MS: f64 = 1000.0;
/// The same where an answer is told to what was asked for a while ago, ...
const ANSWER_MS: f64 = 3000.0;
/// ... and of what may take its time, unless the answer comes first.
const LOOKING_MS: f64 = 20_000.0;
/// Messages that wait at the most; the log has all of them.
const MESSAGES: usize = 8;

/// What was asked for a moment ago, and how it is now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Done {
    /// What was done, in a word or two.
    pub what: &'static str,
    pub now: NowIs,
}

/// How something is now that a foot has changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum NowIs {
    /// The level, in dB.
    LevelDb(f32),
    /// The tempo, in quarter notes a minute.
    TempoQpm(f64),
    /// Whether it is on.
    On(bool),
    /// It comes when the take is over.
    WhenStopped,
    /// As its name says.
    Done,
    /// It is looked for.
    Looking,
    /// There is none.
    NoneFound,
    /// It is there, and comes at the section's end where something plays.
    Found,
}

/// How much quieter the first take is, in dB.
const QUIETER_DB: f32 = 12.0;

/// Whether the first take after the program came up, which is quieter, still lies ahead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum QuietStart {
    #[default]
    Over,
    Ahead,
    Now,
}

impl QuietStart {
    /// By how much the band is turned down, in dB.
    pub fn below_db(self) -> f32 {
        match self {
            QuietStart::Now => QUIETER_DB,
            QuietStart::Over | QuietStart::Ahead => 0.0,
        }
    }
}

/// What stands on the page besides the music.
#[derive(Debug, Default)]
pub(super) struct Board {
    /// The foot menu, while it is open.
    pub menu: Option<Menu>,
    /// What the user can mend, the oldest first: title and lines.
    messages: VecDeque<(String, Vec<String>)>,
    /// What could be practised today, until a foot takes it or skips it.
    pub proposal: Option<Proposal>,
    /// Another version of the program that may be installed.
    pub update: Option<UpdateOffer>,
    /// What was told of it, until there is other news.
    pub update_page: Option<(String, Vec<String>)>,
    /// Why there is no sound; `None` where there is.
    pub no_sound: Option<String>,
    /// Devices that are missing, by name.
    pub missing: Vec<String>,
    /// New settings came, and not all of them can be taken without a restart.
    pub needs_restart: bool,
    /// Set while the page for tuning stands.
    pub tuner: Option<Tuner>,
    /// Set while the page of the input stands.
    pub input: Option<InputPage>,
    /// Whether that page came by itself already.
    pub has_told_input: bool,
    /// Whether the next take is quieter than the kept level.
    pub quiet_start: QuietStart,
    done: Option<(Done, Frame)>,
}

impl Board {
    /// A device came or went.
    pub fn device(&mut self, name: &str, is_present: bool) {
        self.missing.retain(|device| device != name);
        if !is_present {
            self.missing.push(name.to_string());
        }
    }

    /// Something that the user can mend.
    pub fn tell(&mut self, title: String, lines: Vec<String>) {
        let message = (title, lines);
        if !self.messages.contains(&message) && self.messages.len() < MESSAGES {
            self.messages.push_back(message);
        }
    }

    /// Something that was told is out of date.
    pub fn take_back(&mut self, message: &(String, Vec<String>)) {
        self.messages.retain(|told| told != message);
    }

    /// The message that stands, where it may.
    pub fn message(&self, is_playing: bool) -> Option<&(String, Vec<String>)> {
        let may_stand = !is_playing && self.menu.is_none();
        self.messages.front().filter(|_| may_stand)
    }

    /// The proposal that stands, where it may: below a message, above all else at rest.
    pub fn proposal(&self, is_playing: bool) -> Option<&Proposal> {
        let is_covered = is_playing || self.menu.is_some() || self.has_own_page();
        let may_stand = !is_covered && self.messages.is_empty();
        self.proposal.as_ref().filter(|_| may_stand)
    }

    /// Whether the tuner or the input has the page.
    pub fn has_own_page(&self) -> bool {
        self.tuner.is_some() || self.input.is_some()
    }

    /// Clears the message that stands; whether there was one.
    pub fn clear_message(&mut self, is_playing: bool) -> bool {
        self.message(is_playing).is_some() && self.messages.pop_front().is_some()
    }

    /// Keeps in mind for a while what a foot asked for, where the page would not tell it by itself.
    pub fn note_done(&mut self, done: Done, now: Frame, rate: u32) {
        let ms = match done.now {
            NowIs::Looking => LOOKING_MS,
            NowIs::NoneFound | NowIs::Found => ANSWER_MS,
            _ => DONE_MS,
        };
        self.done = Some((done, now.plus_ms(ms, rate)));
    }

    /// What was asked for is answered otherwise: the page need not say that it is looked for.
    pub fn just_done_is_told(&mut self, what: &str) {
        self.done.take_if(|(done, _)| done.what == what);
    }

    /// What was done a moment ago.
    pub fn just_done(&self, now: Frame) -> Option<&Done> {
        let (done, until) = self.done.as_ref()?;
        (now < *until).then_some(done)
    }

    /// Until when the page tells of what was just done.
    pub fn done_until(&self) -> Option<Frame> {
        self.done.as_ref().map(|(_, until)| *until)
    }

    /// Whether what was just done has stood for long enough (once).
    pub fn done_is_over(&mut self, now: Frame) -> bool {
        self.done.take_if(|(_, until)| now >= *until).is_some()
    }
}
