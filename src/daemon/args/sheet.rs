//! The command that prints.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// What a sheet shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum SheetKind {
    /// What to play: a line a chord
    #[default]
    Chords,
    /// One way to play it: a whole chorus written out, from the seed
    Chorus,
}

/// What it is printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum PaperArg {
    #[default]
    A4,
    Letter,
}

/// Arguments of `sheet`.
#[derive(Debug, Args)]
pub struct SheetArgs {
    /// The chart
    #[arg(value_name = "CHART")]
    pub chart: PathBuf,
    /// The drill
    #[arg(long, value_name = "FILE")]
    pub drill: PathBuf,
    /// The stage, by name or number (else the first)
    #[arg(long, value_name = "NAME|NUMBER")]
    pub stage: Option<String>,
    /// A section alone, or "form": the tune as it is played; left out: each section once, of a chorus the form
    #[arg(long, value_name = "SECTION|form")]
    pub over: Option<String>,
    /// What to show
    #[arg(long, value_enum, default_value_t)]
    pub kind: SheetKind,
    /// What to print on
    #[arg(long, value_enum, default_value_t)]
    pub paper: PaperArg,
    /// A configuration whose names of notes, neck and habits of harmony count; without it what is built in
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// The pass, from 1: places, orders and choices change from pass to pass
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..))]
    pub pass: u32,
    /// Chooses where the drill has a choice
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// The file: .pdf, .svg, .png, .musicxml or .mei; left out: the chart's name with .pdf, in this directory
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}
