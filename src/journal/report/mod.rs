//! What a journal shows: how long was practised, how sure each skill is and how that went, what is due, how varied it was.
//! No points, no series of days, no praise: what is, and how sure that is.

mod chart;
pub(super) mod dates;
mod gather;
mod html;
pub(super) mod learned;
mod model;
mod pixels;
mod text;

pub use chart::{png, svg};
pub use dates::day_of;
pub use gather::{gather, overview};
pub use html::{html, html_overview};
pub use model::{PlayerLine, Report, SkillReport, State, Variety, Week};
pub use text::{json, json_overview, text, text_overview};
