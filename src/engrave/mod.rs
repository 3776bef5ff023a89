//! Sheets to print: what to play over each chord, on a staff, in tablature and on the neck.
//!
//! [`SheetModel`] says what there is to print, [`rows_on_paper`] lays it out in millimetres as marks on pages ([`LaidOut`]), and
//! [`to_svg`], [`to_pdf`] and [`to_png`] write these; what is laid out has a box for each mark, so that a test can
//! prove that nothing lies over anything else.
//!
//! Promise: pure; the same model gives the same bytes, and what is printed is what `targets` says.

mod accidentals;
mod around;
mod bar_notes;
mod beams;
mod canvas;
mod chorus;
mod fonts;
mod mei;
mod model;
mod musicxml;
mod neck_map;
mod paper;
mod pdf;
mod picture;
mod rows;
mod score;
mod spacing;
mod staff;
mod svg;
mod system;

pub use canvas::{Group, LaidOut, Mark, PaperPage, Role};
pub use chorus::chorus_on_paper;
pub use fonts::Rect;
pub use mei::to_mei;
pub use model::{Clef, SheetBar, SheetChord, SheetModel, SheetNote};
pub use musicxml::to_musicxml;
pub use paper::{Paper, rows_on_paper};
pub use pdf::{PdfError, to_pdf};
pub use picture::to_png;
pub use svg::to_svg;
