//! Pages as data, drawn into memory; the screens that show them.
//!
//! [`Page`] says what there is to see, [`draw`] turns it into a [`Bitmap`] for a [`Panel`], and a screen
//! under [`screens`] shows that.
//!
//! # The grammar of a page, the same on every panel and in every stage
//!
//! 1. What is to be played first stands first: in the largest letters, or in the light cell of a row. Nothing else has that weight.
//! 2. What comes after it stands after it, smaller: below, or in the cells to the right and below, which lines part. What is
//!    over stands nowhere but to the left of the light cell.
//! 3. The chord in the light box is that of the largest letters; the chord of a lower row stands at its end, that of a cell
//!    below its words. Where there are corners, the upper one holds the chord that sounds and the lower one the chord to come.
//! 4. Degrees always have their chord, and one that bends says so ("♭second"); a chord is never in the letters of its notes,
//!    nor in larger ones.
//! 5. From four notes on the root stands huge, and beside it all of them in their order, the root again among them.
//! 6. A mark ("below", ↓) belongs to the word above or behind it. Marks of notes that are not asked for stand nowhere.
//! 7. What to do is always told, the verb first: listen, sing, play, break; then where in the bar, then on which strings. What
//!    comes after a "then" is done from the next set on; a "then" alone: what was to be done is done.
//! 8. Digits are beats, but for strings. A text that has no room gives way whole; no word is cut.
//!
//! Promise: a page is data, and one code draws it for every panel; no set that is to be played is ever cut.

mod bitmap;
mod contact;
mod count_in;
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
mod sheet;
mod words;

pub use bitmap::{Area, Bitmap, DrawnText};
pub use contact::contact_sheet;
pub use draw::{draw, draw_from, drawn_texts, reading};
pub use layout::{Arrangement, ONLY_THE_SET_BELOW_MM, Panel};
pub use message::{MORE, message_lines, message_rows, message_text};
pub use naming::{accidental, degree_told, degree_word, note_name};
pub use neck::roman;
pub use page::{
    ArmedLine, BreathePage, Large, NeckDot, NeckOnPage, Page, PageCell, PracticePage, SetOnPage,
    TuningPage, tempo_parts,
};
pub use words::PageWords;
