//! `underfoot check`: every fault of every file, and what will not fit, before anyone stands at the amp.
// It tells what it finds on standard output.
#![allow(clippy::disallowed_methods)]

use super::output::stdout_failed;
use crate::audio::soundfont::SoundFont;
use crate::chart::{Chart, Form};
use crate::daemon::args::CheckArgs;
use crate::daemon::chart_folders::ChartFolders;
use crate::daemon::config::{Config, Directories, Overlay};
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::kind::{FileKind, kind};
use crate::daemon::{fit, set_list, setup};
use crate::drill::Drill;
use crate::fault::printable;
use crate::harmony::Habits;
use crate::pedal::script as foot_script;
use crate::plan::Material;
use crate::practice::{Library, Spoken};
use crate::speech::Lengths;
use std::collections::BTreeSet;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;

/// What the files hold that is good.
#[derive(Default)]
struct Good {
    charts: Vec<(String, Chart)>,
    drills: Vec<(String, Drill)>,
    /// What configurations put together, each with what it sets.
    together: Vec<(Config, Vec<(String, Material)>)>,
}

/// `underfoot check`.
///
/// # Errors
/// All faults of all files; 78 if only configurations are wrong, else 65.
pub fn check(args: &CheckArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    let mut good = Good::default();
    let mut faults: Vec<Failure> = Vec::new();
    let mut out = std::io::stdout().lock();
    for path in &args.files {
        match check_file(path, &mut good) {
            Ok(lines) => {
                for line in lines {
                    let line = printable(&format!("{}: {line}", path.display()));
                    writeln!(out, "{line}").map_err(stdout_failed)?;
                }
            }
            Err(failure) => faults.push(failure),
        }
    }
    for line in findings(good, variable) {
        writeln!(out, "{}", printable(&line)).map_err(stdout_failed)?;
    }
    if faults.is_empty() {
        return Ok(());
    }
    let only_config = faults.iter().all(|fault| fault.code == exit::CONFIG);
    let texts: Vec<String> = faults.into_iter().map(|fault| fault.text).collect();
    let code = if only_config {
        exit::CONFIG
    } else {
        exit::DATA
    };
    Err(Failure::new(code, texts.join("\n")))
}

/// Checks one file; what there is to say about it where it is good.
fn check_file(path: &Path, good: &mut Good) -> Result<Vec<String>, Failure> {
    let name = path.display().to_string();
    let data = |fault: String| Failure::new(exit::DATA, fault);
    let bytes = files::start_of(path).map_err(data)?;
    let kind = kind(path, &bytes);
    if kind == FileKind::SoundFont {
        let font = setup::font(&Config::default(), Some(path))?;
        let mut lines = vec!["OK (SoundFont)".to_string()];
        lines.extend(font_gaps(&Config::default(), font.as_deref()));
        return Ok(lines);
    }
    let code = if kind == FileKind::Config {
        exit::CONFIG
    } else {
        exit::DATA
    };
    let text = files::as_text(path, bytes).map_err(|fault| Failure::new(code, fault))?;
    let said = match kind {
        FileKind::Chart => {
            let chart = files::parsed(path, &text, Chart::read, code)?;
            let bars = count(Form::count_bars(&chart), "bar");
            good.charts.push((name, chart));
            format!("OK (chart, {bars})")
        }
        FileKind::Drill => {
            let drill = files::drill_of(path, &text)?;
            let stages = count(drill.stages.len(), "stage");
            good.drills.push((name, drill));
            format!("OK (drill, {stages})")
        }
        FileKind::SetList => return check_set(path, &text, good),
        FileKind::Foot => {
            let steps = files::parsed(path, &text, foot_script::parse, code)?;
            format!("OK (foot script, {})", count(steps.len(), "edge"))
        }
        FileKind::Config => return check_config(path, &text, good),
        FileKind::SoundFont | FileKind::Score | FileKind::Empty => {
            let rule =
                "empty: no chart (which begins with title = \"...\"), drill or configuration";
            return Err(data(format!("{name}: {rule}")));
        }
    };
    Ok(vec![said])
}

/// A set list, with the charts and drills that it names.
fn check_set(path: &Path, text: &str, good: &mut Good) -> Result<Vec<String>, Failure> {
    let library = set_list::load_text(path, text, None)?;
    let tunes = count(library.charts.len(), "tune");
    let config = Config::default();
    let pairs = pairs(path, &library, &config);
    good.together.push((config, pairs));
    Ok(vec![format!("OK (set list, {tunes})")])
}

/// Each chart with what is practised over it.
fn pairs(path: &Path, library: &Library, config: &Config) -> Vec<(String, Material)> {
    let pair = |(place, chart): (usize, &Chart)| {
        let drill = library.drill_of(place).clone();
        let (file, title) = (path.display(), &chart.title);
        let names = format!("{file}: \"{}\" over \"{title}\"", drill.title);
        let habits = config.harmony.clone();
        (names, Material::new(chart.clone(), drill, habits))
    };
    library.charts.iter().enumerate().map(pair).collect()
}

/// A configuration, with the files that it names.
fn check_config(path: &Path, text: &str, good: &mut Good) -> Result<Vec<String>, Failure> {
    let mut config = files::with_drop_ins(path, text)?;
    config.overlay(Overlay::default());
    let font = match &config.audio.soundfont {
        Some(font) => setup::font(&config, Some(font)),
        None => Ok(None),
    };
    let (mut library, font) = files::both(setup::library(&config), font)?;
    let faults = ChartFolders::default().add_to(&mut library, &config, &BTreeSet::new());
    if !faults.is_empty() {
        return Err(Failure::new(exit::DATA, faults.join("\n")));
    }
    if config.drill.is_some() || config.set.is_some() {
        let together = pairs(path, &library, &config);
        good.together.push((config.clone(), together));
    }
    let mut lines = vec!["OK (configuration)".to_string()];
    lines.extend(config.cautions());
    lines.extend(font_gaps(&config, font.as_deref()));
    Ok(lines)
}

fn font_gaps(config: &Config, font: Option<&SoundFont>) -> Vec<String> {
    let gaps = font.map(|font| setup::font_gaps(config, font));
    gaps.map_or(Vec::new(), |gaps| {
        gaps.lines().map(str::to_string).collect()
    })
}

/// What will not fit: each drill is tried over every chart that was given with it, as the box is set where nothing
/// is set; what a configuration puts together, as that sets it.
fn findings(good: Good, variable: &dyn Fn(&str) -> Option<String>) -> Vec<String> {
    let material = |chart: &Chart, drill| Material::new(chart.clone(), drill, Habits::default());
    let mut given = Vec::new();
    for (chart_name, chart) in &good.charts {
        if good.drills.is_empty() {
            given.push((chart_name.clone(), material(chart, Drill::just_play())));
        }
        for (drill_name, drill) in &good.drills {
            let names = format!("{drill_name} over {chart_name}");
            given.push((names, material(chart, drill.clone())));
        }
    }
    let given = std::iter::once((Config::default(), given));
    given
        .chain(good.together)
        .flat_map(|(config, pairs)| findings_with(&config, pairs, variable))
        .collect()
}

/// What will not fit with a configuration.
fn findings_with(
    config: &Config,
    pairs: Vec<(String, Material)>,
    variable: &dyn Fn(&str) -> Option<String>,
) -> Vec<String> {
    let cache = Directories::of(&config.paths, variable).cache;
    let pairs: Vec<_> = pairs
        .into_iter()
        .map(|(names, material)| (names, Arc::new(material)))
        .collect();
    let (notes, per_cent) = (config.display.names, config.practice.tempo_per_cent);
    let mut texts = BTreeSet::new();
    if config.speech.when == Spoken::Drill {
        let materials = pairs.iter().map(|(_, material)| material);
        materials.for_each(|material| fit::texts(material, notes, per_cent, &mut texts));
    }
    // All at once: the engine takes its time to start.
    let mut lengths = Lengths::of(&setup::speech(config, cache.as_deref()), &texts);
    let mut lines = Vec::new();
    for (names, material) in pairs {
        let mut found = fit::findings(&material);
        if lengths.can_speak() {
            found.extend(fit::unsaid(&material, notes, per_cent, &mut lengths));
        }
        lines.extend(found.into_iter().map(|line| format!("{names}: {line}")));
    }
    lines
}

fn count(number: usize, word: &str) -> String {
    match number {
        1 => format!("1 {word}"),
        _ => format!("{number} {word}s"),
    }
}
