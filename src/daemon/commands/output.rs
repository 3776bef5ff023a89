//! Where commands write to, and what is told where that fails.

use crate::daemon::files::{self, Failure, exit};
use crate::daemon::whole_file::WholeFile;
use std::io::Write;
use std::path::Path;

/// Writes a text to a file, whole or not at all, or to standard output.
pub(super) fn write_text(output: Option<&Path>, text: &str) -> Result<(), Failure> {
    let Some(path) = output else {
        let mut out = std::io::stdout().lock();
        let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
        return written.map_err(stdout_failed);
    };
    WholeFile::write(path, text.as_bytes()).map_err(|error| unwritable(path, &error))
}

/// A failed write to standard output. A reader that has seen enough closes the pipe: no fault of anyone.
pub(super) fn stdout_failed(error: std::io::Error) -> Failure {
    if error.kind() == std::io::ErrorKind::BrokenPipe {
        return Failure::new(exit::OK, "");
    }
    Failure::new(exit::SOFTWARE, format!("standard output: {error}"))
}

/// A file that cannot be written.
pub(super) fn unwritable(path: &Path, error: &std::io::Error) -> Failure {
    let why = files::why(error);
    Failure::new(
        exit::DATA,
        format!("{}: cannot be written ({why})", path.display()),
    )
}
