//! Where good teachers differ.

/// The scale of a dominant that goes to a minor chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DominantToMinor {
    /// Flat nine, flat thirteen, perfect fifth.
    #[default]
    PhrygianDominant,
    /// Flat and sharp nine, flat five, flat thirteen.
    Altered,
}

/// The scale of the minor chord on the third degree of a major key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ThreeChord {
    /// The key's own notes: flat second, drilled as passing.
    #[default]
    Phrygian,
    /// A natural second.
    Aeolian,
}

/// The sixth of a minor tonic.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MinorTonic {
    /// Natural, but for a tonic that is written with a minor seventh: that one keeps the signature.
    #[default]
    NaturalSixth,
    /// Natural always: Dorian over a minor seventh.
    NaturalSixthAlways,
    /// The signature's flat sixth, where the symbol does not say otherwise.
    Signature,
}

/// The dominant after a half-diminished two that resolves to major all the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum AfterHalfDiminished {
    /// Flat nine, but for the dominant of the chart's own major key, which keeps the key's notes.
    #[default]
    AwayFromHome,
    Always,
    /// Natural nine where it resolves to major.
    Never,
}

/// Where good teachers differ: a choice, with a default (common practice, no source).
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Habits {
    /// The dominant of the two takes a flat nine where it goes to a minor chord. Default: false, the key's own
    /// natural nine.
    pub flat_nine_to_two: bool,
    /// The dominant after a half-diminished two that resolves to major. Default: flat nine away from home.
    pub flat_nine_after_half_diminished: AfterHalfDiminished,
    /// The minor chord on the third degree of major. Default: Phrygian.
    pub three_chord: ThreeChord,
    /// The minor tonic. Default: natural sixth.
    pub minor_tonic: MinorTonic,
    /// The dominant that goes to a minor chord. Default: Phrygian dominant.
    pub dominant_to_minor: DominantToMinor,
}

/// Habits that are chosen somewhere, such as in a chart; `None` chooses nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct HabitChoices {
    /// See [`Habits::flat_nine_to_two`].
    pub flat_nine_to_two: Option<bool>,
    /// See [`Habits::flat_nine_after_half_diminished`].
    pub flat_nine_after_half_diminished: Option<AfterHalfDiminished>,
    /// See [`Habits::three_chord`].
    pub three_chord: Option<ThreeChord>,
    /// See [`Habits::minor_tonic`].
    pub minor_tonic: Option<MinorTonic>,
    /// See [`Habits::dominant_to_minor`].
    pub dominant_to_minor: Option<DominantToMinor>,
}

impl HabitChoices {
    /// The habits that are chosen, `usual` where none is.
    pub fn over(self, usual: &Habits) -> Habits {
        Habits {
            flat_nine_to_two: self.flat_nine_to_two.unwrap_or(usual.flat_nine_to_two),
            flat_nine_after_half_diminished: self
                .flat_nine_after_half_diminished
                .unwrap_or(usual.flat_nine_after_half_diminished),
            three_chord: self.three_chord.unwrap_or(usual.three_chord),
            minor_tonic: self.minor_tonic.unwrap_or(usual.minor_tonic),
            dominant_to_minor: self.dominant_to_minor.unwrap_or(usual.dominant_to_minor),
        }
    }
}
