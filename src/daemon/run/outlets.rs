//! Where everything goes that the loop hands on: screens, ear, keeper, status socket.

use super::super::config::Config;
use super::super::rig::{Rig, RigOutcome};
use super::super::status::{Server, Status};
use super::awaited::Awaited;
use super::diary::Diary;
use super::hearing::Hearing;
use super::keeper::{Keeper, KeeperThread};
use super::manager::{Manager, Word};
use super::screens::Screens;
use crate::time::Frame;
use std::time::{Duration, Instant};

/// The longest wait at the end, for a slow card with all of it before it: systemd's `TimeoutStopSec` is longer.
const LAST_WAIT: Duration = Duration::from_secs(11);

/// The watchdog is fed this often: in our units it bites after 10 s.
const FEED_EVERY: Duration = Duration::from_secs(1);

/// All of them.
pub struct Outlets {
    /// The ear.
    pub hearing: Hearing,
    /// What is to outlast us.
    pub keeper: Keeper,
    keeping: KeeperThread,
    /// The practice journal.
    pub diary: Diary,
    /// The service manager.
    pub manager: Manager,
    screens: Screens,
    server: Option<Server>,
    awaited: Awaited,
    fed: Option<Instant>,
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
            manager: Manager::start(),
            screens,
            server,
            awaited: Awaited::default(),
            fed: None,
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

    /// Publishes a status, and feeds the watchdog where the sound goes on, too.
    pub fn publish(&mut self, status: Status, sound_goes_on: bool) {
        if let Some(server) = &self.server {
            server.publish(status);
        }
        let now = Instant::now();
        if sound_goes_on && self.fed.is_none_or(|fed| now >= fed + FEED_EVERY) {
            self.fed = Some(now);
            self.manager.tell(Word::Alive);
        }
    }

    /// Has everything kept, and waits for that, but no longer than a unit is given to stop.
    pub fn finish(&mut self) {
        let (keeper, keeping, diary) = (&self.keeper, &mut self.keeping, &mut self.diary);
        let mut parts: [Part<'_>; 2] = [
            ("the place and what came last", &mut || keeper.ends(keeping)),
            ("the journal's last take", &mut || diary.ends()),
        ];
        for late in wait_for_all(&mut parts, Instant::now() + LAST_WAIT) {
            log::warn!("the disk is too slow: {late} may be lost");
        }
        self.manager.finish();
    }
}

/// Something that takes its time to end: what may be lost of it, and what asks it to and tells whether it has.
type Part<'a> = (&'static str, &'a mut dyn FnMut() -> bool);

/// Waits until all have ended, all at the same time; gives those that have not by then.
fn wait_for_all(parts: &mut [Part<'_>], until: Instant) -> Vec<&'static str> {
    loop {
        let late = parts
            .iter_mut()
            .filter_map(|(name, ends)| (!ends()).then_some(*name));
        let late: Vec<&'static str> = late.collect();
        if late.is_empty() || Instant::now() >= until {
            return late;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_parts_end_at_the_same_time() {
        // None waits for the one before: the second ends when the first was asked three times, which ends when the second has.
        let (asked, second_ended) = (std::cell::Cell::new(0), std::cell::Cell::new(false));
        let mut first = || {
            asked.set(asked.get() + 1);
            second_ended.get()
        };
        let mut second = || {
            second_ended.set(asked.get() >= 3);
            second_ended.get()
        };
        let mut never = || false;
        let mut parts: [Part<'_>; 2] = [("first", &mut first), ("second", &mut second)];
        let far = Instant::now() + Duration::from_secs(3_600);
        assert_eq!(wait_for_all(&mut parts, far), Vec::<&str>::new());
        let mut parts: [Part<'_>; 2] = [("first", &mut never), ("second", &mut || true)];
        assert_eq!(wait_for_all(&mut parts, Instant::now()), ["first"]);
    }

    #[test]
    fn a_unit_is_given_longer_to_stop_than_the_wait_takes() {
        for unit in [
            include_str!("../../../systemd/underfoot.service"),
            include_str!("../../../systemd/user/underfoot.service"),
        ] {
            let given = unit
                .lines()
                .find_map(|line| line.strip_prefix("TimeoutStopSec="));
            let given: u64 = given.expect("a time to stop").parse().expect("seconds");
            // The server is left after that; a call to one that hangs is given up after 3 s.
            assert!(LAST_WAIT + Duration::from_secs(3) < Duration::from_secs(given));
        }
    }
}
