//! What is under way on a switch between its first press and a gesture, and the gestures that come of it.

use crate::foot::kinds::{GestureKind, Kinds};
use crate::time::Frame;
use arrayvec::ArrayVec;

/// The most gestures that one call can give: no switch has more than five under way.
pub const GESTURES: usize = 48;

/// A gesture on a switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gesture {
    /// Which switch, from 1.
    pub switch: u8,
    pub kind: GestureKind,
    /// The press edge that began it.
    pub pressed: Frame,
    /// When it was certain (the press edge for a press, the hold time for a hold).
    pub at: Frame,
}

/// Gestures in the order in which they became certain.
pub type GestureList = ArrayVec<Gesture, GESTURES>;

/// A press of a switch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Press {
    pub at: Frame,
    /// What meant something when it came.
    pub uses: Kinds,
}

/// What is under way on a switch.
#[derive(Debug, Clone, Copy)]
pub(super) enum PressPhase {
    /// Nothing is under way (the foot may still be down, all said).
    Idle,
    Down(Press),
    /// Held, and so told; a foot that stays makes a long press of it.
    HeldOn(Press),
    /// Pressed and released: a tap at `decide`, unless it becomes a double.
    Released {
        press: Press,
        decide: Frame,
    },
    /// Pressed again in time where a triple is in use: two, unless a third press comes in time.
    DownAgain {
        first: Press,
        second: Press,
    },
    /// Pressed and released twice: two at `decide`, unless it becomes a triple.
    ReleasedAgain {
        first: Press,
        second: Press,
        decide: Frame,
    },
    /// Pressed again in time: a double, or two of a triple's three, at `decide`.
    Again {
        first: Press,
        /// The second press of a triple.
        second: Option<Press>,
        decide: Frame,
    },
}

impl Press {
    /// Whether what this press begins may need a second one.
    pub fn waits(&self) -> bool {
        self.uses.has(GestureKind::Double) || self.uses.has(GestureKind::Triple)
    }
}

/// What a press is that came again in time: the third one where there was a second.
pub(super) fn again(second: Option<Press>) -> GestureKind {
    match second {
        Some(_) => GestureKind::Triple,
        None => GestureKind::Double,
    }
}

/// Gives what two presses are that no third one followed: a double where it is in use, else two taps.
pub(super) fn emit_two(
    index: usize,
    first: Press,
    second: Press,
    at: Frame,
    out: &mut GestureList,
) {
    if first.uses.has(GestureKind::Double) {
        return emit(index, GestureKind::Double, first, at, out);
    }
    emit(index, GestureKind::Tap, first, at, out);
    emit(index, GestureKind::Tap, second, at, out);
}

/// Gives a gesture, if it is in use.
pub(super) fn emit(
    index: usize,
    kind: GestureKind,
    press: Press,
    at: Frame,
    out: &mut GestureList,
) {
    if !press.uses.has(kind) {
        return;
    }
    let gesture = Gesture {
        switch: index as u8 + 1,
        kind,
        pressed: press.at,
        at,
    };
    let kept = out.try_push(gesture).is_ok();
    debug_assert!(kept, "more gestures than GESTURES");
}
