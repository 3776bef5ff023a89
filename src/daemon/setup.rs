//! From a configuration to what the core and the player are made of.

use super::config::{Config, CueTo, SpeechEngine};
use super::files::{self, Failure, exit};
use super::fit;
use super::{font_balance, set_list};
use crate::audio::{Band, Level, PartSound, Prepared, SynthError, Trims, part_sounds, soundfont};
use crate::chart::{Chart, Form};
use crate::display::Panel;
use crate::drill::Drill;
use crate::fretboard::Neck;
use crate::practice::{Library, Settings};
use crate::speech::{EngineSettings, SpeechSettings};
use crate::synth::SoundFont;
use std::path::Path;
use std::sync::Arc;

/// The largest SoundFont that is loaded. Only the samples that sound are kept of it.
pub const FONT_LIMIT_BYTES: u64 = 1 << 30;
/// The chorus send when chorus is on.
const CHORUS_SEND: u8 = 20;

/// Reads charts and drill; no chart at all is no fault.
///
/// # Errors
/// Every fault of every file.
pub fn library(config: &Config) -> Result<Library, Failure> {
    let drill = config.drill.as_deref().map(files::drill).transpose();
    if let Some(set) = &config.set {
        return set_list::load(set, drill?.as_ref());
    }
    let (charts, drill) = files::both(files::charts(&config.charts), drill)?;
    Ok(Library {
        charts,
        drill: drill.unwrap_or_else(Drill::just_play),
        set: None,
    })
}

/// The keys that were taken where charts name none, a line a chart.
pub fn keys_taken(library: &Library) -> Vec<String> {
    let line = |chart: &Chart| {
        let taken = fit::key_taken(&Form::unroll(chart))?;
        Some(format!("\"{}\": {taken}", chart.title))
    };
    library.charts.iter().filter_map(line).collect()
}

/// What the core is set up with.
pub fn settings(config: &Config, rate: u32) -> Settings {
    Settings {
        rate,
        seed: config.seed,
        feel_amount: config.practice.feel_amount,
        tempo_per_cent: config.practice.tempo_per_cent,
        tempo_step_qpm: config.practice.tempo_step_qpm,
        level_step_db: config.levels.step_db,
        master_db: config.levels.master_db,
        names: config.display.names,
        neck: config.neck(),
        habits: config.harmony.clone(),
        rest_after_min: config.practice.rest_after_min,
        spoken: config.speech.when,
        rules: config.judging.rules.clone(),
        a4_hz: config.audio.a4_hz,
        spoken_summary: config.judging.spoken,
        charts_named_in: String::new(),
        map: config.foot.map.clone(),
        switches: config.foot.switches.clone(),
    }
}

/// Loads the SoundFont: the named one, the configured one, or the first of the usual places.
///
/// # Errors
/// When one is named and cannot be loaded. None at all is no error: click, model tones and cues still sound.
pub fn font(config: &Config, named: Option<&Path>) -> Result<Option<Arc<SoundFont>>, Failure> {
    let asked = named
        .map(Path::to_path_buf)
        .or_else(|| config.audio.soundfont.clone());
    let Some(path) = asked.clone().or_else(soundfont::find) else {
        return Ok(None);
    };
    // The band's samples are read at once, so that what is wrong with them is told beside the file.
    let loaded = soundfont::load(&path, FONT_LIMIT_BYTES)
        .and_then(|font| band(config).sounds(&font).map(|_| font));
    let failed = |error| Failure::new(exit::DATA, format!("{}: {error}", path.display()));
    loaded.map(Some).map_err(failed)
}

/// How the band sounds.
fn band(config: &Config) -> Band {
    let audio = &config.audio;
    Band {
        seats: audio.sound.seats(),
        reverb: audio.reverb,
        chorus: if audio.chorus { CHORUS_SEND } else { 0 },
        a4_hz: audio.a4_hz,
        ..Band::default()
    }
}

/// The parts of the band that a SoundFont has no sound for, and those for which another one stands in, a line each.
pub fn font_gaps(config: &Config, font: &SoundFont) -> FontGaps {
    // They were read when the font was.
    let sounds = part_sounds(font, &band(config)).map_or(Vec::new(), |sounds| sounds.to_vec());
    let names = |wanted: PartSound| {
        let parts = sounds.iter().filter(|(_, sound)| *sound == wanted);
        parts.map(|(part, _)| part.name()).collect::<Vec<_>>()
    };
    let (silent, other) = (names(PartSound::None), names(PartSound::Other));
    let told = |parts: &[&str], rule: &str| {
        let told = format!("the SoundFont {rule} {}", parts.join(", "));
        (!parts.is_empty()).then_some(told)
    };
    FontGaps {
        all_silent: silent.len() == sounds.len(),
        silent: told(&silent, "has no sound for"),
        other: told(&other, "lets another of its sounds stand in for"),
    }
}

/// Says what will be missing from the sound.
pub fn tell_font(config: &Config, font: Option<&SoundFont>) {
    match font {
        None => eprintln!(
            "no SoundFont found: click, reference notes and cues only (Debian package timgm6mb-soundfont)"
        ),
        Some(font) => font_gaps(config, font)
            .lines()
            .for_each(|line| eprintln!("{line}")),
    }
}

/// What a SoundFont does not have.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FontGaps {
    /// It has no sound for any part.
    pub all_silent: bool,
    /// The parts without a sound, in words.
    pub silent: Option<String>,
    /// The parts for which another sound stands in, in words.
    pub other: Option<String>,
}

impl FontGaps {
    /// Everything there is to say.
    pub fn lines(&self) -> impl Iterator<Item = &str> {
        [&self.silent, &self.other]
            .into_iter()
            .filter_map(|line| line.as_deref())
    }
}

/// The balance of a SoundFont, from the cache where it is kept there.
///
/// # Errors
/// When its samples cannot be read.
pub fn trims(
    config: &Config,
    font: Option<&Arc<SoundFont>>,
    cache: Option<&Path>,
) -> Result<Trims, SynthError> {
    font.map_or_else(
        || Ok(Trims::default()),
        |font| font_balance::trims(font, &band(config), cache),
    )
}

/// What a player is made of.
pub fn prepared(
    config: &Config,
    font: Option<Arc<SoundFont>>,
    rate: u32,
    outputs: usize,
) -> Prepared {
    let audio = &config.audio;
    Prepared {
        rate,
        font,
        band: band(config),
        levels: config.levels.all().collect::<Vec<(Level, f32)>>(),
        cue_to_outputs: match audio.cue_to {
            CueTo::Auto => outputs <= 2,
            CueTo::Outputs => true,
            CueTo::Cue => false,
        },
    }
}

/// What the ear is to listen to.
pub fn ear(config: &Config, rate: u32) -> crate::listen::Setup {
    let a4_hz = config.audio.a4_hz as f32;
    crate::listen::Setup {
        rate,
        instrument: config.ear.instrument,
        a4_hz,
        lowest_hz: lowest_hz(&config.neck(), a4_hz),
    }
}

/// What is to be known of an input beforehand.
pub fn input(config: &Config, rate: u32) -> crate::listen::InputSetup {
    let a4_hz = config.audio.a4_hz as f32;
    crate::listen::InputSetup {
        rate,
        a4_hz,
        lowest_hz: lowest_hz(&config.neck(), a4_hz),
    }
}

/// The lowest open string of a neck, in Hz.
pub fn lowest_hz(neck: &Neck, a4_hz: f32) -> f32 {
    let lowest = neck.tuning.open_keys().iter().min();
    let key = f32::from(lowest.copied().unwrap_or(40)) + f32::from(neck.capo);
    a4_hz * ((key - 69.0) / 12.0).exp2()
}

/// What the speaker needs to know.
pub fn speech(config: &Config, cache_dir: Option<&Path>) -> SpeechSettings {
    let engine = match config.speech.engine {
        SpeechEngine::EspeakNg => Some(EngineSettings {
            voice: config.speech.voice.clone(),
            words_per_minute: config.speech.rate_wpm,
            ..EngineSettings::default()
        }),
        SpeechEngine::None => None,
    };
    SpeechSettings {
        engine,
        cache_dir: cache_dir.map(Path::to_path_buf),
    }
}

/// The panel of the pages that are written as files when no screen is configured.
pub const PAGE_PANEL: Panel = Panel::new(256, 64);

/// The panel of the first configured screen, or the built-in one.
pub fn page_panel(config: &Config) -> Panel {
    config
        .display
        .screens
        .first()
        .map_or(PAGE_PANEL, |screen| screen.panel)
}
