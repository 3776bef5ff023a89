//! The commands about the practice journal.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The commands about the practice journal.
#[derive(Debug, Subcommand)]
pub enum JournalCommand {
    /// Show what was practised: time, how sure each skill is, what is due
    Report(ReportArgs),
    /// Copy the journal to a file, also while the daemon runs (copying the file itself may lose what came last)
    Backup(BackupArgs),
    /// Write out everything in it
    Export(ExportRowsArgs),
    /// Take over what other journals have and this one has not; the others stay as they are
    Merge(MergeArgs),
    /// Delete a player, or what is older than a day, for good
    Forget(ForgetArgs),
}

/// Where the journal is.
#[derive(Debug, Args)]
pub struct JournalPlace {
    /// The journal, if it is not the configured one
    #[arg(long, value_name = "FILE")]
    pub journal: Option<PathBuf>,
    /// The configuration, to find the journal; without it the usual places are looked through
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
}

/// Arguments of `journal report`.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// Text for a terminal (what comes without any of these)
    #[arg(long)]
    pub text: bool,
    /// One JSON object
    #[arg(long, conflicts_with = "text")]
    pub json: bool,
    /// Write a page that needs nothing else, for a browser and for paper
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// Write a picture as SVG
    #[arg(long, value_name = "FILE")]
    pub svg: Option<PathBuf>,
    /// Write a picture as PNG
    #[arg(long, value_name = "FILE")]
    pub png: Option<PathBuf>,
    /// Whose practice (else the only player there is, or all of them in a table)
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    /// Only what was played since this day (2026-11-30); how sure a skill is rests on all of it
    #[arg(long, value_name = "DATE", value_parser = super::values::date)]
    pub since: Option<jiff::civil::Date>,
    /// Which journal.
    #[command(flatten)]
    pub place: JournalPlace,
}

/// Arguments of `next`.
#[derive(Debug, Args)]
pub struct NextArgs {
    /// The chart (else the first that is configured)
    #[arg(value_name = "CHART")]
    pub chart: Option<PathBuf>,
    /// Whose practice (else the configured player)
    #[arg(long, value_name = "NAME")]
    pub player: Option<String>,
    /// How many things at the most
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=12))]
    pub items: u32,
    /// Not this one today, by its name ("b3 over minor 7"; may be given several times)
    #[arg(long, value_name = "ITEM")]
    pub skip: Vec<String>,
    /// Write a drill of them: a stage each, over their chords alone
    #[arg(short, long, value_name = "DRILL")]
    pub output: Option<PathBuf>,
    /// JSON lines
    #[arg(long)]
    pub json: bool,
    /// Which journal.
    #[command(flatten)]
    pub place: JournalPlace,
}

/// Arguments of `journal backup`.
#[derive(Debug, Args)]
pub struct BackupArgs {
    /// The file to write
    #[arg(value_name = "FILE")]
    pub to: PathBuf,
    /// Which journal.
    #[command(flatten)]
    pub place: JournalPlace,
}

/// Arguments of `journal export`.
#[derive(Debug, Args)]
pub struct ExportRowsArgs {
    /// A line for each note that was asked for, for a spreadsheet
    #[arg(long, required_unless_present = "json")]
    pub csv: bool,
    /// Everything as JSON lines: takes, stages, verdicts, choices, what the foot did
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// The file to write; without it standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Which journal.
    #[command(flatten)]
    pub place: JournalPlace,
}

/// Arguments of `journal merge`.
#[derive(Debug, Args)]
pub struct MergeArgs {
    /// The other journals
    #[arg(required = true, value_name = "FILE")]
    pub from: Vec<PathBuf>,
    /// Whose practice all of it is, whatever name it stands under there
    #[arg(long, value_name = "NAME", value_parser = crate::daemon::config::player_name)]
    pub player: Option<String>,
    /// Which journal.
    #[command(flatten)]
    pub place: JournalPlace,
}

/// Arguments of `journal forget`.
#[derive(Debug, Args)]
pub struct ForgetArgs {
    /// Whose practice (else everybody's)
    #[arg(long, value_name = "NAME", required_unless_present_any = ["before", "everything"])]
    pub player: Option<String>,
    /// Only what is older than this day (2026-11-30)
    #[arg(long, value_name = "DATE", value_parser = super::values::date)]
    pub before: Option<jiff::civil::Date>,
    /// Everything of everybody
    #[arg(long, conflicts_with_all = ["player", "before"])]
    pub everything: bool,
    /// Which journal.
    #[command(flatten)]
    pub place: JournalPlace,
}
