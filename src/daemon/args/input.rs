//! What comes in: switches, recordings, the delay of the way round.

use super::values::{seconds, tempo, within};
use clap::Args;
use std::path::PathBuf;

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
    /// What the input is like instead of the notes: level, noise, hum, clipping, tuning, strings
    #[arg(long, conflicts_with_all = ["chart", "frames", "bleed"])]
    pub input: bool,
    /// JSON lines (the form that programs read)
    #[arg(long)]
    pub json: bool,
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
