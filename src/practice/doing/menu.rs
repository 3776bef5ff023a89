//! The foot menu, opened, moved through, taken and left.

use crate::foot::{Action, Menu};
use crate::practice::core::Core;
use crate::time::Frame;

impl Core {
    pub(in crate::practice) fn open_menu(&mut self, stamp: Frame) {
        // The press that came before may have started the count: it dies.
        if self.take.is_some() {
            self.stop(stamp);
        }
        self.menu = Some(Menu::new(stamp));
    }

    pub(in crate::practice) fn move_menu(&mut self, stamp: Frame) {
        if let Some(menu) = &mut self.menu {
            menu.advance(stamp);
        }
    }

    pub(in crate::practice) fn take_menu(&mut self, stamp: Frame) {
        let Some(mut menu) = self.menu.take() else {
            return;
        };
        let chosen = menu.chosen(stamp);
        if chosen != Action::MenuLeave {
            self.act(chosen, stamp);
            self.menu = Some(menu);
        }
    }

    pub(in crate::practice) fn leave_menu(&mut self) {
        self.menu = None;
    }

    pub(in crate::practice) fn leave_menu_quietly(&mut self) {
        self.menu = None;
        self.paused_bar = None;
    }
}
