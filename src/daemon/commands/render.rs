//! `underfoot render`: a practice track without a sound card.
// It reads files and writes files.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::output::{unwritable, write_text};
use super::takes::{Takes, core};
use crate::audio::smf::SmfRecorder;
use crate::daemon::args::RenderArgs;
use crate::daemon::config::{Config, Directories, Overlay};
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::hearing::Listener;
use crate::daemon::kind::{FileKind, kind};
use crate::daemon::render::{Guitar, Rendered};
use crate::daemon::whole_file::WholeFile;
use crate::daemon::{script, setup};
use crate::display::screens::png_bytes;
use crate::display::{Bitmap, draw};
use crate::speech::Speaker;
use crate::time::Frame;
use std::path::Path;
use std::sync::{Arc, Mutex};

/// Page pictures are magnified by this.
const PAGE_SCALE: u32 = 4;

/// `underfoot render`.
///
/// # Errors
/// Faults of the files (65, 78); what cannot be written (65).
pub fn render(args: &RenderArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    check_render(args)?;
    let flags = flags(args);
    // A rendering does not depend on the machine's configuration unless it is named.
    let config = files::config_apart(args.config.as_deref(), flags)?;
    let library = setup::library(&config)?;
    let switches = config.foot.switches.len();
    let foot = args.take.foot.as_deref();
    let foot = foot.map(|path| files::foot(path, switches)).transpose()?;
    let font = setup::font(&config, args.soundfont.as_deref())?;
    setup::tell_font(&config, font.as_deref());
    check_outputs(args)?;
    // Of a long chart a core is large: this one is gone before there is another.
    let (count_in, tempo) = core(args, &config, library.clone())?.count_in();
    let edges = foot.map(|foot| script::inputs(&foot, Frame(0), count_in, tempo, args.rate));
    let cache = Directories::of(&config.paths, variable).cache;
    let speaker = if args.silent_voice {
        Speaker::silent()
    } else {
        Speaker::new(&setup::speech(&config, cache.as_deref()))
    };
    let guitar = args
        .guitar
        .as_deref()
        .map(|path| guitar(path, args.rate, &config))
        .transpose()?;
    // Where nobody hears anything nothing needs to sound: the ear alone must be told what the band played.
    let sounding = [&args.wav, &args.wav_cue, &args.stems];
    let sounds = sounding.iter().any(|file| file.is_some()) || guitar.is_some();
    let font = font.filter(|_| sounds);
    let trims = setup::trims(&config, font.as_ref(), cache.as_deref())
        .map_err(|error| Failure::new(exit::DATA, error.to_string()))?;
    let mut prepared = setup::prepared(&config, font, args.rate, 2);
    prepared.band.trims = trims;
    let takes = Takes {
        args,
        config: &config,
        library,
        prepared,
        foot: edges.unwrap_or_default(),
        speaker: Arc::new(Mutex::new(speaker)),
        guitar: Mutex::new(guitar),
    };
    write_rendered(args, &config, &takes.make()?)
}

/// What lies over the configuration: the chart, or the set list, that is rendered.
fn flags(args: &RenderArgs) -> Overlay {
    let path = args.chart.clone();
    // What cannot be read is told where charts are read, after the configuration.
    let bytes = files::start_of(&path).unwrap_or_default();
    let (charts, set) = match kind(&path, &bytes) {
        FileKind::SetList => (Vec::new(), Some(path)),
        _ => (vec![path], None),
    };
    Overlay {
        charts,
        set,
        drill: args.practised.drill.clone(),
        seed: args.seed,
        ..Overlay::default()
    }
}

/// What a player played, and the ear for it.
fn guitar(path: &Path, rate: u32, config: &Config) -> Result<Guitar, Failure> {
    let latency = config.ear.latency_ms * f64::from(rate) / 1000.0;
    Ok(Guitar {
        sound: super::listen::recording_at(path, rate)?,
        listener: Listener::new(setup::ear(config, rate), latency.round() as i64),
        instrument: config.ear.instrument,
    })
}

fn check_render(args: &RenderArgs) -> Result<(), Failure> {
    let usage = |text: &str| Err(Failure::new(exit::USAGE, text));
    if !matches!(args.bits, 16 | 32) {
        return usage("--bits is 16 or 32");
    }
    if !(16_000..=192_000).contains(&args.rate) {
        return usage("--rate lies between 16000 and 192000 frames a second");
    }
    if args.block.is_empty() || args.block.iter().any(|frames| !(1..=8192).contains(frames)) {
        return usage("--block takes sizes from 1 to 8192 frames");
    }
    Ok(())
}

/// A rendering that goes nowhere is told before the work, but after the faults of the files: who only wants those
/// had them.
fn check_outputs(args: &RenderArgs) -> Result<(), Failure> {
    let files = [
        &args.wav,
        &args.wav_cue,
        &args.stems,
        &args.midi,
        &args.take.events,
        &args.take.pages,
    ];
    if files.iter().any(|file| file.is_some()) {
        return Ok(());
    }
    let text = "nothing to write: give --wav, --wav-cue, --stems, --midi, --events or --pages";
    Err(Failure::new(exit::USAGE, text))
}

fn write_rendered(args: &RenderArgs, config: &Config, rendered: &Rendered) -> Result<(), Failure> {
    let write = |path: &Path, bytes: &[u8]| {
        WholeFile::write(path, bytes).map_err(|error| unwritable(path, &error))
    };
    if let Some(path) = &args.take.events {
        let mut text = rendered.lines.join("\n");
        text.push('\n');
        let file = (path != Path::new("-")).then_some(path.as_path());
        write_text(file, &text)?;
    }
    if let Some(path) = &args.midi {
        let mut recorder =
            SmfRecorder::new(args.rate, &setup::prepared(config, None, args.rate, 2).band);
        rendered
            .played
            .iter()
            .for_each(|played| recorder.record(*played));
        write(path, &recorder.finish())?;
    }
    if let Some(dir) = &args.take.pages {
        std::fs::create_dir_all(dir).map_err(|error| unwritable(dir, &error))?;
        let panel = args.panel.unwrap_or_else(|| setup::page_panel(config));
        let drawn = rendered.pages.iter().map(|shown| draw(&shown.page, panel));
        let mut pictures: Vec<Bitmap> = drawn.collect();
        pictures.dedup();
        for (index, picture) in pictures.iter().enumerate() {
            let path = dir.join(format!("{index:05}.png"));
            let png = png_bytes(picture, PAGE_SCALE);
            WholeFile::write_unsynced(&path, &png).map_err(|error| unwritable(&path, &error))?;
        }
    }
    Ok(())
}
