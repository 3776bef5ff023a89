//! The commands that need no audio server.
// They read files and write to standard output.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::args::{CheckArgs, RenderArgs, StatusArgs, SymbolsArgs, TargetsArgs};
use super::config::{Config, Directories, Overlay};
use super::files::{self, Failure, exit};
use super::render::{self, Job, Length, Rendered, SoundSink};
use super::rig::AtOnce;
use super::{script, setup, status as socket, targets as listing};
use crate::audio::smf::SmfRecorder;
use crate::display::screens::png_bytes;
use crate::display::{Panel, draw};
use crate::drill::Drill;
use crate::fretboard::Neck;
use crate::harmony::{Habits, symbols_line};
use crate::pedal::script::{self as foot_script, Step};
use crate::practice::{Core, Library, Material};
use crate::speech::Speaker;
use crate::time::Frame;
use std::io::{BufRead, BufReader, BufWriter, Read, Write};
use std::path::Path;

/// The longest line of symbols that is read.
const LONGEST_LINE_BYTES: u64 = 4096;
/// Page pictures are magnified by this.
const PAGE_SCALE: u32 = 4;

fn stdout_failed(error: std::io::Error) -> Failure {
    // A reader that has seen enough closes the pipe: no fault of anyone.
    let quiet = error.kind() == std::io::ErrorKind::BrokenPipe;
    Failure::new(
        if quiet { exit::OK } else { exit::SOFTWARE },
        if quiet {
            String::new()
        } else {
            error.to_string()
        },
    )
}

/// `underfoot symbols`.
///
/// # Errors
/// When the file cannot be read; symbols that cannot be read are lines of the answer, not errors.
pub fn symbols(args: &SymbolsArgs) -> Result<(), Failure> {
    let input: Box<dyn Read> = if args.file == Path::new("-") {
        Box::new(std::io::stdin().lock())
    } else {
        let file = std::fs::File::open(&args.file).map_err(|error| {
            Failure::new(exit::DATA, format!("{}: {error}", args.file.display()))
        })?;
        Box::new(file)
    };
    let mut input = BufReader::new(input);
    let mut out = BufWriter::new(std::io::stdout().lock());
    let mut line = Vec::new();
    loop {
        line.clear();
        let read = input
            .by_ref()
            .take(LONGEST_LINE_BYTES)
            .read_until(b'\n', &mut line);
        let count = read.map_err(|error| Failure::new(exit::DATA, error.to_string()))?;
        if count == 0 {
            break;
        }
        let text = String::from_utf8_lossy(&line);
        let text = text.strip_suffix('\n').unwrap_or(&text);
        writeln!(
            out,
            "{}",
            symbols_line(text.strip_suffix('\r').unwrap_or(text))
        )
        .map_err(stdout_failed)?;
    }
    out.flush().map_err(stdout_failed)
}

/// `underfoot targets`.
///
/// # Errors
/// Faults of chart and drill (65); a stage that is not there (64).
pub fn targets(args: &TargetsArgs) -> Result<(), Failure> {
    let chart = files::chart(&args.chart);
    let drill = args.drill.as_deref().map(files::drill).transpose();
    let (chart, drill) = (chart?, drill?);
    let neck = match &args.config {
        Some(path) => files::config(Some(path), |_| None, Overlay::default())?.neck(),
        None => Neck::default(),
    };
    let material = Material::new(
        chart,
        drill.clone().unwrap_or_else(Drill::just_play),
        Habits::default(),
    );
    let asked = listing::Asked {
        stage: args.stage.clone(),
        pass: args.pass,
        form: args.form,
        seed: args.seed,
        neck,
    };
    let lines = if args.json {
        listing::lines(&material, drill.as_ref(), &asked)
    } else if args.why {
        Ok(listing::reasons(&material, args.form))
    } else {
        listing::readable(&material, drill.as_ref(), &asked)
    };
    let lines = lines.map_err(|error| Failure::new(exit::USAGE, error.to_string()))?;
    let mut out = BufWriter::new(std::io::stdout().lock());
    for line in lines {
        writeln!(out, "{line}").map_err(stdout_failed)?;
    }
    out.flush().map_err(stdout_failed)
}

/// `underfoot status`.
///
/// # Errors
/// When no daemon answers (69).
pub fn status(args: &StatusArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    let flags = Overlay {
        socket: args.socket.clone(),
        ..Overlay::default()
    };
    let config = files::config(args.config.as_deref(), variable, flags)?;
    let answer = socket::ask(&Directories::of(&config, variable).socket)?;
    if args.json {
        println!("{answer}");
        return Ok(());
    }
    let text = |value: &serde_json::Value| match value {
        serde_json::Value::String(text) => text.clone(),
        other => other.to_string(),
    };
    for key in ["state", "chart", "stage", "section", "bar", "bpm"] {
        println!("{key:9} {}", text(&answer[key]));
    }
    let jack = &answer["jack"];
    println!(
        "jack      {}, {} Hz, {} frames, {} xruns",
        text(&jack["state"]),
        jack["rate"],
        jack["period_frames"],
        jack["xruns"]
    );
    for device in answer["devices"].as_array().into_iter().flatten() {
        let error = device["last_error"]
            .as_str()
            .map(|error| format!(" ({error})"))
            .unwrap_or_default();
        println!(
            "{:9} {}{error}",
            text(&device["name"]),
            text(&device["state"])
        );
    }
    Ok(())
}

/// What a file is.
enum Kind {
    Chart,
    Drill,
    Config,
    SoundFont,
}

/// `underfoot check`.
///
/// # Errors
/// All faults of all files; 78 if only configurations are wrong, else 65.
pub fn check(args: &CheckArgs) -> Result<(), Failure> {
    let mut charts = Vec::new();
    let mut drills = Vec::new();
    let mut faults = Vec::new();
    let mut code = exit::CONFIG;
    for path in &args.files {
        let name = path.display();
        let checked = match kind(path) {
            Ok(Kind::Chart) => {
                files::chart(path).map(|chart| charts.push((name.to_string(), chart)))
            }
            Ok(Kind::Drill) => {
                files::drill(path).map(|drill| drills.push((name.to_string(), drill)))
            }
            Ok(Kind::Config) => check_config(path),
            Ok(Kind::SoundFont) => setup::font(&Config::default(), Some(path)).map(drop),
            Err(failure) => Err(failure),
        };
        match checked {
            Ok(()) => println!("{name}: good"),
            Err(failure) => {
                code = if failure.code == exit::CONFIG {
                    code
                } else {
                    exit::DATA
                };
                faults.push(failure.text);
            }
        }
    }
    for (chart_name, chart) in &charts {
        for (drill_name, drill) in &drills {
            let material = Material::new(chart.clone(), drill.clone(), Habits::default());
            for line in super::fit::findings(&material) {
                println!("{drill_name} over {chart_name}: {line}");
            }
        }
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(Failure::new(code, faults.join("\n")))
    }
}

fn check_config(path: &Path) -> Result<(), Failure> {
    let config = files::config(Some(path), |_| None, Overlay::default())?;
    for caution in &config.cautions {
        println!("{}: {caution}", path.display());
    }
    if !config.charts.is_empty() {
        setup::library(&config)?;
    }
    Ok(())
}

/// What a file is, by what stands in it.
fn kind(path: &Path) -> Result<Kind, Failure> {
    let mut head = [0u8; 4];
    let read = std::fs::File::open(path).and_then(|mut file| file.read(&mut head));
    read.map_err(|error| {
        Failure::new(
            exit::DATA,
            format!("{}: cannot be read ({error})", path.display()),
        )
    })?;
    if &head == b"RIFF"
        || path
            .extension()
            .is_some_and(|end| end.eq_ignore_ascii_case("sf2"))
    {
        return Ok(Kind::SoundFont);
    }
    let text = files::text(path).map_err(|text| Failure::new(exit::DATA, text))?;
    let has = |table: &str| text.lines().any(|line| line.trim().starts_with(table));
    Ok(match () {
        () if has("[[stage]]") => Kind::Drill,
        () if has("[[section]]") || has("form") || has("bars") => Kind::Chart,
        () => Kind::Config,
    })
}

struct WavFiles {
    band: Option<Wav>,
    cue: Option<Wav>,
}

struct Wav {
    writer: hound::WavWriter<BufWriter<std::fs::File>>,
    bits: u16,
}

impl Wav {
    fn create(path: &Path, channels: u16, rate: u32, bits: u16) -> Result<Wav, Failure> {
        let sample_format = if bits == 32 {
            hound::SampleFormat::Float
        } else {
            hound::SampleFormat::Int
        };
        let spec = hound::WavSpec {
            channels,
            sample_rate: rate,
            bits_per_sample: bits,
            sample_format,
        };
        let writer = hound::WavWriter::create(path, spec)
            .map_err(|error| Failure::new(exit::DATA, format!("{}: {error}", path.display())))?;
        Ok(Wav { writer, bits })
    }

    fn write(&mut self, sample: f32) -> std::io::Result<()> {
        let written = match self.bits {
            32 => self.writer.write_sample(sample),
            _ => self
                .writer
                .write_sample((sample * 32_767.0).round().clamp(-32_768.0, 32_767.0) as i16),
        };
        written.map_err(std::io::Error::other)
    }
}

impl SoundSink for WavFiles {
    fn sound(&mut self, left: &[f32], right: &[f32], cue: &[f32]) -> std::io::Result<()> {
        if let Some(band) = &mut self.band {
            for (left, right) in left.iter().zip(right) {
                band.write(*left)?;
                band.write(*right)?;
            }
        }
        if let Some(wav) = &mut self.cue {
            cue.iter().try_for_each(|sample| wav.write(*sample))?;
        }
        Ok(())
    }
}

/// `underfoot render`.
///
/// # Errors
/// Faults of the files (65, 78); what cannot be written (65).
pub fn render(args: &RenderArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    check_render(args)?;
    let flags = Overlay {
        charts: vec![args.chart.clone()],
        drill: args.drill.clone(),
        seed: args.seed,
        ..Overlay::default()
    };
    // A rendering does not depend on the machine's configuration unless it is named.
    let config = match &args.config {
        Some(path) => files::config(Some(path), |_| None, flags)?,
        None => {
            let mut config = Config::default();
            config.overlay(flags);
            config
        }
    };
    let library = setup::library(&config)?;
    let foot = match &args.foot {
        Some(path) => Some(read_foot(path)?),
        None => None,
    };
    let font = setup::font(&config, args.soundfont.as_deref())?;
    if font.is_none() {
        eprintln!(
            "no SoundFont found: click, model tones and cues only (Debian package timgm6mb-soundfont)"
        );
    }
    let core = render_core(args, &config, library)?;
    let (count_in, tempo) = core.count_in();
    let edges = foot.map(|foot| script::edges(&foot, Frame(0), count_in, tempo, args.rate));
    let cache = Directories::of(&config, variable).cache;
    let speaker = if args.silent_voice {
        Speaker::silent()
    } else {
        Speaker::new(&setup::speech(&config, Some(&cache)))
    };
    let job = Job {
        prepared: setup::prepared(&config, font, args.rate, 2),
        foot: edges.unwrap_or_default(),
        length: args
            .seconds
            .map_or(Length::Passes(args.passes.max(1)), Length::Seconds),
        blocks: args.block.clone(),
        voice: Box::new(AtOnce::new(speaker)),
    };
    let mut wavs = WavFiles {
        band: args
            .wav
            .as_deref()
            .map(|path| Wav::create(path, 2, args.rate, args.bits))
            .transpose()?,
        cue: args
            .wav_cue
            .as_deref()
            .map(|path| Wav::create(path, 1, args.rate, args.bits))
            .transpose()?,
    };
    let seed = config.seed;
    let rendered = render::render(core, job, seed, &mut wavs)
        .map_err(|error| Failure::new(exit::DATA, error.to_string()))?;
    for wav in [wavs.band, wavs.cue].into_iter().flatten() {
        wav.writer
            .finalize()
            .map_err(|error| Failure::new(exit::DATA, error.to_string()))?;
    }
    write_rendered(args, &config, &rendered)
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

fn render_core(args: &RenderArgs, config: &Config, library: Library) -> Result<Core, Failure> {
    let stage = listing::stage_index(&library.drill, args.stage.as_deref())
        .map_err(|error| Failure::new(exit::USAGE, error.to_string()))?;
    let mut core = Core::new(library, setup::settings(config, args.rate), None);
    core.stand(stage, args.form);
    if let Some(qpm) = args.tempo {
        core.set_start_tempo(qpm);
    }
    Ok(core)
}

/// Reads a foot script.
///
/// # Errors
/// Every fault of it (65).
pub fn read_foot(path: &Path) -> Result<Vec<Step>, Failure> {
    let text = files::text(path).map_err(|text| Failure::new(exit::DATA, text))?;
    let name = path.display().to_string();
    let source = crate::fault::Source {
        name: &name,
        text: &text,
    };
    foot_script::parse(&source).map_err(|faults| Failure::new(exit::DATA, faults.to_string()))
}

fn write_rendered(args: &RenderArgs, config: &Config, rendered: &Rendered) -> Result<(), Failure> {
    fn failed(path: &Path, error: std::io::Error) -> Failure {
        Failure::new(exit::DATA, format!("{}: {error}", path.display()))
    }
    if let Some(path) = &args.events {
        let mut text = rendered.lines.join("\n");
        text.push('\n');
        std::fs::write(path, text).map_err(|error| failed(path.as_ref(), error))?;
    }
    if let Some(path) = &args.midi {
        let mut recorder =
            SmfRecorder::new(args.rate, &setup::prepared(config, None, args.rate, 2).band);
        rendered
            .played
            .iter()
            .for_each(|played| recorder.record(*played));
        std::fs::write(path, recorder.finish()).map_err(|error| failed(path.as_ref(), error))?;
    }
    if let Some(dir) = &args.pages {
        std::fs::create_dir_all(dir).map_err(|error| failed(dir, error))?;
        let panel = page_panel(config);
        for (index, (_, page)) in rendered.pages.iter().enumerate() {
            let path = dir.join(format!("{index:05}.png"));
            std::fs::write(&path, png_bytes(&draw(page, panel), PAGE_SCALE))
                .map_err(|error| failed(path.as_ref(), error))?;
        }
    }
    Ok(())
}

/// The panel of the first configured screen, or the built-in one.
pub fn page_panel(config: &Config) -> Panel {
    config
        .display
        .screens
        .first()
        .map_or(setup::PAGE_PANEL, |screen| screen.panel)
}
