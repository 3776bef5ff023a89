//! Where everything goes that the loop hands on: screens, ear, keeper, status socket.

use super::super::config::Config;
use super::super::rig::{Rig, RigOutcome};
use super::super::status::{Server, Status};
use super::awaited::Awaited;
use super::diary::Diary;
use super::hearing::Hearing;
use super::keeper::{Keeper, KeeperThread};
use super::screens::Screens;
use crate::time::Frame;

/// All of them.
pub struct Outlets {
    /// The ear.
    pub hearing: Hearing,
    /// What is to outlast us.
    pub keeper: Keeper,
    keeping: KeeperThread,
    /// The practice journal.
    pub diary: Diary,
    screens: Screens,
    server: Option<Server>,
    awaited: Awaited,
}

impl Outlets {
    /// Puts them together.
    pub fn new(
        screens: Screens,
        hearing: Hearing,
        (keeper, keeping): (Keeper, KeeperThread),
        diary: Diary,
        server: Option<Server>,
    ) -> Outlets {
        Outlets {
            hearing,
            keeper,
            keeping,
            diary,
            screens,
            server,
            awaited: Awaited::default(),
        }
    }

    /// Hands on what came of the events.
    pub fn hand_on(&mut self, rig: &mut Rig, outcome: &mut RigOutcome) {
        let pages = std::mem::take(&mut outcome.pages);
        // Of several pages at one time only the last can be seen.
        if let Some((page, _)) = pages.last() {
            let id = self.screens.show(page);
            let turned = pages.iter().filter_map(|(_, turned)| *turned);
            turned.for_each(|frame| self.awaited.turned(id, frame));
        }
        for replay in outcome.replays.drain(..) {
            self.hearing.play_back(replay);
        }
        for (from, to) in outcome.keeps.drain(..) {
            self.hearing.keep(from, to);
        }
        if !outcome.lines.is_empty() {
            let head = rig.log.take_head(rig.core.seed());
            let lines = outcome.lines.drain(..).map(|(_, line)| line);
            self.keeper.lines(head.into_iter().chain(lines).collect());
        }
        self.diary.take_in(rig, outcome);
        if let Some(saved) = outcome.saved.take() {
            self.keeper.place(saved);
        }
    }

    /// A screen has shown a page: tells when the recorded pages were really to be seen.
    pub fn shown(&mut self, (id, screen): (u64, &str), at: Frame, rig: &Rig, out: &mut RigOutcome) {
        let seen = self.awaited.seen(id, screen).into_iter();
        let lines = seen.map(|seen| rig.log.shown(at, screen, seen));
        out.lines.extend(lines);
    }

    /// What ends the screens and begins those of another configuration, for another thread.
    pub fn renew_screens(&self, config: &Config) -> impl FnOnce() + Send + 'static {
        self.screens.renew(config)
    }

    /// Publishes a status, and feeds the watchdog.
    pub fn publish(&self, status: Status) {
        if let Some(server) = &self.server {
            server.publish(status);
        }
        tell_systemd(&[sd_notify::NotifyState::Watchdog]);
    }

    /// Has everything kept.
    pub fn finish(&mut self) {
        self.keeper.finish(&mut self.keeping);
        self.diary.finish();
    }
}

/// Tells the service manager.
pub fn tell_systemd(states: &[sd_notify::NotifyState<'_>]) {
    // Without systemd there is no socket to tell; that is no fault.
    let _ = sd_notify::notify(states);
}
