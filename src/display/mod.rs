//! Pages as data, drawn into memory; the screens that show them.

mod page;

pub use page::{ArmedLine, BreathePage, Large, Page, Phase, PracticePage, SetOnPage};
