//! The switches, and what their gestures mean now.

use super::core::Core;
use crate::foot::{FootState, GestureKind, Kinds, Menu};
use crate::plan::pass::PassKind;
use crate::time::Frame;

impl Core {
    /// What the foot's gestures mean on a frame. A take that begins in a moment counts as begun.
    pub(super) fn foot_state_at(&self, frame: Frame) -> FootState {
        match self.board.menu {
            Some(_) => FootState::Menu,
            // It is answered as an entry of the menu is.
            None if self.board.proposal(self.running().is_some()).is_some() => FootState::Menu,
            None => self.state_below_menu(frame),
        }
    }

    /// What goes on, whether the menu stands or not.
    pub(super) fn state_below_menu(&self, frame: Frame) -> FootState {
        let Some(running) = self.running() else {
            return FootState::Stopped;
        };
        let (plan, now) = (&running.plan, running.plan.tick(frame));
        let first = plan.timeline().segments().next();
        let first = first.filter(|first| now < first.start());
        match first.or_else(|| plan.segment_at(now)) {
            Some(segment) if segment.pass.kind == PassKind::CountIn => FootState::CountingIn,
            _ => FootState::Playing,
        }
    }

    /// Tells the gesture engine which gestures the present state uses.
    pub(super) fn bind_switches(&mut self) {
        if self.running().is_some() {
            // Whoever plays has chosen.
            self.board.proposal = None;
        }
        let state = self.foot_state();
        let awaited = self.board.menu.as_ref().and_then(Menu::awaits);
        for switch in 1..=self.settings.switches.len() as u8 {
            let kinds = match awaited {
                Some(_) => Kinds::NONE.with(GestureKind::Press),
                None => self.settings.map.kinds(state, switch),
            };
            self.feet.gestures.set_uses(switch, kinds);
        }
    }
}
