//! What stands on the page besides the music: the menu, messages, devices that are missing, the tuner, what was just done.

use super::tuner::Tuner;
use crate::foot::Menu;
use crate::time::Frame;

/// How long the page tells what was done, in ms.
const DONE_MS: f64 = 1000.0;

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
}

/// What stands on the page besides the music.
#[derive(Debug, Default)]
pub(super) struct Board {
    /// The foot menu, while it is open.
    pub menu: Option<Menu>,
    /// Something that the user can mend: title and lines.
    pub message: Option<(String, Vec<String>)>,
    /// Why there is no sound; `None` where there is.
    pub no_sound: Option<String>,
    /// Devices that are missing, by name.
    pub missing: Vec<String>,
    /// New settings came, and not all of them can be taken without a restart.
    pub needs_restart: bool,
    /// Set while the page for tuning stands.
    pub tuner: Option<Tuner>,
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

    /// Keeps in mind for a second what a foot asked for, where the page would not tell it by itself.
    pub fn note_done(&mut self, done: Done, now: Frame, rate: u32) {
        self.done = Some((done, now.plus_ms(DONE_MS, rate)));
    }

    /// What was done a moment ago.
    pub fn just_done(&self, now: Frame) -> Option<&Done> {
        let (done, until) = self.done.as_ref()?;
        (now < *until).then_some(done)
    }

    /// Whether what was just done has stood for long enough (once).
    pub fn done_is_over(&mut self, now: Frame) -> bool {
        self.done.take_if(|(_, until)| now >= *until).is_some()
    }
}
