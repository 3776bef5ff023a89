//! The commands that ask a running daemon, and those about MIDI clock.

use super::values::seconds;
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The commands about MIDI clock.
#[derive(Debug, Subcommand)]
pub enum ClockCommand {
    /// What the box would have played to a recorded clock
    Replay(ReplayArgs),
    /// What the running daemon makes of the clock it follows: one line that goes on
    Watch(WatchArgs),
}

/// Where the running daemon is.
#[derive(Debug, Args)]
pub struct DaemonArgs {
    /// The daemon's socket, if it is not the usual one
    #[arg(long, value_name = "PATH")]
    pub socket: Option<PathBuf>,
    /// The daemon's configuration, to find the socket
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
}

/// Arguments of `clock watch`.
#[derive(Debug, Args)]
pub struct WatchArgs {
    /// End after this many seconds
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub seconds: Option<f64>,
    /// A JSON object a line instead of one line that changes
    #[arg(long)]
    pub json: bool,
    /// Where it listens.
    #[command(flatten)]
    pub daemon: DaemonArgs,
}

/// Arguments of `clock replay`.
#[derive(Debug, Args)]
pub struct ReplayArgs {
    /// Lines `<microseconds> <hex bytes>`; `-` is standard input
    #[arg(value_name = "TRACE|-")]
    pub trace: PathBuf,
    /// Every tick, 24 to a quarter note, instead of every quarter note
    #[arg(long)]
    pub ticks: bool,
    /// JSON lines (the form that programs read)
    #[arg(long)]
    pub json: bool,
    /// Play on for so many quarter notes after the last tick
    #[arg(long, value_name = "N", default_value_t = 16, value_parser = clap::value_parser!(u32).range(0..=1024))]
    pub hold_beats: u32,
}

/// Arguments of `status`.
#[derive(Debug, Args)]
pub struct StatusArgs {
    /// One JSON object
    #[arg(long)]
    pub json: bool,
    /// One line in words
    #[arg(long, conflicts_with = "json")]
    pub line: bool,
    /// Where it listens.
    #[command(flatten)]
    pub daemon: DaemonArgs,
}

/// Arguments of `doctor`.
#[derive(Debug, Args)]
pub struct DoctorArgs {
    /// A JSON object for each finding
    #[arg(long)]
    pub json: bool,
    /// Another system: the root of its files
    #[arg(long, value_name = "DIR", default_value = "/")]
    pub root: PathBuf,
    /// Where the daemon listens.
    #[command(flatten)]
    pub daemon: DaemonArgs,
}
