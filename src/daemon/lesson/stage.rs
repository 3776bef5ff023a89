//! One stage as a track: rendered, levelled, written in every form, with its MIDI file and its pages.

use super::level::Levelling;
use super::phone;
use super::record::{Facts, Record};
use super::spill::{Spill, Spilled};
use super::tags::{Mark, Tags};
use super::track::TrackWriter;
use crate::audio::smf::SmfRecorder;
use crate::audio::{Band, Prepared};
use crate::daemon::landmarks::Landmark;
use crate::daemon::render::{self, Job, Keep, Length, Rendered};
use crate::daemon::rig::VoicePort;
use crate::daemon::track_form::Form;
use crate::daemon::whole_file::WholeFile;
use crate::display::screens::png_bytes;
use crate::display::{Bitmap, Page, Panel, contact_sheet, draw};
use crate::practice::{Core, Library, Settings};
use std::collections::VecDeque;
use std::io::{Error, Result};
use std::path::Path;

/// Passes of each chord that is held out of time.
const HELD_PASSES: u32 = 2;
/// Frames that are rendered at once.
const RENDER_BLOCK: usize = 1024;

/// A stage that is to become a track.
#[derive(Debug, Clone)]
pub(super) struct Task {
    /// The stage alone, over the chart.
    pub(super) library: Library,
    pub(super) tags: Tags,
    /// The name of its files without their ends.
    pub(super) stem: String,
    /// Passes in time; out of time each chord has as many as it needs.
    pub(super) passes: u32,
    /// Passes in all, for whoever waits.
    pub(super) work: u32,
    /// What it is made from, as a hash.
    pub(super) from: String,
}

/// What all stages are made with.
pub(super) struct Workshop<'a> {
    pub(super) dir: &'a Path,
    pub(super) record: &'a Record,
    pub(super) settings: Settings,
    pub(super) prepared: Prepared,
    pub(super) voice: &'a (dyn Fn() -> Box<dyn VoicePort> + Sync),
    pub(super) forms: &'a [Form],
    /// Loudness in LUFS, and the ceiling in dBTP.
    pub(super) level: (f64, f64),
    pub(super) tempo_qpm: Option<f64>,
    pub(super) whole_form: bool,
    pub(super) panel: Panel,
    /// Told of every pass that begins.
    pub(super) passes: &'a (dyn Fn(u64) + Sync),
}

impl Task {
    /// The files of its sound, the whole ones first.
    pub(super) fn track(&self, form: Form) -> String {
        format!("tracks/{}.{}", self.stem, form.ending())
    }

    /// The stage's name.
    pub(super) fn stage(&self) -> &str {
        &self.library.drill.stages[0].name
    }

    pub(super) fn midi(&self) -> String {
        format!("tracks/{}.mid", self.stem)
    }

    pub(super) fn sheet(&self) -> String {
        format!("sheets/{}.pdf", self.stem)
    }

    pub(super) fn pages(&self) -> String {
        format!("pages/{}.png", self.stem)
    }
}

impl Workshop<'_> {
    /// Makes what is not made yet of a stage, and says what is known of it.
    ///
    /// # Errors
    /// When a file cannot be written, or the synthesizer refuses.
    pub(super) fn make(&self, task: &Task) -> Result<Facts> {
        let lossless = self.forms.iter().filter(|form| !form.is_made_of_another());
        let names = lossless.map(|form| task.track(*form));
        let mut names = names.chain([task.midi(), task.pages()]);
        let is_made = names.all(|name| self.record.is_made(&name, &task.from));
        let known = self.record.facts(&task.stem, &task.from);
        let facts = match known.filter(|_| is_made) {
            Some(facts) => {
                (self.passes)(u64::from(task.work));
                facts
            }
            None => self.render(task)?,
        };
        #[cfg(feature = "sheet")]
        self.print(task)?;
        phone::make(self.dir, self.record, self.forms, &task.from, |form| {
            task.track(form)
        })?;
        Ok(facts)
    }

    fn render(&self, task: &Task) -> Result<Facts> {
        let told = std::sync::atomic::AtomicU32::new(0);
        let passes = |begun: u32| {
            let before = told.swap(begun, std::sync::atomic::Ordering::Relaxed);
            (self.passes)(u64::from(
                begun.min(task.work).saturating_sub(before.min(task.work)),
            ));
        };
        let mut spill = Spill::new(self.dir, self.prepared.rate, &passes)?;
        let rendered = self.played(task, &mut spill)?;
        let (mut sound, metered) = spill.finish()?;
        let levelling = Levelling::to(&metered, self.level, &mut sound)?;
        let rate = self.prepared.rate;
        let seconds = millionth(sound.frames() as f64 / f64::from(rate));
        let mut facts = Facts::new(&task.from, seconds, marks(&rendered.landmarks, rate));
        facts.was_lufs = metered.lufs.map(millionth);
        facts.dip_db = millionth(levelling.deepest_db);
        let tags = Tags {
            marks: facts.marks.clone(),
            ..task.tags.clone()
        };
        self.write_tracks(task, &tags, &sound, &levelling)?;
        let midi = midi(&rendered, task.stage(), rate, &self.prepared.band);
        self.write(&task.midi(), &task.from, &midi)?;
        let png = png_bytes(&pages(&rendered, &task.tags.title, self.panel), 1);
        self.write(&task.pages(), &task.from, &png)?;
        self.record.know(&task.stem, facts.clone());
        self.record.keep()?;
        Ok(facts)
    }

    fn played(&self, task: &Task, sink: &mut Spill<'_>) -> Result<Rendered> {
        let mut core = Core::new(task.library.clone(), self.settings.clone(), None);
        core.stand(0, self.whole_form);
        if let Some(qpm) = self.tempo_qpm {
            core.set_start_tempo(qpm);
        }
        let pulse = task.library.drill.stages[0].pulse;
        let job = Job {
            prepared: self.prepared.clone(),
            foot: VecDeque::new(),
            length: match pulse {
                true => Length::Passes(task.passes),
                false => Length::Held(HELD_PASSES),
            },
            blocks: vec![RENDER_BLOCK],
            voice: (self.voice)(),
            guitar: None,
            keep: Keep {
                lines: false,
                notes: true,
                midi: false,
                every_page: false,
            },
        };
        render::render(core, job, self.settings.seed, sink).map_err(Error::other)
    }

    fn write_tracks(
        &self,
        task: &Task,
        tags: &Tags,
        sound: &Spilled,
        levelling: &Levelling,
    ) -> Result<()> {
        let lossless = self.forms.iter().filter(|form| !form.is_made_of_another());
        let rate = self.prepared.rate;
        let mut writers = Vec::new();
        for form in lossless {
            let name = task.track(*form);
            let writer = TrackWriter::create(&self.dir.join(&name), *form, tags, rate)?;
            writers.push((name, writer));
        }
        let mut frames = Vec::new();
        sound.read(|from, blocks| {
            frames.clear();
            for (at, pair) in blocks.chunks_exact_mut(2).enumerate() {
                let [left, right] = pair else { continue };
                levelling.apply(from + at, left);
                levelling.apply(from + at, right);
                frames.extend(
                    left.iter()
                        .zip(right.iter())
                        .flat_map(|(l, r)| [rounded(*l), rounded(*r)]),
                );
            }
            writers
                .iter_mut()
                .try_for_each(|(_, writer)| writer.write(&frames))
        })?;
        for (name, writer) in writers {
            let bytes = writer.finish()?;
            self.record.made(&name, &task.from, bytes);
        }
        Ok(())
    }

    pub(super) fn write(&self, name: &str, from: &str, bytes: &[u8]) -> Result<()> {
        WholeFile::write(&self.dir.join(name), bytes)?;
        self.record.made(name, from, bytes.len() as u64);
        Ok(())
    }
}

/// How many passes a stage has in all where it has so many in time, for whoever waits.
pub(super) fn work(core: &Core, passes: u32) -> u32 {
    match core.held_chords() {
        0 => passes,
        chords => chords as u32 * HELD_PASSES,
    }
}

/// A sample of 16 bits: the nearest, within what they hold.
fn rounded(sample: f32) -> i16 {
    let steps = sample * 32_767.0;
    (steps + 0.5f32.copysign(steps)) as i16
}

/// To a millionth: what the record reads again is then the same number to the bit, and so are the files made of it.
fn millionth(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn marks(landmarks: &[Landmark], rate: u32) -> Vec<Mark> {
    let mark = |mark: &Landmark| Mark {
        at_s: millionth(mark.frame.0 as f64 / f64::from(rate)),
        words: mark.words(),
    };
    landmarks.iter().map(mark).collect()
}

/// The MIDI file of a stage, its places marked: the first one by the stage's name, too.
fn midi(rendered: &Rendered, stage: &str, rate: u32, band: &Band) -> Vec<u8> {
    let mut recorder = SmfRecorder::new(rate, band);
    rendered
        .played
        .iter()
        .for_each(|played| recorder.record(*played));
    let words = |(index, mark): (usize, &Landmark)| match index {
        0 => (mark.tick, format!("{stage}: {}", mark.words())),
        _ => (mark.tick, mark.words()),
    };
    recorder.mark(rendered.landmarks.iter().enumerate().map(words));
    recorder.finish()
}

/// Each page once: what comes again looks as before.
fn pages(rendered: &Rendered, title: &str, panel: Panel) -> Bitmap {
    let mut pictures: Vec<Bitmap> = Vec::new();
    let shown = rendered.pages.iter().map(|shown| &shown.page);
    let of_music = shown.filter(|page| {
        matches!(
            page,
            Page::CountIn { .. } | Page::Practice(_) | Page::Breathe(_)
        )
    });
    for picture in of_music.map(|page| draw(page, panel)) {
        if !pictures.contains(&picture) {
            pictures.push(picture);
        }
    }
    contact_sheet(title, &[(String::new(), pictures)])
}
