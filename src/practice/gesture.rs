//! From edges to gestures.

use crate::time::Frame;

/// What a foot did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum GestureKind {
    /// The press edge itself, at once.
    Press,
    /// Down and up again, no second one following (where the switch has a double).
    Tap,
    /// Twice within the double time.
    Double,
    /// Held for the hold time.
    Hold,
}

/// A gesture on a switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gesture {
    /// Which switch, from 1.
    pub switch: u8,
    /// What was done.
    pub kind: GestureKind,
    /// The press edge that began it.
    pub pressed: Frame,
    /// When it was certain (the press edge for a press, the hold time for a hold).
    pub at: Frame,
}
