//! Scales by name.

/// The scales that a chord can take, named as `formats` lists them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum ScaleName {
    Ionian,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Aeolian,
    Locrian,
    MelodicMinor,
    DorianFlat2,
    LydianAugmented,
    LydianDominant,
    MixolydianFlat6,
    LocrianNatural2,
    Altered,
    HarmonicMinor,
    LocrianNatural6,
    IonianSharp5,
    DorianSharp4,
    PhrygianDominant,
    LydianSharp2,
    AlteredDoubleFlat7,
    DiminishedWholeHalf,
    DiminishedHalfWhole,
    WholeTone,
}

/// A text that is no scale name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{name}\" is no scale known here{}", nearest.as_ref().map(|near| format!(" (nearest: \"{near}\")")).unwrap_or_default())]
pub struct ScaleNameError {
    /// What was written.
    pub name: String,
    /// The nearest name.
    pub nearest: Option<String>,
}
