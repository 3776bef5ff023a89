//! The practice journal beside the loop: what the core records goes to the journal's thread. Built without the journal, nothing
//! is kept.

use super::super::config::{Config, Directories};
use super::super::rig::{Rig, RigOutcome};
use super::input::Input;
use std::sync::mpsc::SyncSender;

/// What feeds the journal's thread.
pub struct Diary {
    #[cfg(feature = "journal")]
    feed: crate::daemon::feed::Feed,
    #[cfg(feature = "journal")]
    journal: Option<(crate::journal::Journal, crate::journal::JournalThread)>,
}

#[cfg(feature = "journal")]
impl Diary {
    /// Starts the thread, where a journal is kept.
    pub fn start(config: &Config, directories: &Directories, inputs: SyncSender<Input>) -> Diary {
        let tell = move |line| {
            let title = "practice journal".to_string();
            let _ = inputs.try_send(Input::Trouble(title, vec![line]));
        };
        let path = directories.journal(&config.journal);
        Diary {
            feed: crate::daemon::feed::Feed::new(&config.journal.player),
            journal: path.map(|path| crate::journal::Journal::start(path, tell)),
        }
    }

    /// Whose practice it is from the next take on.
    pub fn configure(&mut self, config: &Config) {
        self.feed.player.clone_from(&config.journal.player);
    }

    /// Hands on what the core recorded.
    pub fn take_in(&mut self, rig: &Rig, outcome: &mut RigOutcome) {
        let Some((journal, _)) = &self.journal else {
            outcome.records.clear();
            return;
        };
        for record in outcome.records.drain(..) {
            let at_ms = journal.now_ms();
            let add = |entry| journal.add(entry);
            self.feed.take_in(&record, &rig.core, at_ms, add);
        }
    }

    /// Takes that are safe, and entries that wait or found no room.
    pub fn counters(&self) -> Vec<(&'static str, u64)> {
        let counts = self.journal.as_ref().map(|(journal, _)| journal.counts());
        counts.into_iter().flatten().collect()
    }

    /// Has everything written, and tells whether that is done. Never waits: to be asked again.
    pub fn ends(&mut self) -> bool {
        let journal = self.journal.as_mut();
        journal.is_none_or(|(journal, thread)| journal.ends(thread))
    }
}

#[cfg(not(feature = "journal"))]
impl Diary {
    /// Nothing is started.
    pub fn start(config: &Config, directories: &Directories, _inputs: SyncSender<Input>) -> Diary {
        if directories.journal(&config.journal).is_some() {
            log::info!("no practice journal: this underfoot was built without it");
        }
        Diary {}
    }

    /// Nobody's.
    pub fn configure(&mut self, _config: &Config) {}

    /// Drops what the core recorded.
    pub fn take_in(&mut self, _rig: &Rig, outcome: &mut RigOutcome) {
        outcome.records.clear();
    }

    /// None.
    pub fn counters(&self) -> Vec<(&'static str, u64)> {
        Vec::new()
    }

    /// Nothing is to be written.
    pub fn ends(&mut self) -> bool {
        true
    }
}
