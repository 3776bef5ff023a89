//! The loop asks the practice journal: on a thread of its own, what comes of it is an input.

#[cfg(feature = "journal")]
use super::super::looking_back;
use super::input::Input;
use super::live::Live;
use super::reloading::{Asking, aside};
use crate::foot::Action;
use crate::judging::Sureness;
use crate::practice::{EventKind, Proposal, ShortReport};

impl Live {
    /// Has it found out what is known of the player from other days.
    pub(super) fn look_back(&mut self) {
        let (asking, sender) = (self.asking(), self.inputs.sender());
        let _ = aside(move || drop(sender.send(Input::Known(known(&asking)))));
    }

    /// Has it found out what could be practised today.
    pub(super) fn look_for_proposal(&mut self) {
        let (asking, sender) = (self.asking(), self.inputs.sender());
        if !self.reloading.config.journal.propose {
            return;
        }
        let _ = aside(move || match proposal(&asking) {
            Ok(Some(proposal)) => drop(sender.send(Input::Proposal(Box::new(proposal)))),
            Ok(None) => {}
            Err(why) => log::info!("nothing is proposed: {why}"),
        });
    }

    /// Something could be practised today.
    pub(super) fn propose(&mut self, proposal: Box<Proposal>) {
        let stages = proposal.drill.stages.iter();
        self.proposed = stages.map(|stage| stage.name.clone()).collect();
        self.handle_now(EventKind::Proposal(proposal));
        self.rig.prepare();
    }

    /// The short report came, or there is none.
    pub(super) fn report(&mut self, told: Result<ShortReport, String>) {
        let (told, why) = match told {
            Ok(told) => (Some(told), None),
            Err(why) => (None, Some(why)),
        };
        self.handle_now(EventKind::Report(told));
        if let Some(why) = why {
            self.message(Action::Report.name().into(), vec![why]);
        }
    }

    /// Asks for what the core wants of the journal.
    pub(super) fn ask_journal(&mut self) {
        if std::mem::take(&mut self.outcome.report) {
            let (asking, sender) = (self.asking(), self.inputs.sender());
            let _ = aside(move || drop(sender.send(Input::Report(short_report(&asking)))));
        }
        if std::mem::take(&mut self.outcome.skipped) {
            let (asking, items) = (self.asking(), std::mem::take(&mut self.proposed));
            let _ = aside(move || {
                if let Err(why) = skip(&asking, &items) {
                    log::warn!("a skipped proposal is not kept: {why}");
                }
            });
        }
    }

    fn asking(&self) -> Asking {
        self.reloading
            .asking(self.rig.core.written_chart().cloned())
    }
}

#[cfg(feature = "journal")]
fn known(asking: &Asking) -> Option<Box<dyn Sureness>> {
    looking_back::known(asking.journal.as_deref()?, &asking.player)
}

#[cfg(feature = "journal")]
fn proposal(asking: &Asking) -> Result<Option<Proposal>, String> {
    let (Some(journal), Some(chart)) = (&asking.journal, &asking.chart) else {
        return Ok(None);
    };
    looking_back::proposal(journal, &asking.player, chart, asking.habits.clone())
}

#[cfg(feature = "journal")]
fn short_report(asking: &Asking) -> Result<ShortReport, String> {
    let journal = asking.journal()?;
    let chart = asking.chart.as_ref().ok_or("there is no chart")?;
    looking_back::short_report(journal, &asking.player, chart, asking.habits.clone())
}

#[cfg(feature = "journal")]
fn skip(asking: &Asking, items: &[String]) -> Result<(), String> {
    looking_back::skip(asking.journal()?, &asking.player, items)
}

// Built without the journal, nothing is known.

#[cfg(not(feature = "journal"))]
fn known(_: &Asking) -> Option<Box<dyn Sureness>> {
    None
}

#[cfg(not(feature = "journal"))]
fn proposal(_: &Asking) -> Result<Option<Proposal>, String> {
    Ok(None)
}

#[cfg(not(feature = "journal"))]
fn short_report(asking: &Asking) -> Result<ShortReport, String> {
    asking.journal().and(Err("no practice".to_string()))
}

#[cfg(not(feature = "journal"))]
fn skip(_: &Asking, _: &[String]) -> Result<(), String> {
    Ok(())
}
