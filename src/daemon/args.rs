//! The command line.

mod asking;
mod drill;
mod exchange;
mod help;
#[cfg(feature = "journal")]
mod journal;
mod lesson;
#[cfg(feature = "sheet")]
mod sheet;
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
pub use lesson::LessonArgs;
#[cfg(feature = "sheet")]
pub use sheet::{PaperArg, SheetArgs, SheetKind};

use super::config::Overlay;
use crate::display::Panel;
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;
use values::{panel, seconds, tempo, within};

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

/// Arguments of `render`.
#[derive(Debug, Args)]
pub struct RenderArgs {
    /// The chart, or a set list
    #[arg(value_name = "CHART")]
    pub chart: PathBuf,
    /// What is practised on it.
    #[command(flatten)]
    pub practised: StageArgs,
    /// The foot, and what is written.
    #[command(flatten)]
    pub take: TakeArgs,
    /// The configuration (sounds, levels, switches); without it what is built in
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Begin with the whole form instead of the first section
    #[arg(long)]
    pub form: bool,
    /// The panel of the pages: its pixels, and its diagonal in inches where that counts ("128x64@2.42")
    #[arg(long, value_name = "PIXELS[@INCHES]", value_parser = panel)]
    pub panel: Option<Panel>,
    /// The sound: stereo
    #[arg(long, value_name = "FILE")]
    pub wav: Option<PathBuf>,
    /// The cues (speech and model tones) alone: mono
    #[arg(long, value_name = "FILE")]
    pub wav_cue: Option<PathBuf>,
    /// Bits a sample: 16, or 32 for floating point
    #[arg(long, value_name = "16|32", default_value_t = 16, value_parser = clap::value_parser!(u16))]
    pub bits: u16,
    /// A Standard MIDI File
    #[arg(long, value_name = "FILE")]
    pub midi: Option<PathBuf>,
    /// Stop after this many seconds
    #[arg(long, value_name = "SECONDS", conflicts_with = "passes", value_parser = seconds)]
    pub seconds: Option<f64>,
    /// Play this many passes and end on the tonic
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub passes: u32,
    /// Quarter notes a minute instead of the chart's
    #[arg(long, value_name = "QPM", value_parser = tempo)]
    pub tempo: Option<f64>,
    /// Chooses where there is a choice
    #[arg(long)]
    pub seed: Option<u64>,
    /// Frames a second
    #[arg(long, default_value_t = 48_000)]
    pub rate: u32,
    /// Block sizes in frames, used in turn: they change nothing in the result
    #[arg(
        long,
        value_name = "FRAMES",
        value_delimiter = ',',
        default_value = "64"
    )]
    pub block: Vec<usize>,
    /// What a player played to it, from the first count on: heard and judged as live (WAV, at --rate)
    #[arg(long, value_name = "FILE.wav")]
    pub guitar: Option<PathBuf>,
    /// Leave the voice out
    #[arg(long)]
    pub silent_voice: bool,
    /// The SoundFont instead of the configured one
    #[arg(long, value_name = "FILE")]
    pub soundfont: Option<PathBuf>,
}

/// Arguments of `listen`.
#[derive(Debug, Args)]
pub struct ListenArgs {
    /// The recording: WAV, any rate; more than one channel is averaged
    #[arg(value_name = "FILE.wav")]
    pub file: PathBuf,
    /// What is listened to
    #[arg(long, value_name = "NAME", default_value = "guitar", value_parser = ["guitar", "bass", "voice"])]
    pub instrument: String,
    /// The A above middle C in Hz
    #[arg(long, value_name = "HZ", default_value_t = 440.0, value_parser = |text: &str| within(text, 380.0..=480.0, "Hz"))]
    pub a4: f64,
    /// What the box played meanwhile: its band is told from the player. It may be early or late by 50 ms
    #[arg(long, value_name = "BAND.wav")]
    pub bleed: Option<PathBuf>,
    /// Judge what is played: the chart
    #[arg(
        long,
        value_name = "CHART",
        requires = "drill",
        conflicts_with = "frames"
    )]
    pub chart: Option<PathBuf>,
    /// ... the drill
    #[arg(long, value_name = "FILE", requires = "chart")]
    pub drill: Option<PathBuf>,
    /// ... its stage, by name or number (else the first)
    #[arg(long, value_name = "NAME|NUMBER", requires = "chart")]
    pub stage: Option<String>,
    /// ... the tempo in quarter notes a minute (else the chart's)
    #[arg(long, value_name = "QPM", value_parser = tempo, requires = "chart")]
    pub tempo: Option<f64>,
    /// ... where in the recording the first full bar begins, in seconds
    #[arg(long, value_name = "SECONDS", default_value_t = 0.0, value_parser = |text: &str| within(text, -3_600.0..=14_400.0, "seconds"), allow_negative_numbers = true)]
    pub first_bar: f64,
    /// ... the whole form instead of the first section
    #[arg(long, requires = "chart")]
    pub form: bool,
    /// Chooses where the drill has a choice
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Every look at the pitch instead of the notes
    #[arg(long)]
    pub frames: bool,
    /// JSON lines (the form that programs read)
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `pages`.
#[derive(Debug, Args)]
pub struct PagesArgs {
    /// The chart
    #[arg(value_name = "CHART")]
    pub chart: PathBuf,
    /// What is practised on it: one stage, or all of them
    #[command(flatten)]
    pub practised: StageArgs,
    /// The configuration (names of notes, tuning, habits); without it what is built in
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// The panel (may be given several times), by its pixels and its diagonal in inches; without any the usual five
    #[arg(long = "panel", value_name = "PIXELS[@INCHES]", value_parser = panel)]
    pub panels: Vec<Panel>,
    /// Quarter notes a minute instead of the chart's
    #[arg(long, value_name = "QPM", value_parser = tempo)]
    pub tempo: Option<f64>,
    /// The directory for the sheets
    #[arg(short, long, value_name = "DIR")]
    pub output: PathBuf,
}

/// Arguments of `learn`.
#[derive(Debug, Args)]
pub struct LearnArgs {
    /// How many switches there are
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=8))]
    pub switches: u8,
    /// How long to listen
    #[arg(long, value_name = "SECONDS", default_value_t = 20.0, value_parser = seconds)]
    pub seconds: f64,
    /// A line of the board's own pins that is wired to a switch (may be given several times)
    #[arg(long, value_name = "NAME")]
    pub line: Vec<String>,
}

/// Arguments of `calibrate`.
#[derive(Debug, Args)]
pub struct CalibrateArgs {
    /// The configuration; without it the usual places are looked through
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// How many clicks to play
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = clap::value_parser!(u32).range(2..=64))]
    pub clicks: u32,
    /// How loud they are, in dB under full scale. Begin soft; no ear near the loudspeaker
    #[arg(long, value_name = "DB", default_value_t = -20.0, value_parser = |text: &str| within(text, -60.0..=-1.0, "dB"), allow_negative_numbers = true)]
    pub level: f64,
    /// One JSON object
    #[arg(long)]
    pub json: bool,
}
