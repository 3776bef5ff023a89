//! What several commands take: the foot and what is written, the drill and its stage.

use clap::Args;
use std::path::PathBuf;

/// The foot, and what becomes of a take besides its sound.
#[derive(Debug, Args)]
pub struct TakeArgs {
    /// The foot as a script: lines `<beat> <switch> down|up`, or `<beat> song <number>` for a song select; beats in quarters from the first full bar
    #[arg(long, value_name = "FILE")]
    pub foot: Option<PathBuf>,
    /// Write what happens as JSON lines (`-`: to standard output)
    #[arg(long, value_name = "FILE")]
    pub events: Option<PathBuf>,
    /// Write every page as a PNG into this directory
    #[arg(long, value_name = "DIR")]
    pub pages: Option<PathBuf>,
}

/// The drill and one of its stages.
#[derive(Debug, Args)]
pub struct StageArgs {
    /// The drill; without it there are no targets
    #[arg(long, value_name = "FILE")]
    pub drill: Option<PathBuf>,
    /// The stage, by name or number (else the first)
    #[arg(long, value_name = "NAME|NUMBER", requires = "drill")]
    pub stage: Option<String>,
}
