//! Harmony: spelled pitches, degrees, chord symbols, scales, and each chord in the context of the whole chart.
//!
//! The one question this module answers: *over this chord, in this place of this tune, which notes would a
//! good teacher name, and how would they spell them?* Everything here is pure.
//!
//! A symbol goes through `grammar` (characters to words) and `build` (words to tones); `canonical` writes
//! it in one form. A chart goes through `local_key` (the cheapest path of keys through the whole form),
//! `function` and `dominant` (what a chord does in a key, and the scale that follows), and `fitting` (the
//! symbol's own tones come first; every degree gets its name, spelling and role).

mod build;
mod canonical;
mod context;
mod dominant;
mod fitting;
mod function;
mod grammar;
mod habits;
mod key;
mod lines;
mod local_key;
mod pitch;
mod reading;
mod role;
mod scale;
mod sound;
mod symbol;
mod vocabulary;

pub use context::{ChordInContext, TimedChord, in_context, undeclared_home};
pub use habits::{
    AfterHalfDiminished, DominantToMinor, HabitChoices, Habits, MinorTonic, ThreeChord,
};
pub use key::{Key, KeyDeclaration, KeyError, Mode};
pub use lines::symbols_line;
pub use pitch::{Degree, DegreeError, Letter, Pitch, PitchError};
pub use role::{DegreeRole, Role};
pub use scale::{ScaleName, ScaleNameError};
pub use symbol::{ChordSymbol, Harmony, Quality, SymbolError};
