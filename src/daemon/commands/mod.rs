//! The commands that need no audio server, a file each.

mod check;
mod clock;
mod export;
mod import;
mod kind;
mod learn;
mod listen;
mod listen_task;
mod output;
mod pages;
mod render;
mod status;
mod symbols;
mod targets;
mod wav;

pub use check::check;
pub use clock::{clock_replay, clock_watch};
pub use export::export;
pub use import::import;
pub use learn::learn;
pub use listen::listen;
pub use pages::pages;
pub use render::{page_panel, render};
pub use status::{readable, status};
pub use symbols::symbols;
pub use targets::targets;
