//! All stages in one: the same samples one after the other, their marks, their MIDI.
// It reads the files that it wrote.
#![allow(clippy::disallowed_methods)]

use super::phone;
use super::record::{Facts, Record};
use super::stage::Task;
use super::tags::{Mark, Tags};
use super::track::{self, TrackWriter};
use crate::audio::smf_join;
use crate::daemon::track_form::Form;
use crate::daemon::whole_file::WholeFile;
use std::io::{Error, Result};
use std::path::Path;

const STEM: &str = "lesson";

/// The name of the whole lesson as sound.
pub(super) fn track(form: Form) -> String {
    format!("{STEM}.{}", form.ending())
}

/// The name of the whole lesson as MIDI.
pub(super) fn midi() -> String {
    format!("{STEM}.mid")
}

/// The marks of the whole: each stage by its name, then its own.
pub(super) fn marks(tasks: &[Task], facts: &[Facts]) -> Vec<Mark> {
    let (mut marks, mut start_s) = (Vec::new(), 0.0);
    for (task, facts) in tasks.iter().zip(facts) {
        let stage = task.stage();
        let first = Mark {
            at_s: start_s,
            words: stage.to_string(),
        };
        marks.push(first);
        let later = facts.marks.iter().filter(|mark| mark.at_s > 0.0);
        marks.extend(later.map(|mark| Mark {
            at_s: start_s + mark.at_s,
            words: format!("{stage}: {}", mark.words),
        }));
        start_s += facts.seconds;
    }
    marks
}

/// Makes what is not made yet of the whole. `from` is what all of it is made from.
///
/// # Errors
/// When a file cannot be read or written.
pub(super) fn make(
    dir: &Path,
    record: &Record,
    forms: &[Form],
    (tasks, facts): (&[Task], &[Facts]),
    (tags, rate): (&Tags, u32),
    from: &str,
) -> Result<()> {
    for form in forms.iter().filter(|form| !form.is_made_of_another()) {
        let name = track(*form);
        if record.is_made(&name, from) {
            continue;
        }
        let mut writer = TrackWriter::create(&dir.join(&name), *form, tags, rate)?;
        for task in tasks {
            track::read(&dir.join(task.track(*form)), *form, |samples| {
                writer.write(samples)
            })?;
        }
        record.made(&name, from, writer.finish()?);
        record.keep()?;
    }
    if !record.is_made(&midi(), from) {
        let read = tasks.iter().zip(facts).map(|(task, facts)| {
            let bytes = std::fs::read(dir.join(task.midi()))?;
            Ok((bytes, facts.seconds))
        });
        let files = read.collect::<Result<Vec<(Vec<u8>, f64)>>>()?;
        let bytes = smf_join::join(&files).map_err(Error::other)?;
        WholeFile::write(&dir.join(midi()), &bytes)?;
        record.made(&midi(), from, bytes.len() as u64);
        record.keep()?;
    }
    phone::make(dir, record, forms, from, track)
}
