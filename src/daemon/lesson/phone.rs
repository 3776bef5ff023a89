//! The small forms: made by ffmpeg, of a track in a form that keeps every sample.
// It runs a program.
#![allow(clippy::disallowed_methods)]

use super::record::Record;
use crate::daemon::track_form::Form;
use crate::daemon::whole_file::WholeFile;
use std::io::{Error, Result};
use std::path::Path;
use std::process::{Command, Stdio};

const PROGRAM: &str = "ffmpeg";

/// Whether the program that makes them is there.
pub(super) fn can() -> bool {
    let mut ask = Command::new(PROGRAM);
    ask.args(["-hide_banner", "-version"]).stdin(Stdio::null());
    ask.stdout(Stdio::null()).stderr(Stdio::null());
    ask.status().is_ok_and(|status| status.success())
}

/// Makes the small forms of a track that are not made yet.
///
/// # Errors
/// When the program fails, in its words; when a file cannot be written.
pub(super) fn make(
    dir: &Path,
    record: &Record,
    forms: &[Form],
    from: &str,
    track: impl Fn(Form) -> String,
) -> Result<()> {
    let Some(source) = forms.iter().rfind(|form| !form.is_made_of_another()) else {
        return Ok(());
    };
    for form in forms.iter().filter(|form| form.is_made_of_another()) {
        let name = track(*form);
        if record.is_made(&name, from) {
            continue;
        }
        let bytes = encode(&dir.join(track(*source)), &dir.join(&name), *form)?;
        record.made(&name, from, bytes);
        record.keep()?;
    }
    Ok(())
}

fn encode(from: &Path, to: &Path, form: Form) -> Result<u64> {
    let file = WholeFile::create(to)?;
    let mut run = Command::new(PROGRAM);
    run.args(["-hide_banner", "-nostdin", "-loglevel", "error", "-i"])
        .arg(from);
    // The same bytes each time: no word of versions, no number drawn by lot.
    run.args([
        "-map_metadata",
        "0",
        "-fflags",
        "+bitexact",
        "-flags:a",
        "+bitexact",
    ]);
    match form {
        Form::Mp3 => run.args(["-c:a", "libmp3lame", "-q:a", "4", "-f", "mp3"]),
        _ => run.args(["-c:a", "libopus", "-b:a", "96k", "-f", "ogg"]),
    };
    run.arg("pipe:1")
        .stdin(Stdio::null())
        .stdout(file.handle()?)
        .stderr(Stdio::piped());
    let done = run.spawn()?.wait_with_output()?;
    if !done.status.success() {
        let told = String::from_utf8_lossy(&done.stderr);
        let last = told.lines().last().unwrap_or("it said nothing");
        return Err(Error::other(format!(
            "{PROGRAM} made no {}: {last}",
            form.ending()
        )));
    }
    let bytes = file.handle()?.metadata()?.len();
    file.keep()?;
    Ok(bytes)
}
