//! The commands that bring another version.

use crate::daemon::update;
use clap::Args;
use std::path::PathBuf;

/// Arguments of `update`.
#[derive(Debug, Args)]
pub struct UpdateArgs {
    /// The package, with its signature (.minisig) beside it
    #[arg(value_name = "FILE.deb")]
    pub file: PathBuf,
    /// Only say whether it may be installed
    #[arg(long)]
    pub check: bool,
    /// The public key of whoever makes the packages
    #[arg(long, value_name = "FILE", default_value = update::KEY)]
    pub key: PathBuf,
    /// Where it is handed over
    #[arg(long, value_name = "DIR", default_value = update::SPOOL)]
    pub spool: PathBuf,
    /// Another system: the root of its files
    #[arg(long, value_name = "DIR", default_value = "/")]
    pub root: PathBuf,
}

/// Arguments of `install-update`, which a unit of root's runs.
#[derive(Debug, Args)]
pub struct InstallUpdateArgs {
    /// Where it was handed over
    #[arg(long, value_name = "DIR", default_value = update::SPOOL)]
    pub spool: PathBuf,
    /// The public key of whoever makes the packages
    #[arg(long, value_name = "FILE", default_value = update::KEY)]
    pub key: PathBuf,
    /// Where packages are kept
    #[arg(long, value_name = "DIR", default_value = "/var/lib/underfoot-update")]
    pub keep: PathBuf,
    /// Another system: the root of its files
    #[arg(long, value_name = "DIR", default_value = "/")]
    pub root: PathBuf,
    /// What comes out well where the new version runs
    #[arg(
        long,
        value_name = "COMMAND",
        default_value = "systemctl is-active --quiet underfoot"
    )]
    pub runs: String,
    /// Where what came of it is left
    #[arg(long, value_name = "FILE", default_value = update::OUTCOME)]
    pub outcome: PathBuf,
    /// How long after the installation that is asked
    #[arg(long, value_name = "SECONDS", default_value_t = 10)]
    pub settle: u64,
}
