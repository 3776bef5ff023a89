//! The command line of lessons.

use super::values::{panel, tempo, within};
use crate::daemon::track_form::Form;
use crate::display::Panel;
use clap::Args;
use std::path::PathBuf;

/// Arguments of `lesson`.
#[derive(Debug, Args)]
pub struct LessonArgs {
    /// The drill
    #[arg(value_name = "DRILL")]
    pub drill: PathBuf,
    /// The chart
    #[arg(value_name = "CHART")]
    pub chart: PathBuf,
    /// The folder to write, or to go on with where it was stopped
    #[arg(short, long, value_name = "DIR")]
    pub output: PathBuf,
    /// The student's name, for the page and the tags
    #[arg(long, value_name = "NAME")]
    pub student: Option<String>,
    /// Only this stage, by name or number (may be given several times)
    #[arg(long, value_name = "NAME|NUMBER")]
    pub stage: Vec<String>,
    /// Passes of each stage instead of the drill's; out of time each chord is held for two
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub passes: Option<u32>,
    /// Quarter notes a minute instead of the chart's
    #[arg(long, value_name = "QPM", value_parser = tempo)]
    pub tempo: Option<f64>,
    /// The whole form instead of the first section
    #[arg(long)]
    pub form: bool,
    /// Forms of the tracks: wav, flac, opus, mp3 (the last two need ffmpeg)
    #[arg(
        long,
        value_name = "FORM",
        value_enum,
        value_delimiter = ',',
        default_value = "flac"
    )]
    pub format: Vec<Form>,
    /// How loud each track is, in LUFS; no true peak goes over -1 dBTP
    #[arg(long, value_name = "LUFS", default_value_t = -18.0, value_parser = |text: &str| within(text, -36.0..=-12.0, "LUFS"), allow_negative_numbers = true)]
    pub lufs: f64,
    /// The panel of the page previews ("128x64@2.42")
    #[arg(long, value_name = "PIXELS[@INCHES]", value_parser = panel)]
    pub panel: Option<Panel>,
    /// How many stages are made at a time (else one a processor)
    #[arg(long, value_name = "N", value_parser = |text: &str| text.parse::<usize>().ok().filter(|n| (1..=64).contains(n)).ok_or("a number from 1 to 64"))]
    pub jobs: Option<usize>,
    /// The configuration (sounds, levels, voice); without it what is built in
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Chooses where there is a choice
    #[arg(long)]
    pub seed: Option<u64>,
    /// Leave the voice out
    #[arg(long)]
    pub silent_voice: bool,
    /// The SoundFont instead of the configured one
    #[arg(long, value_name = "FILE")]
    pub soundfont: Option<PathBuf>,
}
