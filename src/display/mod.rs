//! Pages as data, drawn into memory; the screens that show them.

mod page;

pub use page::{ArmedLine, BreathePage, Cell, Large, Page, Phase, PracticePage, SetOnPage};
/// SHIM
pub fn note_name(p: crate::harmony::Pitch, _: crate::drill::Names) -> String { p.to_string() }
/// SHIM
pub fn degree_word(_: crate::harmony::Degree) -> &'static str { "" }
