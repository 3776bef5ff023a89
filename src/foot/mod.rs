//! What a foot can ask for: actions, gestures of switches, maps from the ones to the others, the menu.

pub mod action;
pub mod footmap;
pub mod gesture;
pub mod menu;

pub use action::{Action, Moment};
pub use footmap::{FootMap, FootState};
pub use gesture::{Gesture, GestureKind, GestureList, Gestures, Kinds, SwitchSettings};
