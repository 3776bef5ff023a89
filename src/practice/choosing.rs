//! The foot menu while it stands: opened, moved through, chosen from, left. The band goes on.

use super::core::Core;
use crate::foot::{Action, Chosen, FootState, Menu, Occasion};
use crate::speech;
use crate::time::Frame;

impl Core {
    /// What a foot does with the menu.
    pub(super) fn menu(&mut self, action: Action, stamp: Frame) {
        if action == Action::MenuOpen {
            return self.open_menu(stamp);
        }
        match (action, &mut self.board.menu) {
            (Action::MenuMove, Some(menu)) => menu.advance(stamp),
            (Action::MenuTake, Some(menu)) => match menu.choose(stamp) {
                Chosen::Action(chosen) => return self.take_choice(chosen, stamp),
                Chosen::Goes => {}
                Chosen::Leaves => return self.leave_menu(stamp),
            },
            _ => return self.leave_menu(stamp),
        }
        self.say_choice(stamp);
    }

    fn open_menu(&mut self, stamp: Frame) {
        // The press that came before may have started the count: it dies.
        if self.state_below_menu(stamp) == FootState::CountingIn {
            self.stop(stamp);
        }
        let occasion = match self.running() {
            Some(_) => Occasion::WhilePlaying,
            None => Occasion::AtRest,
        };
        self.board.menu = Some(Menu::new(occasion, stamp));
        let phrases = speech::menu_phrases("menu", self.settings.names);
        self.say_choice_word(phrases, stamp);
    }

    /// Does what was chosen. The menu stays for what is often asked for again, unless the take began or ended with it.
    fn take_choice(&mut self, action: Action, stamp: Frame) {
        self.hush_choice(stamp);
        let menu = self.board.menu.take();
        let was_playing = self.running().is_some();
        self.act(action, stamp);
        if action.is_often_repeated() && was_playing == self.running().is_some() {
            self.board.menu = menu;
        }
    }

    pub(super) fn leave_menu(&mut self, stamp: Frame) {
        self.hush_choice(stamp);
        self.board.menu = None;
    }

    /// Says where the menu stands.
    fn say_choice(&mut self, stamp: Frame) {
        let Some(menu) = &self.board.menu else { return };
        let (items, chosen) = menu.lines();
        if let Some(item) = items.get(chosen) {
            let phrases = speech::menu_phrases(item, self.settings.names);
            self.say_choice_word(phrases, stamp);
        }
    }

    /// A press does what was chosen and waited for its edge.
    pub(super) fn press_awaited(&mut self, action: Action, stamp: Frame) {
        let stays = |menu: &mut Menu| menu.pressed(stamp);
        if !self.board.menu.as_mut().is_some_and(stays) {
            self.leave_menu(stamp);
        }
        self.act(action, stamp);
    }

    /// The menu leaves by itself where nobody touched it for a while up to `frame`.
    pub(super) fn leave_idle_menu(&mut self, frame: Frame) {
        let menu = self.board.menu.as_ref();
        if menu.is_some_and(|menu| menu.is_idle(frame, self.settings.rate)) {
            self.leave_menu(frame);
            self.bind_switches();
            self.refresh();
        }
    }

    /// A foot moves on `stamp`. What it began in the menu is the menu's, however long a hold takes.
    pub(super) fn touch_menu(&mut self, stamp: Frame) {
        self.leave_idle_menu(stamp);
        if let Some(menu) = &mut self.board.menu {
            menu.touch(stamp);
        }
    }
}
