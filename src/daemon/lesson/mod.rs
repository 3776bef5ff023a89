//! A whole lesson as tracks, in a folder for one student.
//!
//! Each stage is a take of its own: count-in, what the box plays and says, ring-out. Stages are made side by side; each file stands in
//! its place once it is whole, and the record tells from what it was made, so that a lesson that was stopped goes on where it was.
// It reads files and starts threads.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

mod folder;
mod index;
mod level;
mod phone;
mod plan;
#[cfg(feature = "sheet")]
mod print;
mod record;
mod spill;
mod stage;
mod tags;
mod track;
mod whole;

use super::args::LessonArgs;
use super::config::{Directories, Overlay};
use super::files::{self, Failure, exit};
use super::progress::Progress;
use super::rig::{AtOnce, VoicePort};
use super::track_form::Form;
use super::{setup, side_by_side};
use crate::practice::Library;
use crate::speech::Speaker;
use plan::RATE;
use record::Facts;
use stage::{Task, Workshop};
use std::path::Path;
use std::sync::{Arc, Mutex};

/// Makes the folder of a lesson, or what is not made of it yet.
///
/// # Errors
/// Faults of the files (65, 78), no such stage (64), what cannot be written (65), a missing program (69).
pub fn lesson(args: &LessonArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    let flags = Overlay {
        charts: vec![args.chart.clone()],
        drill: Some(args.drill.clone()),
        seed: args.seed,
        ..Overlay::default()
    };
    let config = files::config_apart(args.config.as_deref(), flags)?;
    let library = setup::library(&config)?;
    let forms = Form::all(&args.format);
    if forms.iter().any(|form| form.is_made_of_another()) && !phone::can() {
        let text = "opus and mp3 are made by ffmpeg, which is not here (Debian package ffmpeg); flac plays on telephones, too";
        return Err(Failure::new(exit::UNAVAILABLE, text));
    }
    let cache = Directories::of(&config.paths, variable).cache;
    let cache = cache.as_deref();
    let speaker = match args.silent_voice {
        true => Speaker::silent(),
        false => Speaker::new(&setup::speech(&config, cache)),
    };
    let font = setup::font(&config, args.soundfont.as_deref())?;
    setup::tell_font(&config, font.as_deref());
    let of_data = |error: &dyn std::fmt::Display| Failure::new(exit::DATA, error.to_string());
    let trims = setup::trims(&config, font.as_ref(), cache).map_err(|error| of_data(&error))?;
    let mut prepared = setup::prepared(&config, font, RATE, 2);
    prepared.band.trims = trims;
    let made_with = plan::made_with(&config, &prepared, speaker.can_speak(), args);
    let tasks = plan::tasks(args, &config, &library, &made_with)?;
    let folder = folder::Folder::open(&args.output)?;
    let speaker = Arc::new(Mutex::new(speaker));
    let voice = || Box::new(AtOnce::shared(speaker.clone())) as Box<dyn VoicePort>;
    let progress = Progress::new(tasks.iter().map(|task| u64::from(task.work)).sum());
    let workshop = Workshop {
        dir: folder.path(),
        record: folder.record(),
        settings: setup::settings(&config, RATE),
        prepared,
        voice: &voice,
        forms: &forms,
        level: plan::level(args),
        tempo_qpm: args.tempo,
        whole_form: args.form,
        panel: args.panel.unwrap_or_else(|| setup::page_panel(&config)),
        passes: &|passes| progress.done(passes),
    };
    let facts = side_by_side::all(&tasks, args.jobs, |task| workshop.make(task));
    progress.finish();
    let facts = facts.map_err(|error| cannot(&args.output, &error))?;
    finish(args, &library, &workshop, &tasks, &facts).map_err(|error| cannot(&args.output, &error))
}

fn cannot(dir: &Path, error: &std::io::Error) -> Failure {
    Failure::new(
        exit::DATA,
        format!(
            "{}: the lesson cannot be written ({})",
            dir.display(),
            files::why(error)
        ),
    )
}

/// All in one, chart and drill, and the page that opens.
fn finish(
    args: &LessonArgs,
    library: &Library,
    workshop: &Workshop<'_>,
    tasks: &[Task],
    facts: &[Facts],
) -> std::io::Result<()> {
    let (dir, record) = (workshop.dir, workshop.record);
    let tags = plan::tags_of_all(args, library, whole::marks(tasks, facts));
    let from = plan::hash(tasks.iter().map(|task| task.from.as_str()));
    whole::make(
        dir,
        record,
        workshop.forms,
        (tasks, facts),
        (&tags, RATE),
        &from,
    )?;
    let sources = folder::sources(args, dir)?;
    let page = index::Lesson {
        tags: &tags,
        tasks,
        facts,
        forms: workshop.forms,
        sources: &sources,
        lufs: args.lufs,
        record,
    };
    super::whole_file::WholeFile::write(&dir.join("index.html"), page.html().as_bytes())?;
    record.keep()
}
