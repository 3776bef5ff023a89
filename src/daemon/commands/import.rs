//! `underfoot import`: a lead sheet of another program, or changes that were typed, made into a chart.

use super::output::write_text;
use crate::chart::Chart;
use crate::daemon::args::ImportArgs;
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::kind::{FileKind, kind};
use crate::fault::{Source, printable};
use crate::sheet::{Imported, from_midi, from_musicxml};
use std::path::Path;

/// `underfoot import`: the chart to a file or standard output, what could not be read to standard error.
///
/// # Errors
/// When the file cannot be read or makes no chart (65), or the chart cannot be written.
pub fn import(args: &ImportArgs) -> Result<(), Failure> {
    let name = args.file.display();
    let refused = |rule: String| Failure::new(exit::DATA, format!("{name}: {rule}"));
    let bytes = files::score(&args.file).map_err(|fault| Failure::new(exit::DATA, fault))?;
    let stem = args.file.file_stem().unwrap_or_default().to_string_lossy();
    let imported = if bytes.starts_with(b"MThd") {
        from_midi(&bytes, &stem).map_err(|error| refused(error.to_string()))?
    } else if files::is_score(&bytes) {
        from_musicxml(&bytes, &stem).map_err(|error| refused(error.to_string()))?
    } else if let Some(what) = ours(&args.file, &bytes) {
        return Err(refused(format!(
            "{what} of ours: there is nothing to import"
        )));
    } else {
        typed(&args.file, bytes, &stem)?
    };
    for warning in &imported.warnings {
        eprintln!("{}", printable(&format!("{name}: {warning}")));
    }
    let text = chart_file(&args.file, &imported);
    confirm(&text, &imported.chart)?;
    write_text(args.output.as_deref(), &text)
}

/// What a file of ours is.
fn ours(path: &Path, bytes: &[u8]) -> Option<&'static str> {
    match kind(path, bytes) {
        FileKind::Chart => Some("a chart"),
        FileKind::Drill => Some("a drill"),
        FileKind::SetList => Some("a set list"),
        _ => None,
    }
}

/// Changes that were typed.
fn typed(path: &Path, bytes: Vec<u8>, stem: &str) -> Result<Imported, Failure> {
    let text = files::as_text(path, bytes).map_err(|fault| Failure::new(exit::DATA, fault))?;
    let name = path.display().to_string();
    let source = Source {
        name: &name,
        text: &text,
    };
    let chart = Chart::read_text(&source, stem);
    let chart = chart.map_err(|faults| Failure::new(exit::DATA, faults.to_string()))?;
    let warnings = Vec::new();
    Ok(Imported { chart, warnings })
}

/// The chart file: where it comes from and what was strange as comments, then the chart.
fn chart_file(path: &Path, imported: &Imported) -> String {
    let file = path.file_name().unwrap_or_default().to_string_lossy();
    let mut text = format!("# Made from {}.\n", printable(&file));
    if !imported.warnings.is_empty() {
        text += "# What could not be taken over as it stands there:\n";
    }
    for warning in &imported.warnings {
        text += &format!("#   {}\n", printable(&warning.to_string()));
    }
    text + "\n" + &imported.chart.to_toml()
}

/// What is written must be the chart that was made: better no file than a wrong one.
pub(super) fn confirm(text: &str, chart: &Chart) -> Result<(), Failure> {
    let source = Source {
        name: "the chart",
        text,
    };
    match Chart::read(&source) {
        Ok(read) if read == *chart => Ok(()),
        Ok(_) => Err(Failure::new(
            exit::SOFTWARE,
            "the chart would not be read as it was made: nothing is written; please report the file",
        )),
        Err(faults) => Err(Failure::new(exit::DATA, faults.to_string())),
    }
}
