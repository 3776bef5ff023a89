//! Takes and pages without a sound card.

use super::practised::{StageArgs, TakeArgs};
use super::values::{panel, seconds, tempo};
use crate::display::Panel;
use clap::Args;
use std::path::PathBuf;

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
    /// Each part of the band alone, and the cues, as WAV files of one length that add up to `--wav`
    #[arg(long, value_name = "DIR", conflicts_with = "guitar")]
    pub stems: Option<PathBuf>,
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
