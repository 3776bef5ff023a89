//! The commands that need no audio server, a file each.

mod check;
mod clock;
mod export;
mod import;
mod kind;
mod learn;
mod listen;
mod listen_task;
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
pub use render::{page_panel, render};
pub use status::{readable, status};
pub use symbols::symbols;
pub use targets::targets;

use super::files::{self, Failure, WholeFile, exit};
use std::io::Write;
use std::path::Path;

/// Writes a text to a file, whole or not at all, or to standard output.
fn write_text(output: Option<&Path>, text: &str) -> Result<(), Failure> {
    let Some(path) = output else {
        let mut out = std::io::stdout().lock();
        let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
        return written.map_err(stdout_failed);
    };
    let failed = |error| {
        let why = files::why(&error);
        let text = format!("{}: cannot be written ({why})", path.display());
        Failure::new(exit::DATA, text)
    };
    WholeFile::write(path, text.as_bytes()).map_err(failed)
}

/// A failed write to standard output. A reader that has seen enough closes the pipe: no fault of anyone.
fn stdout_failed(error: std::io::Error) -> Failure {
    if error.kind() == std::io::ErrorKind::BrokenPipe {
        return Failure::new(exit::OK, "");
    }
    Failure::new(exit::SOFTWARE, format!("standard output: {error}"))
}
