//! The command line of help, and of the papers that packages bring.

use clap::Args;
use std::path::PathBuf;

/// Arguments of `help`.
#[derive(Debug, Args)]
pub struct HelpArgs {
    /// A command (`journal report`), or a topic: files, foot, words
    #[arg(value_name = "COMMAND|TOPIC")]
    pub topic: Vec<String>,
}

/// Arguments of `papers`.
#[derive(Debug, Args)]
pub struct PapersArgs {
    /// The directory: man and completions are made in it
    #[arg(value_name = "DIR")]
    pub output: PathBuf,
}
