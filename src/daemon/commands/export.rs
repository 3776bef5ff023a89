//! `underfoot export`: a chart as MusicXML.

use super::output::write_text;
use crate::daemon::args::ExportArgs;
use crate::daemon::files::{self, Failure};
use crate::sheet::to_musicxml;

/// `underfoot export`.
///
/// # Errors
/// Faults of the chart (65), or when the file cannot be written.
pub fn export(args: &ExportArgs) -> Result<(), Failure> {
    let chart = files::chart(&args.chart)?;
    let score = to_musicxml(&chart);
    write_text(args.output.as_deref(), &score)
}
