//! The foot menu: what a single switch cannot reach while nothing plays.

use crate::foot::action::Action;
use crate::time::{Frame, Part};

/// Seconds without a press after which the menu leaves by itself.
const IDLE_S: u64 = 8;

/// The items; the last one leaves.
const ITEMS: [Action; 20] = [
    Action::NextStage,
    Action::PreviousStage,
    Action::NextSection,
    Action::PreviousSection,
    Action::WholeForm,
    Action::TempoUp,
    Action::TempoDown,
    Action::ChordLength,
    Action::NextKey,
    Action::NextChart,
    Action::Louder,
    Action::Softer,
    Action::MutePart(Part::Comping),
    Action::MutePart(Part::Bass),
    Action::MutePart(Part::Drums),
    Action::ModelTones,
    Action::PlayBack,
    Action::KeepTake,
    Action::Tune,
    Action::MenuLeave,
];

/// An open menu.
#[derive(Debug, Clone)]
pub struct Menu {
    chosen: usize,
    touched: Frame,
}

impl Menu {
    /// A menu opened on `at`.
    pub fn new(at: Frame) -> Menu {
        Menu {
            chosen: 0,
            touched: at,
        }
    }

    /// The next item, going round.
    pub fn advance(&mut self, at: Frame) {
        self.chosen = (self.chosen + 1) % ITEMS.len();
        self.touched = at;
    }

    /// The action of the chosen item.
    pub fn chosen(&mut self, at: Frame) -> Action {
        self.touched = at;
        ITEMS[self.chosen]
    }

    /// Whether nobody touched it for a while.
    pub fn is_idle(&self, now: Frame, rate: u32) -> bool {
        now.0.saturating_sub(self.touched.0) >= IDLE_S * u64::from(rate)
    }

    /// The items and the chosen one, for the page.
    pub fn lines(&self) -> (Vec<String>, usize) {
        let word = |action: &Action| match action {
            Action::MenuLeave => "back".to_string(),
            _ => action.to_string(),
        };
        (ITEMS.iter().map(word).collect(), self.chosen)
    }
}
