//! `underfoot export`: a chart as MusicXML.

use super::stdout_failed;
use crate::daemon::args::ExportArgs;
use crate::daemon::files::{self, Failure, WholeFile, exit};
use crate::sheet::to_musicxml;
use std::io::Write;

/// `underfoot export`.
///
/// # Errors
/// Faults of the chart (65), or when the file cannot be written.
pub fn export(args: &ExportArgs) -> Result<(), Failure> {
    let chart = files::chart(&args.chart)?;
    let score = to_musicxml(&chart);
    match &args.output {
        Some(path) => {
            let failed = |error| {
                Failure::new(
                    exit::DATA,
                    format!("{}: cannot be written ({error})", path.display()),
                )
            };
            WholeFile::write(path, score.as_bytes()).map_err(failed)
        }
        None => {
            let mut out = std::io::stdout().lock();
            out.write_all(score.as_bytes())
                .and_then(|()| out.flush())
                .map_err(stdout_failed)
        }
    }
}
