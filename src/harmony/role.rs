//! What the notes of a scale are to a chord.

use super::{Degree, Pitch};

/// What a degree of the scale is to its chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// A tone of the chord symbol.
    ChordTone,
    /// May be held over the chord.
    Colour,
    /// Drilled as passing: no long note, never in the voicing.
    Passing,
    /// Rubs against the chord: to be passed quickly or left out.
    Avoid,
}

/// A degree of a chord's scale with its spelling and role.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct DegreeRole {
    /// The degree over the root, within the octave; named by function (the b9 of an altered chord is `b2`,
    /// its major third is `3`).
    pub degree: Degree,
    pub pitch: Pitch,
    /// What it is to the chord.
    pub role: Role,
}
