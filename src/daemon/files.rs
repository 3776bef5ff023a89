//! Files that users write, read from disk: charts, drills, configuration; every fault told at once.
// The one place where these files are opened; their parsers take text.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::config::{Config, Overlay, config_places};
use super::drop_ins::{drop_ins, laid_over};
use crate::chart::Chart;
use crate::device::plain_file::open_plain;
use crate::drill::Drill;
pub(crate) use crate::fault::why;
use crate::fault::{Fault, Faults, Source, printable_lines};
use crate::pedal::script::{self as foot_script, FootStep};
use std::io::Read;
use std::path::{Path, PathBuf};

/// The largest file that is read as text.
const LARGEST_BYTES: u64 = 1 << 20;

/// The largest score of another program that is read.
const LARGEST_SCORE_BYTES: u64 = 8 << 20;

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
    pub code: u8,
    /// What to tell the user.
    pub text: String,
}

impl Failure {
    /// A failure with an exit code of [`exit`].
    pub fn new(code: u8, text: impl Into<String>) -> Failure {
        Failure {
            code,
            // It may quote names of files.
            text: printable_lines(&text.into()),
        }
    }
}

/// Reads a text file (`-`: standard input), at most 1 MiB of UTF-8.
///
/// # Errors
/// When it cannot be read, is too large or no text.
pub fn text(path: &Path) -> Result<String, String> {
    as_text(path, start_of(path)?)
}

/// The bytes of a file (`-`: standard input), or its first ones where it is larger than what is read as text.
///
/// # Errors
/// When it cannot be read.
pub fn start_of(path: &Path) -> Result<Vec<u8>, String> {
    bytes_of(path, LARGEST_BYTES + 1)
}

/// The bytes of a score (`-`: standard input), at most 8 MiB.
///
/// # Errors
/// When it cannot be read or is larger.
pub fn score(path: &Path) -> Result<Vec<u8>, String> {
    let bytes = bytes_of(path, LARGEST_SCORE_BYTES + 1)?;
    if bytes.len() as u64 > LARGEST_SCORE_BYTES {
        return Err(format!(
            "{}: larger than 8 MiB: no lead sheet",
            path.display()
        ));
    }
    Ok(bytes)
}

fn bytes_of(path: &Path, most: u64) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        std::io::stdin().lock().take(most).read_to_end(&mut bytes)
    } else {
        open_plain(path).and_then(|file| file.take(most).read_to_end(&mut bytes))
    };
    read.map_err(|error| format!("{}: cannot be read ({})", path.display(), why(&error)))?;
    Ok(bytes)
}

/// Standard output where a file is wanted, for `-`.
///
/// # Errors
/// When it is closed.
pub fn standard_output() -> std::io::Result<std::fs::File> {
    use std::os::fd::AsFd;
    let descriptor = std::io::stdout().as_fd().try_clone_to_owned()?;
    Ok(std::fs::File::from(descriptor))
}

/// What [`start_of`] read, as text.
///
/// # Errors
/// When it is a score, too large, or no text.
pub fn as_text(path: &Path, bytes: Vec<u8>) -> Result<String, String> {
    let name = path.display();
    if is_score(&bytes) {
        return Err(format!(
            "{name}: a score, not a file of ours: \"underfoot import {name} -o chart.toml\" makes a chart of it"
        ));
    }
    if bytes.len() as u64 > LARGEST_BYTES {
        return Err(format!("{name}: larger than 1 MiB: not a file of ours"));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..at]
            .iter()
            .filter(|b| **b == b'\n')
            .count()
            + 1;
        format!("{name}:{line}: no UTF-8 text (byte {at} of the file)")
    })?;
    Ok(text
        .strip_prefix(BYTE_ORDER_MARK)
        .map_or_else(|| text.clone(), str::to_string))
}

/// What some editors put at the start of a text: no part of it.
pub const BYTE_ORDER_MARK: char = '\u{feff}';

/// Whether a file is a score that can be imported: XML, an archive, a MIDI file. No file of ours begins like them.
pub fn is_score(bytes: &[u8]) -> bool {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let first = bytes.trim_ascii_start();
    first.starts_with(b"<") || bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"MThd")
}

/// Reads a file with a parser of ours.
///
/// # Errors
/// Every fault of the file, with the exit code `code`.
pub fn read<T>(path: &Path, parse: Parser<T>, code: u8) -> Result<T, Failure> {
    let text = text(path).map_err(|fault| Failure::new(code, fault))?;
    parsed(path, &text, parse, code)
}

/// Reads the text of a file with a parser of ours.
///
/// # Errors
/// As [`read`].
pub fn parsed<T>(path: &Path, text: &str, parse: Parser<T>, code: u8) -> Result<T, Failure> {
    let name = path.display().to_string();
    parse(&Source { name: &name, text }).map_err(|faults| Failure::new(code, faults.to_string()))
}

/// A parser of ours.
pub type Parser<T> = fn(&Source<'_>) -> Result<T, Faults>;

/// Two things that were read, or the faults of both at once.
///
/// # Errors
/// When one of them failed.
pub fn both<A, B>(one: Result<A, Failure>, other: Result<B, Failure>) -> Result<(A, B), Failure> {
    match (one, other) {
        (Ok(one), Ok(other)) => Ok((one, other)),
        (Err(one), Err(other)) => Err(Failure::new(
            one.code,
            format!("{}\n{}", one.text, other.text),
        )),
        (Err(failure), _) | (_, Err(failure)) => Err(failure),
    }
}

/// A chart.
///
/// # Errors
/// Every fault of the file, exit code 65.
pub fn chart(path: &Path) -> Result<Chart, Failure> {
    read(path, Chart::read, exit::DATA)
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

/// A drill, or a plan of days with the drill beside it that its stages are taken from.
///
/// # Errors
/// Every fault of the file, exit code 65.
pub fn drill(path: &Path) -> Result<Drill, Failure> {
    let text = text(path).map_err(|fault| Failure::new(exit::DATA, fault))?;
    drill_of(path, &text)
}

/// The drill that a file's text is.
///
/// # Errors
/// As [`drill`].
pub fn drill_of(path: &Path, text: &str) -> Result<Drill, Failure> {
    let name = path.display().to_string();
    let source = Source { name: &name, text };
    if !Drill::is_plan(&source) {
        return parsed(path, text, Drill::read, exit::DATA);
    }
    let base = |file: &str| {
        let beside = path
            .parent()
            .map_or_else(|| PathBuf::from(file), |dir| dir.join(file));
        read(&beside, Drill::read, exit::DATA).map_err(|failure| failure.text)
    };
    let read = Drill::read_plan(&source, &base);
    read.map_err(|faults| Failure::new(exit::DATA, faults.to_string()))
}

/// A foot script for so many switches.
///
/// # Errors
/// Every fault of the file, exit code 65.
pub fn foot(path: &Path, switches: usize) -> Result<Vec<FootStep>, Failure> {
    let text = text(path).map_err(|fault| Failure::new(exit::DATA, fault))?;
    let (name, text) = (path.display().to_string(), text.as_str());
    let source = Source { name: &name, text };
    foot_script::parse_for(&source, switches)
        .map_err(|faults| Failure::new(exit::DATA, faults.to_string()))
}

/// The configuration for what does not depend on the machine: the named one, else what is built in; with `flags` over it.
///
/// # Errors
/// Every fault of the file, exit code 78.
pub fn config_apart(named: Option<&Path>, flags: Overlay) -> Result<Config, Failure> {
    let Some(path) = named else {
        let mut config = Config::default();
        config.overlay(flags);
        return Ok(config);
    };
    config(Some(path), |_| None, flags)
}

/// The configuration's file: the named one, else the first of the usual places where there is one.
fn config_place(
    named: Option<&Path>,
    variable: impl Fn(&str) -> Option<String>,
) -> Option<PathBuf> {
    let usual = || {
        let mut places = config_places(&variable).into_iter();
        places.find(|place| place.exists())
    };
    named.map(Path::to_path_buf).or_else(usual)
}

/// Where to write a configuration, for whoever has none or must change it.
pub fn config_to_write(named: Option<&Path>, variable: impl Fn(&str) -> Option<String>) -> PathBuf {
    let machines = || config_places(&variable).pop().unwrap_or_default();
    config_place(named, &variable).unwrap_or_else(machines)
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
    let path = config_place(named, &variable);
    let mut config = match &path {
        Some(path) => {
            let text = text(path).map_err(|fault| Failure::new(exit::CONFIG, fault))?;
            with_drop_ins(path, &text)?
        }
        None => Config::default(),
    };
    config.overlay(Overlay::from_environment(&variable));
    config.overlay(flags);
    Ok(config)
}

/// A configuration of this text, and over it the drop-ins beside it. Relative paths count from the configuration's own
/// directory, in drop-ins too.
///
/// # Errors
/// Every fault of all the files, exit code 78.
pub fn with_drop_ins(path: &Path, text: &str) -> Result<Config, Failure> {
    let dir = path.parent().unwrap_or(Path::new(""));
    let broken = |faults: Vec<String>| Failure::new(exit::CONFIG, faults.join("\n"));
    let mut texts = vec![(path.to_path_buf(), text.to_string())];
    let mut unreadable = Vec::new();
    for path in drop_ins(dir) {
        match self::text(&path) {
            Ok(text) => texts.push((path, text)),
            Err(fault) => unreadable.push(fault),
        }
    }
    if !unreadable.is_empty() {
        return Err(broken(unreadable));
    }
    let parts: Vec<&str> = texts.iter().map(|(_, text)| text.as_str()).collect();
    let laid_over = (parts.len() > 1).then(|| laid_over(&parts)).flatten();
    let whole = laid_over.as_deref().unwrap_or(text);
    let name = path.display().to_string();
    let source = Source {
        name: &name,
        text: whole,
    };
    let faults = match Config::read(&source) {
        Ok(mut config) if parts.len() == 1 || laid_over.is_some() => {
            config.rebase(dir);
            return Ok(config);
        }
        Ok(_) => Vec::new(),
        Err(faults) => faults.0,
    };
    Err(broken(in_their_places(
        &texts,
        &faults,
        laid_over.is_some(),
    )))
}

/// The faults of several texts that were read as one, told where they stand: a text alone may have faults that another one
/// takes away, so that only those count which all of them together have.
fn in_their_places(
    texts: &[(PathBuf, String)],
    faults: &[Fault],
    was_laid_over: bool,
) -> Vec<String> {
    let mut told = Vec::new();
    for (path, text) in texts {
        let name = path.display().to_string();
        let alone = Config::read(&Source { name: &name, text });
        for fault in alone.err().into_iter().flat_map(|faults| faults.0) {
            if !was_laid_over || faults.iter().any(|of_all| of_all.rule == fault.rule) {
                told.push(fault.to_string());
            }
        }
    }
    let is_told = |fault: &&Fault| told.iter().any(|told| told.contains(&fault.rule));
    let elsewhere: Vec<String> = faults
        .iter()
        .filter(|fault| !is_told(fault))
        .map(|fault| format!("with conf.d: {}", fault.rule))
        .collect();
    told.extend(elsewhere);
    told
}
