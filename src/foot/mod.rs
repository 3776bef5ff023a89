//! What a foot can ask for: actions, gestures of switches, maps from the ones to the others, the menu. It turns edges
//! into actions by the frames that they carry; when an action takes effect it tells, and does nothing of it.
//!
//! Promise: pure; a gesture is decided by its edges' frames, whenever they arrive.

mod action;
mod footmap;
mod gesture;
mod kinds;
mod menu;
mod phase;
mod reach;
mod read_map;
mod standard_map;

pub use action::{Action, ActionError, Moment};
pub use footmap::{Binding, FootMap, FootState};
pub use gesture::{Gestures, STOMP_MS};
pub use kinds::{GestureKind, Kinds, Polarity, SwitchKind, SwitchSettings};
pub use menu::{Chosen, IDLE_S, MOST_TAPS, Menu, Occasion};
pub use phase::{GESTURES, Gesture, GestureList};
pub use reach::Way;
pub use read_map::read_map;
