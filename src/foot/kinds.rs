//! What a foot can do with a switch, and what is known of one.

use crate::fault::settings::{number, settings, word};

/// What a foot did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GestureKind {
    /// The press edge itself, at once.
    Press,
    /// Down and up again, no second one following (where the switch has a double).
    Tap,
    /// Twice within the double time.
    Double,
    /// Held for the hold time.
    Hold,
    /// Three times, each within the double time after the last.
    Triple,
    /// Held on after the hold, for three times the hold time in all.
    Long,
}

/// How many times the hold time a long press is.
pub(super) const LONG_HOLDS: f64 = 3.0;

impl GestureKind {
    /// All kinds.
    pub const ALL: [GestureKind; 6] = [
        GestureKind::Press,
        GestureKind::Tap,
        GestureKind::Double,
        GestureKind::Hold,
        GestureKind::Triple,
        GestureKind::Long,
    ];

    /// The word for it in configuration and events.
    pub fn name(self) -> &'static str {
        match self {
            GestureKind::Press => "press",
            GestureKind::Tap => "tap",
            GestureKind::Double => "double",
            GestureKind::Hold => "hold",
            GestureKind::Triple => "triple",
            GestureKind::Long => "long",
        }
    }
}

/// A set of gesture kinds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Kinds(u8);

impl Kinds {
    /// No kind.
    pub const NONE: Kinds = Kinds(0);

    /// This set and `kind`.
    #[must_use]
    pub const fn with(self, kind: GestureKind) -> Kinds {
        Kinds(self.0 | 1 << kind as u8)
    }

    /// Whether `kind` is in the set.
    pub const fn has(self, kind: GestureKind) -> bool {
        self.0 & (1 << kind as u8) != 0
    }
}

impl FromIterator<GestureKind> for Kinds {
    fn from_iter<T: IntoIterator<Item = GestureKind>>(kinds: T) -> Kinds {
        kinds.into_iter().fold(Kinds::NONE, Kinds::with)
    }
}

/// How a switch moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub enum SwitchKind {
    /// Down while the foot is on it.
    #[default]
    Momentary,
    /// Changes over with each stomp: every edge is a press; it cannot be held and has no double and no triple.
    Latching,
}

/// What the contact does at rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub enum Polarity {
    /// Open at rest: a source's "down" is a foot.
    #[default]
    NormallyOpen,
    /// Closed at rest: a source's "up" is a foot. Never guessed, always set.
    NormallyClosed,
}

settings! {
    /// What is known of one switch.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct SwitchSettings {
        kind: SwitchKind = SwitchKind::Momentary,
            word([("momentary", SwitchKind::Momentary), ("latching", SwitchKind::Latching)]);
        /// Open or closed at rest.
        polarity: Polarity = Polarity::NormallyOpen,
            word([("normally open", Polarity::NormallyOpen), ("normally closed", Polarity::NormallyClosed)]);
        /// How long edges are ignored after an accepted one, in ms.
        lockout_ms: f64 = 40.0, number(1.0..=100.0, "ms");
        /// How long a hold is, in ms.
        hold_ms: f64 = 700.0, number(300.0..=2000.0, "ms");
        /// How long after a release the next press of a double or a triple may come, in ms.
        double_ms: f64 = 300.0, number(150.0..=600.0, "ms");
    }
}
