//! `underfoot listen --input`: what the input of a recording is like, as the box's own page tells it.

use super::output::stdout_failed;
use crate::daemon::files::Failure;
use crate::device::{InputFault, InputReport, Strings};
use crate::listen::InputCheck;
use crate::practice::{input_lines, input_title};
use serde_json::{Value, json};
use std::io::Write;

/// What was found, as lines or as one line that programs read.
///
/// # Errors
/// When standard output fails.
pub(super) fn print(check: &InputCheck, as_json: bool) -> Result<(), Failure> {
    let report = check.report();
    let mut out = std::io::stdout().lock();
    let text = match as_json {
        true => input_fields(&report).to_string(),
        false => {
            let title = input_title(Some(&report)).to_string();
            let lines = input_lines(&report).into_iter();
            let lines = lines.map(|line| format!("  {line}"));
            std::iter::once(title)
                .chain(lines)
                .collect::<Vec<_>>()
                .join("\n")
        }
    };
    writeln!(out, "{text}").map_err(stdout_failed)
}

/// The fields that programs read.
pub(in crate::daemon) fn input_fields(report: &InputReport) -> Value {
    let faults = report.faults();
    let faults: Vec<&str> = faults.into_iter().map(fault_name).collect();
    let hum = report.hum;
    json!({
        "listened_s": report.listened_s,
        "sure": report.is_sure,
        "faults": faults,
        "peak_db": report.peak_db,
        "level_db": report.level_db,
        "noise_db": report.noise_db,
        "hum_hz": hum.map(|hum| hum.mains_hz),
        "hum_db": hum.map(|hum| hum.level_db),
        "clipped": report.clipped,
        "notes": report.notes,
        "tuning_cents": report.tuning_cents,
        "strings": report.strings.map(strings_name),
    })
}

fn fault_name(fault: InputFault) -> &'static str {
    match fault {
        InputFault::Nothing => "nothing",
        InputFault::Clipping => "clipping",
        InputFault::TooSoft => "too soft",
        InputFault::Hum => "hum",
        InputFault::Noise => "noise",
    }
}

fn strings_name(strings: Strings) -> &'static str {
    match strings {
        Strings::Guitar => "guitar",
        Strings::Bass => "bass",
    }
}
