//! What a practice journal has to tell: the proposal of the day, which a foot takes or skips, and the short report.

use super::board::{Done, NowIs};
use super::core::Core;
use super::event::Effect;
use super::proposal::{Proposal, ShortReport};
use super::proposal_words;
use super::settings::Spoken;
use crate::foot::{Action, FootState};
use crate::plan::cues::CueAbout;
use crate::speech::PhraseSet;

impl Core {
    /// Something could be practised. Where the player has begun already, or no foot could say yes, nothing is proposed.
    pub(super) fn propose(&mut self, proposal: Proposal) {
        let has_begun = self.practised.takes > 0 || self.running().is_some();
        let can_be_taken = self.settings.map.way(FootState::Menu, Action::MenuTake);
        if has_begun || self.session.is_blank() || can_be_taken.is_none() {
            return;
        }
        let sentence = proposal_words::proposal_sentence(&proposal, self.settings.names);
        self.board.proposal = Some(proposal);
        if self.settings.spoken != Spoken::Asked {
            self.say_told(sentence);
        }
        self.bind_switches();
        self.acknowledge();
    }

    /// What a gesture means where the proposal stands: who says no with the switch that starts plays at once, for the first
    /// press after a start is to play.
    pub(super) fn while_proposed(&self, action: Option<Action>, switch: u8) -> Option<Action> {
        let stands = self.board.proposal(self.running().is_some()).is_some();
        let says_no = matches!(action, Some(Action::MenuMove | Action::MenuLeave));
        match stands && says_no && proposal_words::starts(&self.settings.map, switch) {
            true => Some(Action::Start),
            false => action,
        }
    }

    /// Whether the proposal stands; takes the answer, if this is one. Nothing else is: it stays until there is one.
    pub(super) fn answers_proposal(&mut self, action: Option<Action>) -> bool {
        let stands = self.board.proposal(self.running().is_some()).is_some();
        match action {
            _ if !stands => {}
            Some(Action::MenuTake) => self.answer_proposal(true),
            Some(Action::MenuMove | Action::MenuLeave | Action::Start) => {
                self.answer_proposal(false)
            }
            _ => {}
        }
        stands
    }

    /// What a foot did while the proposal stood.
    fn answer_proposal(&mut self, is_taken: bool) {
        let Some(proposal) = self.board.proposal.take() else {
            return;
        };
        match is_taken {
            true => self.weak_spots(Some(proposal.drill)),
            false => self.out.push(Effect::Skipped),
        }
        self.bind_switches();
        self.acknowledge();
    }

    /// The short report that was asked for: on the page at the next rest, by voice at once.
    pub(super) fn report(&mut self, told: Option<ShortReport>) {
        let what = Action::Report.name();
        let now = if told.is_some() {
            NowIs::Found
        } else {
            NowIs::NoneFound
        };
        self.board
            .note_done(Done { what, now }, self.now, self.settings.rate);
        if let Some(told) = told {
            self.board
                .tell(what.to_string(), proposal_words::report(&told));
            self.say_told(proposal_words::report_sentence(&told, self.settings.names));
        }
        self.bind_switches();
        self.acknowledge();
    }

    pub(super) fn say_told(&mut self, sentence: String) {
        let phrases = PhraseSet::plain(sentence);
        self.say_whole(phrases, CueAbout::Name, self.earliest(self.now));
    }
}
