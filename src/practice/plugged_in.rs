//! What the input is like: its page, asked for by a foot, or by itself when an input is heard for the first time.

use super::core::Core;
use super::input_page::InputPage;
use super::input_words::input_sentence;
use super::settings::Spoken;
use crate::device::InputReport;
use crate::foot::Action;

impl Core {
    /// Whether it is asked what the input is like.
    pub fn checks_input(&self) -> bool {
        self.board.input.is_some() && self.running().is_none()
    }

    /// The page of the input, or back from it.
    pub(super) fn look_at_input(&mut self) {
        self.board.input = match self.board.input {
            Some(_) => None,
            None => Some(InputPage::default()),
        };
        self.board.has_told_input = true;
        self.board.tuner = None;
    }

    /// Whether a press leads back from the tuner or the input, and does no more; from the input the first press after a start plays.
    pub(super) fn leaves_own_page(&mut self, action: Option<Action>, plays: bool) -> bool {
        let stays = matches!(action, Some(Action::Tune | Action::Input));
        if self.running().is_some() || !self.board.has_own_page() || stays {
            return false;
        }
        let was_tuning = self.board.tuner.is_some();
        (self.board.tuner, self.board.input) = (None, None);
        was_tuning || !plays
    }

    /// The ear tells what the input is like. Where nobody asked, it is an input that is not known yet: its page stands until
    /// a press, once, before the first take.
    pub(super) fn heard_input(&mut self, report: InputReport) {
        if self.running().is_some() {
            return;
        }
        let is_free = self.board.menu.is_none()
            && self.board.proposal.is_none()
            && !self.board.has_own_page()
            && !self.session.is_blank();
        if is_free && !self.board.has_told_input && self.practised.takes == 0 {
            self.board.has_told_input = true;
            self.board.input = Some(InputPage::default());
            self.bind_switches();
        }
        let Some(page) = &mut self.board.input else {
            return;
        };
        if page.report == Some(report) {
            return;
        }
        page.report = Some(report);
        let worst = report.faults().first().copied();
        let is_news = report.is_sure && page.said != Some(worst);
        if is_news {
            page.said = Some(worst);
        }
        if is_news && self.settings.spoken != Spoken::Asked {
            let sentence = input_sentence(&report, self.settings.names);
            sentence
                .into_iter()
                .for_each(|sentence| self.say_told(sentence));
        }
        self.refresh();
    }
}
