//! The command line.

mod asking;
mod drill;
mod exchange;
mod help;
mod input;
#[cfg(feature = "journal")]
mod journal;
mod lesson;
mod practised;
mod render;
#[cfg(feature = "sheet")]
mod sheet;
mod update;
mod values;

pub use asking::{ClockCommand, DaemonArgs, DoctorArgs, ReplayArgs, StatusArgs, WatchArgs};
pub use drill::{CoverageArgs, DrillCommand, DrillListArgs, SetArgs};
#[cfg(feature = "journal")]
pub use journal::{
    BackupArgs, ExportRowsArgs, ForgetArgs, JournalCommand, JournalPlace, MergeArgs, NextArgs,
    ReportArgs,
};

pub use exchange::{ExportArgs, ImportArgs};
pub use help::{HelpArgs, PapersArgs};
pub use input::{CalibrateArgs, LearnArgs, ListenArgs};
pub use lesson::LessonArgs;
pub use practised::{StageArgs, TakeArgs};
pub use render::{PagesArgs, RenderArgs};
#[cfg(feature = "sheet")]
pub use sheet::{PaperArg, SheetArgs, SheetKind};
pub use update::{InstallUpdateArgs, UpdateArgs};

use super::config::Overlay;
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;
use values::seconds;

const EXIT_CODES: &str = "Exit codes: 0 all went well, 64 wrong command line, 65 a chart, drill, foot script or \
    sound file is wrong, 69 the audio server hangs, no daemon answers or \
    another one runs already or playing is at risk (doctor), 70 a bug, 78 the configuration is \
    wrong.";

/// Plays the changes, shows and speaks the next notes, is worked by foot.
#[derive(Debug, Parser)]
#[command(name = "underfoot", version, about, long_about = None, max_term_width = 100, after_help = EXIT_CODES, disable_help_subcommand = true)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Practise: play through JACK, listen to the foot, show and speak what comes next
    Run(RunArgs),
    /// Read files (charts, drills, configurations, SoundFonts) and report every error, and what will not fit
    Check(CheckArgs),
    /// Explain chord symbols: one a line in, one JSON object a line out
    Symbols(SymbolsArgs),
    /// The notes for every chord of a chart
    Targets(TargetsArgs),
    /// Render a practice track: the same music as `run`, without a sound card
    Render(Box<RenderArgs>),
    /// A lesson to take home: every stage of a drill over a chart as a track, with a page that plays them
    Lesson(Box<LessonArgs>),
    /// Drills: what they are for, and what they ask for over a chart
    #[command(subcommand)]
    Drill(DrillCommand),
    /// What a set list comes to: its tunes with keys, tempi, count-in and who leads the clock
    Set(SetArgs),
    /// Draw what the box will show, a sheet of pictures for each panel: a preview for whoever teaches
    Pages(PagesArgs),
    /// Print what a drill asks for over a chart: staff, tablature, neck; PDF, SVG, PNG, MusicXML or MEI
    #[cfg(feature = "sheet")]
    Sheet(SheetArgs),
    /// Make a chart of a lead sheet: MusicXML (plain or compressed), a MIDI file with chord names in it, or changes typed as
    /// text ("| Cm7 | F7 |")
    Import(ImportArgs),
    /// Write a chart as MusicXML: chord symbols over slashes; or as text
    Export(ExportArgs),
    /// Name the switches by pressing them: prints the lines for the configuration
    Learn(LearnArgs),
    /// Name the notes of a recording, as the live box hears them
    Listen(ListenArgs),
    /// Measure the round-trip delay, from the outputs to the guitar's input, and print the line for the configuration
    Calibrate(CalibrateArgs),
    /// Status of the running daemon
    Status(StatusArgs),
    /// What is wrong with this box, each finding with its cure
    Doctor(DoctorArgs),
    /// Install another version: a signed package, from a USB stick or by copy
    Update(UpdateArgs),
    /// Root's part of it
    #[command(hide = true)]
    InstallUpdate(InstallUpdateArgs),
    /// What to practise next over a chart, by the practice journal, and why
    #[cfg(feature = "journal")]
    Next(NextArgs),
    /// The practice journal: what was practised, kept on this box
    #[cfg(feature = "journal")]
    #[command(subcommand)]
    Journal(JournalCommand),
    /// MIDI clock: how the box follows it
    #[command(subcommand)]
    Clock(ClockCommand),
    /// What a command or a topic is about: files, foot, words
    Help(HelpArgs),
    /// Write the manual pages and the completions for bash, zsh and fish into a directory
    #[command(hide = true)]
    Papers(PapersArgs),
}

/// Arguments of `run`.
#[derive(Debug, Args)]
pub struct RunArgs {
    /// The configuration; without it the usual places are looked through
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// What lies over the configuration.
    #[command(flatten)]
    pub over: Overlay,
    /// The foot, and what is written.
    #[command(flatten)]
    pub take: TakeArgs,
    /// Draw the page in this terminal; its keys are the switches
    #[arg(long)]
    pub terminal: bool,
    /// End by itself after this many seconds of playing
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub seconds: Option<f64>,
    /// Start fresh, whatever the last session left
    #[arg(long)]
    pub fresh: bool,
    /// Open a plan of days at this day
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=366))]
    pub day: Option<u32>,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// Charts, drills, set lists, configurations, foot scripts and SoundFonts, known by what stands in them; a drill is tried
    /// over every chart given with it
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
}

/// Arguments of `symbols`.
#[derive(Debug, Args)]
pub struct SymbolsArgs {
    /// A file with one symbol a line; `-` is standard input
    #[arg(value_name = "FILE|-")]
    pub file: PathBuf,
    /// As for `targets`; here a symbol that cannot be read is always told in its place
    #[arg(long)]
    pub keep_going: bool,
}

/// Arguments of `targets`.
#[derive(Debug, Args)]
pub struct TargetsArgs {
    /// The chart; `-` is standard input
    #[arg(value_name = "CHART|-")]
    pub chart: PathBuf,
    /// What is practised on it.
    #[command(flatten)]
    pub practised: StageArgs,
    /// A configuration whose tuning, capo and habits of harmony count; without it what is built in
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// The pass, from 1: places, orders and choices change from pass to pass
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..))]
    pub pass: u32,
    /// The unrolled form instead of the chart as written
    #[arg(long)]
    pub form: bool,
    /// JSON lines (the form that programs read)
    #[arg(long)]
    pub json: bool,
    /// Say why each chord got its scale
    #[arg(long)]
    pub why: bool,
    /// Go on past chord symbols that cannot be read: each is told in its place, the others are worked out
    #[arg(long)]
    pub keep_going: bool,
    /// For measuring: leave a rule of harmony out (`without=RULE`), or give a weight of the search another value
    #[arg(long, value_name = "CHANGE", hide = true)]
    pub trial: Vec<String>,
    /// Chooses where the drill has a choice
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}
