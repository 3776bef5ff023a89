//! What a foot can do with a switch, and what is known of one.

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
}

impl GestureKind {
    /// All kinds.
    pub const ALL: [GestureKind; 4] = [
        GestureKind::Press,
        GestureKind::Tap,
        GestureKind::Double,
        GestureKind::Hold,
    ];

    /// The word for it in configuration and events.
    pub fn name(self) -> &'static str {
        match self {
            GestureKind::Press => "press",
            GestureKind::Tap => "tap",
            GestureKind::Double => "double",
            GestureKind::Hold => "hold",
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
    /// Changes over with each stomp: every edge is a press; it cannot be held and has no double.
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

/// What is known of one switch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwitchSettings {
    /// Momentary or latching.
    pub kind: SwitchKind,
    /// Open or closed at rest.
    pub polarity: Polarity,
    /// How long edges are ignored after an accepted one, in ms: 1 to 100, default 40.
    pub lockout_ms: f64,
    /// How long a hold is, in ms: 300 to 2000, default 700.
    pub hold_ms: f64,
    /// How long after the first release the second press of a double may come, in ms: 150 to 600, default 300.
    pub double_ms: f64,
}

impl Default for SwitchSettings {
    fn default() -> SwitchSettings {
        SwitchSettings {
            kind: SwitchKind::Momentary,
            polarity: Polarity::NormallyOpen,
            lockout_ms: 40.0,
            hold_ms: 700.0,
            double_ms: 300.0,
        }
    }
}
