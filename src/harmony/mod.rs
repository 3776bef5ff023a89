//! Harmony: spelled pitches, degrees, chord symbols, scales, and each chord in the context of the whole chart.
//!
//! The one question this module answers: *over this chord, in this place of this tune, which notes would a
//! good teacher name, and how would they spell them?* Everything here is pure.

mod build;
mod canonical;
mod context;
mod dominant;
mod fitting;
mod function;
mod grammar;
mod key;
mod lines;
mod local_key;
mod pitch;
mod scale;
mod symbol;

pub use context::{
    ChordInContext, DegreeRole, DominantToMinor, Habits, MinorTonic, Role, ThreeChord, TimedChord,
    in_context,
};
pub use key::{Key, KeyDeclaration, KeyError, Mode};
pub use lines::symbols_line;
pub use pitch::{Degree, DegreeError, Letter, Pitch, PitchError};
pub use scale::{ScaleName, ScaleNameError};
pub use symbol::{ChordSymbol, Harmony, Quality, SymbolError};
