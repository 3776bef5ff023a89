//! Charts from other programs and for them.

use clap::Args;
use std::path::PathBuf;

/// Arguments of `import`.
#[derive(Debug, Args)]
pub struct ImportArgs {
    /// The lead sheet: .musicxml, .xml, .mxl, .mid or a text; known by what stands in it
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// The chart to write; without it the chart goes to standard output
    #[arg(short, long, value_name = "CHART")]
    pub output: Option<PathBuf>,
}

/// Arguments of `export`.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// The chart; `-` is standard input
    #[arg(value_name = "CHART|-")]
    pub chart: PathBuf,
    /// The file to write; without it the score goes to standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Plain text, as musicians type changes, instead of MusicXML
    #[arg(long)]
    pub text: bool,
}
