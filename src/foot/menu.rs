//! The foot menu: what a single switch cannot reach while nothing plays.

use crate::foot::action::Action;
use crate::time::{Frame, Part};

/// Seconds without a press after which the menu leaves by itself.
const IDLE_S: u64 = 8;

/// The items and what they do; `None` leaves.
const ITEMS: [(&str, Option<Action>); 20] = [
    ("next stage", Some(Action::NextStage)),
    ("previous stage", Some(Action::PreviousStage)),
    ("next section", Some(Action::NextSection)),
    ("previous section", Some(Action::PreviousSection)),
    ("whole form", Some(Action::WholeForm)),
    ("tempo up", Some(Action::TempoUp)),
    ("tempo down", Some(Action::TempoDown)),
    ("chord length", Some(Action::ChordLength)),
    ("next key", Some(Action::NextKey)),
    ("next chart", Some(Action::NextChart)),
    ("louder", Some(Action::Louder)),
    ("softer", Some(Action::Softer)),
    ("mute comping", Some(Action::MutePart(Part::Comping))),
    ("mute bass", Some(Action::MutePart(Part::Bass))),
    ("mute drums", Some(Action::MutePart(Part::Drums))),
    ("model tones", Some(Action::ModelTones)),
    ("play back", Some(Action::PlayBack)),
    ("keep take", Some(Action::KeepTake)),
    ("tune", Some(Action::Tune)),
    ("back", None),
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

    /// The action of the chosen item; `None` leaves the menu.
    pub fn chosen(&mut self, at: Frame) -> Option<Action> {
        self.touched = at;
        ITEMS[self.chosen].1
    }

    /// Whether nobody touched it for a while.
    pub fn is_idle(&self, now: Frame, rate: u32) -> bool {
        now.0.saturating_sub(self.touched.0) >= IDLE_S * u64::from(rate)
    }

    /// The items and the chosen one, for the page.
    pub fn lines(&self) -> (Vec<String>, usize) {
        (
            ITEMS.iter().map(|(text, _)| (*text).to_string()).collect(),
            self.chosen,
        )
    }
}
