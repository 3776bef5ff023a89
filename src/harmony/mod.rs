//! Harmony: spelled pitches, degrees, chord symbols, scales, and each chord in the context of the whole chart.
//!
//! The one question this module answers: *over this chord, in this place of this tune, which notes would a
//! good teacher name, and how would they spell them?* Everything here is pure.
//!
//! A symbol goes through `grammar` (characters to words) and `build` (words to tones); `canonical` writes
//! it in one form. A chart goes through `home` (its key), `local_key` (one search over the whole form and 24 keys, scored by
//! `standing` with `weights`), `own_notes` (the local key's notes under each chord, which is the principle), `function` and `dominant` (the
//! few rules that may speak over it), and `fitting` (the symbol's own tones come first; every degree gets its name, spelling
//! and role). `certainty` says what speaks for another reading. `habits` has what teachers differ on; with `trial` a measurement
//! leaves a rule out or moves a weight.
//!
//! Promise: pure; every note is spelled, and transposing a chart transposes what is found.

mod build;
mod canonical;
mod certainty;
mod context;
mod dominant;
mod fitting;
mod function;
mod grammar;
mod habits;
mod home;
mod key;
mod lines;
mod local_key;
mod neighbours;
mod numeral;
mod own_notes;
mod pitch;
mod reading;
mod role;
mod rule;
mod scale;
mod sound;
mod standing;
mod symbol;
mod trial;
mod vocabulary;
mod weights;

pub use certainty::Certainty;
pub use context::{ChordInContext, TimedChord, in_context, undeclared_home};
pub use habits::{
    AfterHalfDiminished, DominantToMinor, HabitChoices, Habits, MinorTonic, MinorTwo, School,
    ThreeChord,
};
pub use key::{Key, KeyDeclaration, KeyError, Mode};
pub use lines::symbols_line;
pub use pitch::{Degree, DegreeError, Letter, Pitch, PitchError};
pub use role::{DegreeRole, Role};
pub use rule::Rule;
pub use scale::{ScaleName, ScaleNameError};
pub use symbol::{ChordSymbol, Harmony, Quality, SymbolError};
pub use trial::{Trial, TrialError};
pub use weights::Weights;
