//! `underfoot sheet`: what a drill asks for over a chart, to print.

use super::output::unwritable;
use crate::daemon::args::{PaperArg, SheetArgs, SheetKind};
use crate::daemon::config::Overlay;
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::sheet::{self, Wanted};
use crate::daemon::targets::Asked;
use crate::daemon::whole_file::WholeFile;
use crate::engrave::{
    Paper, SheetModel, chorus_on_paper, rows_on_paper, to_mei, to_musicxml, to_pdf, to_png, to_svg,
};
use crate::plan::Material;
use std::path::{Path, PathBuf};

/// What a file is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Pdf,
    Svg,
    Png,
    MusicXml,
    Mei,
}

const FORMATS: [(&str, Format); 5] = [
    ("pdf", Format::Pdf),
    ("svg", Format::Svg),
    ("png", Format::Png),
    ("musicxml", Format::MusicXml),
    ("mei", Format::Mei),
];

/// `underfoot sheet`.
///
/// # Errors
/// Faults of chart and drill (65) and of the configuration (78); a stage, section or kind of file that is not there (64); what
/// cannot be written (65).
pub fn sheet(args: &SheetArgs) -> Result<(), Failure> {
    let usage = |text: String| Failure::new(exit::USAGE, text);
    let output = output(args);
    let format = format_of(&output)?;
    let (chart, drill) = files::both(files::chart(&args.chart), files::drill(&args.drill))?;
    let config = files::config_apart(args.config.as_deref(), Overlay::default())?;
    let material = Material::new(chart, drill.clone(), config.harmony.clone());
    let asked = Asked {
        stage: args.stage.clone(),
        pass: args.pass,
        seed: args.seed,
        neck: config.neck(),
        ..Asked::default()
    };
    let wanted = Wanted {
        over: args.over.clone(),
        is_chorus: args.kind == SheetKind::Chorus,
        names: config.display.names,
    };
    let model = sheet::model(&material, &drill, asked, &wanted);
    let model = model.map_err(|error| usage(error.to_string()))?;
    let bytes = written(&model, args, format)?;
    WholeFile::write(&output, &bytes).map_err(|error| unwritable(&output, &error))
}

fn output(args: &SheetArgs) -> PathBuf {
    args.output.clone().unwrap_or_else(|| {
        let name = args.chart.file_stem().unwrap_or("sheet".as_ref());
        Path::new(name).with_extension("pdf")
    })
}

fn format_of(output: &Path) -> Result<Format, Failure> {
    let ending = output
        .extension()
        .and_then(|ending| ending.to_str())
        .unwrap_or("");
    let found = FORMATS
        .iter()
        .find(|(name, _)| ending.eq_ignore_ascii_case(name));
    found.map(|(_, format)| *format).ok_or_else(|| {
        let known: Vec<String> = FORMATS.iter().map(|(name, _)| format!(".{name}")).collect();
        let text = format!(
            "{}: its name must end in {}",
            output.display(),
            known.join(", ")
        );
        Failure::new(exit::USAGE, text)
    })
}

fn written(model: &SheetModel, args: &SheetArgs, format: Format) -> Result<Vec<u8>, Failure> {
    let paper = match args.paper {
        PaperArg::A4 => Paper::A4,
        PaperArg::Letter => Paper::Letter,
    };
    let laid_out = || match args.kind {
        SheetKind::Chords => rows_on_paper(model, paper),
        SheetKind::Chorus => chorus_on_paper(model, paper),
    };
    let failed = |text: String| Failure::new(exit::SOFTWARE, text);
    match format {
        Format::Mei => Ok(to_mei(model).into_bytes()),
        Format::MusicXml => Ok(to_musicxml(model).into_bytes()),
        Format::Pdf => to_pdf(&laid_out()).map_err(|error| failed(error.to_string())),
        Format::Svg => Ok(to_svg(&laid_out()).into_bytes()),
        Format::Png => to_png(&laid_out()).map_err(|error| failed(error.to_string())),
    }
}
