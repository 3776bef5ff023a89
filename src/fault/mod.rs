//! Faults in what users write: where, which rule, what is nearest; all of them at once.
//!
//! Promise: pure; a fault names place, rule and nearest word, and none hides another.

mod nearest;
mod reader;
mod report;
pub(crate) mod settings;
mod table;

pub use nearest::{nearest, nearest_hint};
pub use reader::Reader;
pub(crate) use report::why;
pub use report::{Fault, Faults, Source, is_obeyed, printable, printable_lines};
pub use table::{TableView, Text};
pub(crate) use table::{keys_of, number_of};
