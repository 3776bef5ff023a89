//! Pages as data, drawn into memory; the screens that show them.
//!
//! [`Page`] says what there is to see, [`draw`] turns it into a [`Bitmap`] for a [`Panel`], and a screen
//! under [`screens`] shows that.
//!
//! Promise: a page is data, and one code draws it for every panel; no set that is to be played is ever cut.

mod bitmap;
mod contact;
mod draw;
pub mod glyphs;
mod group;
mod layout;
mod light;
mod menu;
mod message;
mod naming;
mod neck;
pub mod oled;
mod page;
mod practice;
pub mod screens;
mod set;
mod words;

pub use bitmap::{Area, Bitmap, DrawnText};
pub use contact::contact_sheet;
pub use draw::{draw, draw_from, drawn_texts, reading};
pub use layout::{Arrangement, ONLY_THE_SET_BELOW_MM, Panel};
pub use message::{MORE, message_lines, message_rows, message_text};
pub use naming::{accidental, degree_word, note_name};
pub use page::{
    ArmedLine, BreathePage, Large, NeckDot, NeckOnPage, Page, PageCell, PracticePage, SetOnPage,
    TuningPage, tempo_parts,
};
pub use words::PageWords;
