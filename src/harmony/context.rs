//! The chord in context: from the whole chart to each chord's function, key and scale.

use super::{ChordSymbol, Degree, Harmony, Key, KeyDeclaration, Pitch, Quality, ScaleName};
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

impl ChordInContext {
    /// The chord; `None` for silence.
    pub fn symbol(&self) -> Option<&ChordSymbol> {
        match &self.harmony {
            Harmony::Chord(symbol) => Some(symbol),
            Harmony::Silence => None,
        }
    }

    /// The chord's root; `None` for silence.
    pub fn root(&self) -> Option<Pitch> {
        self.symbol().map(|symbol| symbol.root)
    }

    /// The scale's degree by function, 1 to 7: the 3 is the chord's third, the 2 its second as taught. Over
    /// a suspended chord without a third in its scale, 3 is the fourth. Where the scale has no degree of
    /// that number the nearest one stands for it (the raised fifth for the sixth of the whole-tone scale).
    pub fn scale_degree(&self, number: u8) -> Option<DegreeRole> {
        let of = |number: u8| {
            let mut found = self
                .degrees
                .iter()
                .filter(|degree| degree.degree.number == number);
            let first = found.clone().next();
            found
                .find(|degree| degree.role == Role::ChordTone)
                .or(first)
                .copied()
        };
        let suspended = self
            .symbol()
            .is_some_and(|symbol| symbol.quality() == Quality::Suspended);
        match number {
            // The flat second of an altered chord comes before its raised one, whichever the symbol names.
            2 => self
                .degrees
                .iter()
                .find(|degree| degree.degree.number == 2)
                .copied(),
            3 if suspended => of(3).or_else(|| of(4)),
            4 => of(4).or_else(|| of(5)),
            5 => of(5).or_else(|| of(6)).or_else(|| of(4)),
            6 => of(6).or_else(|| of(5)),
            1 | 3 | 7 => of(number),
            _ => None,
        }
    }

    /// A degree spelled over the root; `None` for silence.
    pub fn pitch_of(&self, degree: Degree) -> Option<Pitch> {
        self.root().map(|root| degree.above(root))
    }

    /// Semitones from the root to the second note of the scale; `None` for silence.
    pub fn second_semitones(&self) -> Option<u8> {
        let root = self.root()?;
        self.degrees.get(1).map(|second| root.up_to(second.pitch))
    }
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
