//! Charts: the model, the TOML file, and the form unrolled into timed chords.

mod form;
mod model;

pub use form::{Form, FormBar, FormChord, Lap, LapBar, LapChord};
pub use model::{Cell, Chart, ChartBar, Ending, Feel, Hint, Section};
