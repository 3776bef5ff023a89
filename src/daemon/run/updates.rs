//! Other versions of the program: noticed in folders and on sticks, handed over to root when a foot asks for it, and what came of
//! it. All of it takes its time, and happens beside the loop.

use super::super::update::{self, KEY, Noticed, OUTCOME, Outcome, SPOOL};
use super::input::{Input, UpdateInput};
use super::live::Live;
use super::reloading::aside;
use super::update_watch::Updates;
use crate::fault::printable;
use crate::practice::{EventKind, UpdateNews, UpdateOffer};
use std::path::Path;

/// Below it lies what is plugged in.
const STICKS: &str = "/run/media";

impl Live {
    /// Looks after packages where the configuration has charts.
    pub(super) fn watch_updates(&mut self) {
        let folders = &self.reloading.config.chart_folders;
        self.updates = Updates::start(folders, self.inputs.sender());
    }

    /// Something is told about other versions.
    pub(super) fn update(&mut self, told: UpdateInput) {
        match told {
            UpdateInput::Changed(writing) => self.updates.changed = Some(writing),
            UpdateInput::Looked(noticed, outcome) => self.update_looked(*noticed, outcome),
            UpdateInput::HandedOver(done) => self.update_handed_over(done),
        }
    }

    /// Has done what is to be done about them, one after the other.
    pub(super) fn tend_updates(&mut self) {
        if self.updates.is_busy {
            return;
        }
        let sender = self.inputs.sender();
        if std::mem::take(&mut self.outcome.update) {
            let Some((path, _)) = self.updates.found.clone() else {
                return;
            };
            self.updates.is_busy = aside(move || {
                let done = hand_over(&path);
                let _ = sender.send(Input::Update(UpdateInput::HandedOver(done)));
            });
        } else if let Some(noticing) = self.updates.noticing.clone()
            && let Some(writing) = self.updates.changed.take()
        {
            self.updates.is_busy = aside(move || {
                let mut noticing = noticing.lock().unwrap_or_else(|broken| broken.into_inner());
                let noticed = Box::new(noticing.look(&writing));
                let outcome = update::left(Path::new(OUTCOME));
                let _ = sender.send(Input::Update(UpdateInput::Looked(noticed, outcome)));
            });
        }
    }

    fn update_looked(&mut self, noticed: Noticed, outcome: Option<Outcome>) {
        self.updates.is_busy = false;
        if let Some(outcome) = outcome.filter(|outcome| outcome.at > self.updates.told) {
            let told = printable(&outcome.told);
            log::info!("update: {told}");
            self.updates.told = outcome.at;
            let is_in = outcome.is_in;
            self.handle_now(EventKind::Update(UpdateNews::Done { is_in, told }));
        }
        self.refuse(noticed.refused);
        let found = noticed.newest.map(|(path, package)| {
            let version = printable(&package.version);
            let on_stick = path.starts_with(STICKS);
            (path, UpdateOffer { version, on_stick })
        });
        if found != self.updates.found {
            if let Some((path, offer)) = &found {
                log::info!("update {} found: {}", offer.version, path.display());
            }
            let offer = found.as_ref().map(|(_, offer)| offer.clone());
            self.updates.found = found;
            self.handle_now(EventKind::Update(UpdateNews::Offered(offer)));
        }
    }

    fn update_handed_over(&mut self, done: Result<(), String>) {
        self.updates.is_busy = false;
        match (done, &self.updates.found) {
            (Ok(()), Some((_, offer))) => {
                log::info!("update {} is handed over", offer.version);
                let begun = UpdateNews::Begun(offer.clone());
                self.handle_now(EventKind::Update(begun));
            }
            (Ok(()), None) => {}
            (Err(why), _) => self.refuse(vec![why]),
        }
    }

    fn refuse(&mut self, why: Vec<String>) {
        if !why.is_empty() {
            let why: Vec<String> = why.iter().map(|line| printable(line)).collect();
            log::warn!("update: {}", why.join("\n"));
            self.handle_now(EventKind::Update(UpdateNews::Refused(why)));
        }
    }
}

/// As `underfoot update` does: it is looked at once more, for it may have changed since.
fn hand_over(path: &Path) -> Result<(), String> {
    let spool = Path::new(SPOOL);
    let (sealed, _) = update::look(path, Path::new(KEY), Path::new("/"), spool)?;
    update::hand_over(sealed, spool)
}
