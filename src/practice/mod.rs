//! The core: events in, effects out; the Course, gestures, judging.

pub mod action;
pub mod footmap;
pub mod gesture;

pub use action::{Action, Moment};
pub use footmap::{FootMap, FootState};
pub use gesture::{Gesture, GestureKind, GestureList, Gestures, Kinds, SwitchSettings};
