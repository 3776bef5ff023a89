//! Charts: the model, the TOML file, and the form unrolled into timed chords.

mod analysis;
mod bars;
mod form;
mod lap;
mod lines;
mod model;
mod sections;
mod toml;
mod transpose;
mod words;

pub use analysis::Analysis;
pub use form::{Form, FormBar, FormChord};
pub use lap::{Lap, LapBar, LapChord};
pub use lines::{WrittenChord, form_lines, written_lines};
pub use model::{Cell, Chart, ChartBar, Ending, Feel, Hint, Section};
pub use toml::{MAX_BARS, MAX_BYTES};
