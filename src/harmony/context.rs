//! The chord in context: from the whole chart to each chord's function, key and scale.

use super::{Degree, Harmony, Key, KeyDeclaration, Pitch, ScaleName};
use crate::time::Tick;

/// A chord at its place in the form, as the analysis takes it.
#[derive(Debug, Clone, PartialEq)]
pub struct TimedChord {
    /// Where it starts in the form.
    pub start: Tick,
    /// How long it lasts.
    pub len: Tick,
    /// The chord, or silence.
    pub harmony: Harmony,
    /// The key that the chart declares here; `None` where it declares none.
    pub declared: Option<KeyDeclaration>,
    /// A teacher's word that wins over the analysis.
    pub hint: Option<ScaleName>,
}

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
    /// Its spelled pitch.
    pub pitch: Pitch,
    /// What it is to the chord.
    pub role: Role,
}

/// Where good teachers differ: a choice, with a default.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Habits {
    // The harmony issue adds the habits; the first version has the defaults of the trade built in.
}

/// A chord with what the whole chart says about it.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordInContext {
    /// Where it starts in the form.
    pub start: Tick,
    /// How long it lasts.
    pub len: Tick,
    /// The chord, or silence. For silence `key`, `function`, `scale` are `None` and `degrees` empty.
    pub harmony: Harmony,
    /// The local key.
    pub key: Option<Key>,
    /// Its function in the local key, as a Roman numeral: `ii`, `V7/ii`, `bVII`.
    pub function: Option<String>,
    /// The scale by name.
    pub scale: Option<ScaleName>,
    /// The scale from the root up, six to eight notes.
    pub degrees: Vec<DegreeRole>,
    /// In one line, why it got its scale.
    pub why: String,
}

/// Works out every chord of a form in the context of all of them. The form is taken as a loop: the last
/// chord leads to the first. One result a chord, in the same order.
pub fn in_context(chords: &[TimedChord], habits: &Habits) -> Vec<ChordInContext> {
    let _ = habits;
    chords
        .iter()
        .map(|chord| ChordInContext {
            start: chord.start,
            len: chord.len,
            harmony: chord.harmony.clone(),
            key: None,
            function: None,
            scale: None,
            degrees: Vec::new(),
            why: String::new(),
        })
        .collect()
}
