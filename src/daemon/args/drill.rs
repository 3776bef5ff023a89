//! The command line of drills.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// What is asked of a drill.
#[derive(Debug, Subcommand)]
pub enum DrillCommand {
    /// List the stages: what each is for, and what is easier and harder
    List(DrillListArgs),
    /// What a drill asks for over charts, in all its passes: orders, places, octaves, strings, positions, keys, degrees by kind
    /// of chord; and what never occurs
    Coverage(CoverageArgs),
}

/// Arguments of `drill list`.
#[derive(Debug, Args)]
pub struct DrillListArgs {
    /// The drill
    #[arg(value_name = "DRILL")]
    pub drill: PathBuf,
}

/// Arguments of `set`.
#[derive(Debug, Args)]
pub struct SetArgs {
    /// The set list
    #[arg(value_name = "LIST")]
    pub list: PathBuf,
    /// JSON lines
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `drill coverage`.
#[derive(Debug, Args)]
pub struct CoverageArgs {
    /// The drill
    #[arg(value_name = "DRILL")]
    pub drill: PathBuf,
    /// Charts, counted together
    #[arg(required = true, value_name = "CHART")]
    pub charts: Vec<PathBuf>,
    /// A configuration whose tuning, capo and habits of harmony count; without it what is built in
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// One JSON object
    #[arg(long)]
    pub json: bool,
    /// Draw it, too, into this file
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Chooses where the drill has a choice
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}
