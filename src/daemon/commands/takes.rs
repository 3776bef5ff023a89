//! The takes of one `render`: the whole, and each part of the band alone, made side by side.
// It makes directories.
#![allow(clippy::disallowed_methods)]

use super::output::unwritable;
use super::wav::WavFiles;
use crate::audio::{Level, Prepared, SILENT_DB};
use crate::daemon::args::RenderArgs;
use crate::daemon::config::Config;
use crate::daemon::files::{Failure, exit};
use crate::daemon::progress::Progress;
use crate::daemon::render::{self, Guitar, Job, Keep, Length, Rendered, SoundSink};
use crate::daemon::rig::AtOnce;
use crate::daemon::{setup, side_by_side, targets as listing};
use crate::pedal::script::ScriptedInput;
use crate::practice::{Core, Library};
use crate::speech::Speaker;
use crate::time::Part;
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// What all takes of a rendering are made of.
pub(super) struct Takes<'a> {
    pub(super) args: &'a RenderArgs,
    pub(super) config: &'a Config,
    pub(super) library: Library,
    pub(super) prepared: Prepared,
    pub(super) foot: VecDeque<ScriptedInput>,
    pub(super) speaker: Arc<Mutex<Speaker>>,
    /// Who plays to the whole.
    pub(super) guitar: Mutex<Option<Guitar>>,
}

/// One of them.
#[derive(Debug, Clone, Copy)]
enum Take {
    Whole,
    /// This part alone, without the cues.
    Stem(Part),
}

impl Takes<'_> {
    /// Makes them, and gives what the whole leaves besides its sound.
    ///
    /// # Errors
    /// When a file cannot be written, or the synthesizer refuses (65).
    pub(super) fn make(&self) -> Result<Rendered, Failure> {
        let mut takes = vec![Take::Whole];
        if let Some(dir) = &self.args.stems {
            std::fs::create_dir_all(dir).map_err(|error| unwritable(dir, &error))?;
            // Model tones are cues.
            let parts = Part::ALL.into_iter().filter(|part| *part != Part::Model);
            takes.extend(parts.map(Take::Stem));
        }
        let progress = Progress::new(self.steps() * takes.len() as u64);
        let made = side_by_side::all(&takes, None, |take| self.take(*take, &progress));
        progress.finish();
        // The whole is the first.
        Ok(made?.into_iter().next().unwrap_or_default())
    }

    /// How much there is to do of each, for whoever waits: seconds or passes.
    fn steps(&self) -> u64 {
        match self.length() {
            Length::Seconds(seconds) => seconds as u64,
            Length::Passes(passes) | Length::Held(passes) => u64::from(passes),
        }
    }

    fn length(&self) -> Length {
        let passes = Length::Passes(self.args.passes.max(1));
        self.args.seconds.map_or(passes, Length::Seconds)
    }

    fn take(&self, take: Take, progress: &Progress) -> Result<Rendered, Failure> {
        let of_data = |error: &dyn std::fmt::Display| Failure::new(exit::DATA, error.to_string());
        let files = self.files(take)?;
        let core = core(self.args, self.config, self.library.clone())?;
        let mut sink = Told {
            files,
            progress,
            rate: self.args.rate,
            length: self.length(),
            frames: 0,
            done: 0,
        };
        let rendered = render::render(core, self.job(take), self.config.seed, &mut sink)
            .map_err(|error| of_data(&error))?;
        sink.files.finish()?;
        progress.done(self.steps().saturating_sub(sink.done));
        Ok(rendered)
    }

    fn files(&self, take: Take) -> Result<WavFiles, Failure> {
        let args = self.args;
        let form = (args.rate, args.bits);
        let stem = |name: &str| -> Option<PathBuf> {
            args.stems
                .as_ref()
                .map(|dir| dir.join(format!("{name}.wav")))
        };
        match take {
            Take::Whole => {
                let stem = stem("cues");
                let cues: Vec<_> = [&args.wav_cue, &stem].into_iter().flatten().collect();
                let cues: Vec<_> = cues.into_iter().map(PathBuf::as_path).collect();
                WavFiles::create(args.wav.as_deref(), &cues, form)
            }
            Take::Stem(part) => WavFiles::create(stem(part.name()).as_deref(), &[], form),
        }
    }

    fn job(&self, take: Take) -> Job {
        let args = self.args;
        let mut prepared = self.prepared.clone();
        let whole = matches!(take, Take::Whole);
        if let Take::Stem(alone) = take {
            prepared.cue_to_outputs = false;
            let others = |level: &Level| matches!(level, Level::Part(part) if *part != alone);
            prepared.levels.retain(|(level, _)| !others(level));
            let silent = Part::ALL.map(|part| (Level::Part(part), SILENT_DB));
            prepared
                .levels
                .extend(silent.into_iter().filter(|(level, _)| others(level)));
        }
        let guitar = || {
            self.guitar
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .take()
        };
        Job {
            prepared,
            foot: self.foot.clone(),
            length: self.length(),
            blocks: args.block.clone(),
            voice: Box::new(AtOnce::shared(self.speaker.clone())),
            guitar: if whole { guitar() } else { None },
            keep: Keep {
                lines: whole && args.take.events.is_some(),
                notes: whole && args.midi.is_some(),
                midi: false,
                every_page: whole && args.take.pages.is_some(),
            },
        }
    }
}

/// The core that stands where the take begins.
///
/// # Errors
/// When the drill has no such stage (64).
pub(super) fn core(args: &RenderArgs, config: &Config, library: Library) -> Result<Core, Failure> {
    let stage = listing::stage_index(&library.drill, args.practised.stage.as_deref())
        .map_err(|error| Failure::new(exit::USAGE, error.to_string()))?;
    let mut core = Core::new(library, setup::settings(config, args.rate), None);
    core.stand(stage, args.form);
    if let Some(qpm) = args.tempo {
        core.set_start_tempo(qpm);
    }
    Ok(core)
}

/// The files of a take, and how far it is.
struct Told<'a> {
    files: WavFiles,
    progress: &'a Progress,
    rate: u32,
    length: Length,
    frames: u64,
    /// Steps that are told.
    done: u64,
}

impl Told<'_> {
    fn so_far(&mut self, steps: u64) {
        if steps > self.done {
            self.progress.done(steps - self.done);
            self.done = steps;
        }
    }
}

impl SoundSink for Told<'_> {
    fn is_heard(&self) -> bool {
        self.files.is_heard()
    }

    fn sound(&mut self, left: &[f32], right: &[f32], cue: &[f32]) -> std::io::Result<()> {
        self.frames += left.len() as u64;
        if let Length::Seconds(seconds) = self.length {
            let past_s = self.frames / u64::from(self.rate);
            self.so_far(past_s.min(seconds as u64));
        }
        self.files.sound(left, right, cue)
    }

    fn passes(&mut self, begun: u32) {
        if let Length::Passes(passes) = self.length {
            self.so_far(u64::from(begun.min(passes).saturating_sub(1)));
        }
    }
}
