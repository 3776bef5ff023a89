//! The core: events in, effects out; the Course, gestures, judging.

pub mod gesture;

pub use gesture::{Gesture, GestureKind, GestureList, Gestures, Kinds, SwitchSettings};
