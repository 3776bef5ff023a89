//! What the doctor is to look at: what a configuration asks of the system, and what a daemon tells of itself.

use super::config::{Config, Directories, ScreenKind, SpeechEngine};
use super::files::Failure;
use crate::audio::soundfont;
use crate::display::oled::OledBus;
use crate::doctor::{Asked, Told, Wanted};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Where the machine's daemon keeps things.
const STATE_OF_THE_UNIT: &str = "/var/lib/underfoot";
const SPEECH_PROGRAMS: [&str; 3] = [
    "/usr/bin/espeak-ng",
    "/usr/local/bin/espeak-ng",
    "/bin/espeak-ng",
];

/// What a configuration asks of the system below `root`, or that it has faults.
pub fn asked(
    config: Result<&Config, &Failure>,
    root: &Path,
    variable: &dyn Fn(&str) -> Option<String>,
) -> Asked {
    let config = match config {
        Ok(config) => config,
        Err(failure) => {
            return Asked {
                fault: Some(failure.text.clone()),
                soundfonts: soundfont::usual_paths(),
                ..Asked::default()
            };
        }
    };
    let machines = || {
        let is_there = root
            .join(STATE_OF_THE_UNIT.trim_start_matches('/'))
            .is_dir();
        is_there.then(|| PathBuf::from(STATE_OF_THE_UNIT))
    };
    let own = || Directories::of(&config.paths, variable).state;
    let named = config.audio.soundfont.clone();
    let foot = &config.foot;
    Asked {
        fault: None,
        wanted: wanted(config),
        soundfonts: named.map_or_else(soundfont::usual_paths, |path| vec![path]),
        speech: match config.speech.engine {
            SpeechEngine::EspeakNg => SPEECH_PROGRAMS.map(PathBuf::from).to_vec(),
            SpeechEngine::None => Vec::new(),
        },
        state: config
            .paths
            .state_dir
            .clone()
            .or_else(machines)
            .or_else(own),
        has_foot: foot.serial.is_some()
            || !(foot.midi.is_empty() && foot.pedals.is_empty() && foot.gpio.is_empty()),
    }
}

/// The groups that devices of the configuration need.
fn wanted(config: &Config) -> Vec<Wanted> {
    let foot = &config.foot;
    let screen = |wanted: fn(&ScreenKind) -> bool| {
        let screens = &config.display.screens;
        screens.iter().any(|screen| wanted(&screen.kind))
    };
    let i2c = |kind: &ScreenKind| matches!(kind, ScreenKind::Oled(oled) if matches!(oled.bus, OledBus::I2c { .. }));
    let spi = |kind: &ScreenKind| matches!(kind, ScreenKind::Oled(oled) if matches!(oled.bus, OledBus::Spi { .. }));
    let frame = |kind: &ScreenKind| matches!(kind, ScreenKind::Framebuffer(_));
    let groups = [
        (true, "audio", "the sound card stays closed to it"),
        (
            foot.serial.is_some(),
            "dialout",
            "the foot board's serial line stays closed to it",
        ),
        (
            !foot.pedals.is_empty(),
            "input",
            "the pedal stays closed to it",
        ),
        (
            !foot.gpio.is_empty(),
            "gpio",
            "the pins of the switches stay closed to it",
        ),
        (screen(i2c), "i2c", "the panel's bus stays closed to it"),
        (screen(spi), "spi", "the panel's bus stays closed to it"),
        (screen(frame), "video", "the framebuffer stays closed to it"),
    ];
    let wanted = groups.into_iter().filter(|(is_wanted, ..)| *is_wanted);
    wanted
        .map(|(_, group, what_for)| Wanted { group, what_for })
        .collect()
}

/// What a daemon's status tells.
pub fn told(status: &Value) -> Told {
    let text = |value: &Value| value.as_str().map(str::to_string);
    let device = |device: &Value| {
        let is_missing = device["state"] != "present";
        is_missing.then(|| {
            (
                text(&device["name"]).unwrap_or_default(),
                text(&device["last_error"]),
            )
        })
    };
    let devices = status["devices"].as_array().into_iter().flatten();
    let counters = status["counters"].as_object().into_iter().flatten();
    Told {
        jack: text(&status["jack"]["state"]).unwrap_or_default(),
        xruns: status["jack"]["xruns"].as_u64().unwrap_or(0),
        missing: devices.filter_map(device).collect(),
        counters: counters
            .filter_map(|(name, count)| Some((name.clone(), count.as_u64()?)))
            .collect(),
    }
}
