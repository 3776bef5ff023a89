//! Files that users write, read from disk: charts, drills, configuration; every fault told at once.
// The one place where these files are opened; their parsers take text.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::config::{Config, Overlay, config_places};
use crate::chart::Chart;
use crate::drill::Drill;
use crate::fault::{Faults, Source};
use std::io::Read;
use std::path::{Path, PathBuf};

/// The largest file that is read as text.
const LARGEST_BYTES: u64 = 1 << 20;

/// Exit codes, as the manual lists them (from sysexits.h).
pub mod exit {
    /// All went well.
    pub const OK: u8 = 0;
    /// The command line is wrong.
    pub const USAGE: u8 = 64;
    /// A chart, drill, score or sound file is wrong.
    pub const DATA: u8 = 65;
    /// The audio server hangs, or there is no daemon to ask.
    pub const UNAVAILABLE: u8 = 69;
    /// A fault of ours.
    pub const SOFTWARE: u8 = 70;
    /// The configuration is wrong.
    pub const CONFIG: u8 = 78;
}

/// Why a command ends without doing its work.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{text}")]
pub struct Failure {
    /// The exit code.
    pub code: u8,
    /// What to tell the user.
    pub text: String,
}

impl Failure {
    /// A failure with an exit code of [`exit`].
    pub fn new(code: u8, text: impl Into<String>) -> Failure {
        Failure {
            code,
            text: text.into(),
        }
    }
}

/// Reads a text file (`-`: standard input), at most 1 MiB of UTF-8.
///
/// # Errors
/// When it cannot be read, is too large or no text.
pub fn text(path: &Path) -> Result<String, String> {
    let name = path.display();
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        std::io::stdin()
            .lock()
            .take(LARGEST_BYTES + 1)
            .read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path)
            .and_then(|file| file.take(LARGEST_BYTES + 1).read_to_end(&mut bytes))
    };
    read.map_err(|error| format!("{name}: cannot be read ({error})"))?;
    if bytes.len() as u64 > LARGEST_BYTES {
        return Err(format!("{name}: larger than 1 MiB: not a file of ours"));
    }
    String::from_utf8(bytes).map_err(|error| {
        format!(
            "{name}: no UTF-8 text (byte {})",
            error.utf8_error().valid_up_to()
        )
    })
}

fn read<T>(path: &Path, parse: impl Fn(&Source<'_>) -> Result<T, Faults>) -> Result<T, String> {
    let text = text(path)?;
    let name = path.display().to_string();
    parse(&Source {
        name: &name,
        text: &text,
    })
    .map_err(|faults| faults.to_string())
}

/// A chart.
///
/// # Errors
/// Every fault of the file, exit code 65.
pub fn chart(path: &Path) -> Result<Chart, Failure> {
    read(path, Chart::read).map_err(|text| Failure::new(exit::DATA, text))
}

/// Several charts; the faults of all of them at once.
///
/// # Errors
/// As [`chart`].
pub fn charts(paths: &[PathBuf]) -> Result<Vec<Chart>, Failure> {
    let mut charts = Vec::new();
    let mut faults = Vec::new();
    for path in paths {
        match chart(path) {
            Ok(chart) => charts.push(chart),
            Err(failure) => faults.push(failure.text),
        }
    }
    if faults.is_empty() {
        Ok(charts)
    } else {
        Err(Failure::new(exit::DATA, faults.join("\n")))
    }
}

/// A drill.
///
/// # Errors
/// Every fault of the file, exit code 65.
pub fn drill(path: &Path) -> Result<Drill, Failure> {
    read(path, Drill::read).map_err(|text| Failure::new(exit::DATA, text))
}

/// The configuration: the named file, else the first of the usual places, else what is built in; environment
/// and flags laid over it.
///
/// # Errors
/// Every fault of the file, exit code 78.
pub fn config(
    named: Option<&Path>,
    variable: impl Fn(&str) -> Option<String>,
    flags: Overlay,
) -> Result<Config, Failure> {
    let usual = || {
        config_places(&variable)
            .into_iter()
            .find(|place| place.exists())
    };
    let path = named.map(Path::to_path_buf).or_else(usual);
    let mut config = match &path {
        Some(path) => read(path, Config::read).map_err(|text| Failure::new(exit::CONFIG, text))?,
        None => Config::default(),
    };
    if let Some(dir) = path.as_deref().and_then(Path::parent) {
        config.rebase(dir);
    }
    config.overlay(Overlay::from_environment(&variable));
    config.overlay(flags);
    Ok(config)
}

/// Writes a file whole: beside it first, synced, then renamed, so that a power cut leaves the old or the new
/// one.
///
/// # Errors
/// When the directory cannot be written.
pub fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    use std::io::Write;
    let dir = path
        .parent()
        .filter(|dir| !dir.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    std::fs::create_dir_all(dir)?;
    let mut file = tempfile::NamedTempFile::new_in(dir)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist(path).map_err(|error| error.error)?;
    std::fs::File::open(dir)?.sync_all()
}
