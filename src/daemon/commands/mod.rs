//! The commands that need no audio server, a file each.

mod check;
mod clock;
mod doctor;
mod drill;
mod export;
mod help;
mod import;
#[cfg(feature = "journal")]
mod journal;
#[cfg(feature = "journal")]
mod journal_report;
mod learn;
mod listen;
mod listen_input;
mod listen_task;
#[cfg(feature = "journal")]
mod next;
mod output;
mod pages;
mod papers;
mod render;
mod set;
#[cfg(feature = "sheet")]
mod sheet;
mod status;
mod symbols;
mod takes;
mod targets;
mod update;
mod wav;

pub use check::check;
pub use clock::{clock_replay, clock_watch};
pub use doctor::doctor;
pub use drill::drill;
pub use export::export;
pub use help::help;
pub use import::import;
#[cfg(feature = "journal")]
pub use journal::journal;
pub use learn::learn;
pub use listen::listen;
#[cfg(feature = "journal")]
pub use next::next;
pub use pages::pages;
pub use papers::papers;
pub use render::render;
pub use set::set;
#[cfg(feature = "sheet")]
pub use sheet::sheet;
pub use status::{readable, status};
pub use symbols::symbols;
pub use targets::targets;
pub use update::{install_update, update};
