//! Charts: the model, the TOML file, and the form unrolled into timed chords.
//!
//! A [`Chart`] is what is written: sections of bars, endings, a form. [`Form::unroll`] writes it out as it is
//! played, [`Form::lap`] cuts out what loops, [`form_lines`] and [`written_lines`] list its chords for
//! programs, [`Analysis`] puts them into their harmonic context.
//!
//! ```
//! use underfoot::chart::{Chart, Form};
//! use underfoot::fault::Source;
//!
//! let text = r#"
//! title = "Two Bars"
//! [[section]]
//! name = "A"
//! bars = ["Dm7 G7", "Cmaj7"]
//! "#;
//! let chart = Chart::read(&Source { name: "two-bars.toml", text })?;
//! let form = Form::unroll(&chart);
//! assert_eq!((form.bars.len(), form.chords.len()), (2, 3));
//! assert_eq!(form.lap(&[1, 1]).len.quarters(), 8.0);
//! # Ok::<(), underfoot::fault::Faults>(())
//! ```
//!
//! Promise: pure; what is written comes back as it was written, and every fault of a file is told at once.

mod analysis;
mod barlist;
mod bars;
mod form;
mod habits;
mod lap;
mod lines;
mod longer;
mod melody;
mod melody_file;
mod model;
mod placed;
mod route;
mod route_file;
mod sections;
mod text;
mod toml;
mod transpose;
mod unplayed;
mod writer;

pub use analysis::Analysis;
pub use form::{Form, FormBar, FormChord};
pub(crate) use habits::habits;
pub use lap::{Lap, LapBar, LapChord};
pub use lines::{WrittenChord, form_lines, written_lines};
pub use melody::PlayedNote;
pub use model::{
    Cell, Chart, ChartBar, Ending, Feel, Hint, LastTime, MAX_BARS, Melody, MelodyNote, Section,
    Unread,
};
pub use route::{Leg, Route};
pub use toml::MAX_BYTES;
pub(crate) use toml::read_chart;

pub(crate) use transpose::suffix;
