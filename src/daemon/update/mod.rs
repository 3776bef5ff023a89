//! Updates: a package that was signed by whoever makes this box's packages, handed over to root, who looks again and installs it.
//!
//! # Why does root look again?
//!
//! The daemon has no rights, and what it hands over lies in its own directory: whoever breaks into it could put anything there.
//! So the same checks are done once more, on a copy that only root can change.

mod hand_over;
mod install;
mod notice;
mod outcome;
mod package;
mod seal;

pub use hand_over::{KEY, OUTCOME, SPOOL, hand_over, look};
pub use install::{Installing, install};
pub use notice::{ENDINGS, Noticed, Noticing};
pub use outcome::{Outcome, is_awaited, leave, left};
pub use package::{Package, fits};
pub use seal::{Sealed, sealed};
