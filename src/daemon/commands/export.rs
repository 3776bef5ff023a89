//! `underfoot export`: a chart as MusicXML, or as plain text.

use super::import::confirm;
use super::output::write_text;
use crate::daemon::args::ExportArgs;
use crate::daemon::files::{self, Failure, exit};
use crate::sheet::{from_musicxml, to_musicxml};

/// `underfoot export`. What is written, `import` takes: better no file than one that cannot be read back.
///
/// # Errors
/// Faults of the chart (65), a form so long that its score would be refused, or when the file cannot be written.
pub fn export(args: &ExportArgs) -> Result<(), Failure> {
    let chart = files::chart(&args.chart)?;
    if args.text {
        let (text, left_out) = chart.to_text();
        for what in left_out {
            eprintln!("a text cannot say this, so it is left out: {what}");
        }
        return write_text(args.output.as_deref(), &text);
    }
    let score = to_musicxml(&chart);
    let refused = |why: &str| {
        let rule = format!(
            "{}: as a score it could not be read back: {why}",
            args.chart.display()
        );
        Failure::new(exit::DATA, rule)
    };
    let back = from_musicxml(score.as_bytes(), &chart.title);
    let back = back.map_err(|error| refused(&error.to_string()))?;
    confirm(&back.chart.to_toml(), &back.chart).map_err(|failure| refused(&failure.text))?;
    write_text(args.output.as_deref(), &score)
}
