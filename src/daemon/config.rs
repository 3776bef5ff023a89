//! The configuration: what the box is, as against what is played on it.
//!
//! What a file does not say is built in ([`Config::default`]); flags and environment lie over the file
//! ([`Overlay`]). `configs/underfoot.toml` explains every key, and a test holds the two together.

mod audio;
mod clock;
mod display;
mod foot;
mod hearing;
mod overlay;
mod pattern;

pub use audio::{Audio, CueTo, Levels, PORTS};
pub use clock::Clock;
pub use display::{Display, Screen, ScreenKind};
pub use foot::{
    Foot, GpioSwitch, LampAt, LampPlace, MidiBinding, MidiControl, PedalKey, Protocol, Serial,
};
pub use hearing::{Ear, Judging};
pub use overlay::{Directories, Overlay, config_places};

use crate::chart::habits;
use crate::drill::Names;
use crate::fault::{Faults, Reader, Source, TableView};
use crate::fretboard::{Neck, Tuning};
use crate::harmony::Habits;
use crate::practice::Spoken;
use crate::speech::spoken::Language;
use std::path::{Path, PathBuf};

/// Everything that the configuration decides.
#[derive(Debug, Clone, PartialEq)]
pub struct Config {
    /// The charts; the first is played at the start, "next chart" goes through them. May be empty.
    pub charts: Vec<PathBuf>,
    /// The drill; `None`: no targets, the tune is just played.
    pub drill: Option<PathBuf>,
    /// Chooses where the band has a choice.
    pub seed: u64,
    /// The audio client.
    pub audio: Audio,
    /// Levels at the first start.
    pub levels: Levels,
    /// Which clock counts.
    pub clock: Clock,
    /// Switches and what they mean.
    pub foot: Foot,
    /// The instrument; how its neck is seen is in `display` ([`Config::neck`] puts both together).
    pub instrument: Neck,
    /// Screens.
    pub display: Display,
    /// The voice.
    pub speech: Speech,
    /// How practising goes.
    pub practice: Practice,
    /// What listens.
    pub ear: Ear,
    /// When a note is right.
    pub judging: Judging,
    /// Where good teachers differ on the notes of a chord.
    pub harmony: Habits,
    /// Where things are kept.
    pub paths: Paths,
    /// What is allowed but has a catch, for `check` and the log.
    pub cautions: Vec<String>,
}

/// The voice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Speech {
    /// Whether there is one.
    pub engine: SpeechEngine,
    /// The engine's voice.
    pub voice: String,
    /// Words a minute, 80 to 450.
    pub rate_wpm: u32,
    /// What is said at all.
    pub when: Spoken,
}

/// What renders the phrases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpeechEngine {
    /// The program `espeak-ng`.
    EspeakNg,
    /// No voice.
    None,
}

/// How practising goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Practice {
    /// The tempo at the start, in per cent of the chart's: 20 to 200.
    pub tempo_per_cent: f64,
    /// By how much "tempo up" and "tempo down" change it, in quarters a minute: 1 to 40.
    pub tempo_step_qpm: f64,
    /// After how much playing the page suggests to rest the hands, in minutes: 0 (never) to 180.
    pub rest_after_min: u32,
}

/// Where things are kept; what is `None` is found by [`Directories`].
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Paths {
    /// What comes back at the next start.
    pub state_dir: Option<PathBuf>,
    /// Rendered phrases.
    pub cache_dir: Option<PathBuf>,
    /// The socket of `status`.
    pub socket: Option<PathBuf>,
}

impl Default for Config {
    fn default() -> Config {
        Config {
            charts: Vec::new(),
            drill: None,
            seed: 1,
            audio: Audio::default(),
            levels: Levels::default(),
            clock: Clock::default(),
            foot: Foot::default(),
            instrument: Neck::default(),
            display: Display {
                names: Names::English,
                left_handed: false,
                screens: Vec::new(),
            },
            speech: Speech {
                engine: SpeechEngine::EspeakNg,
                voice: "en".to_string(),
                rate_wpm: 175,
                when: Spoken::Drill,
            },
            practice: Practice {
                tempo_per_cent: 100.0,
                tempo_step_qpm: 4.0,
                rest_after_min: 25,
            },
            ear: Ear::default(),
            judging: Judging::default(),
            harmony: Habits::default(),
            paths: Paths::default(),
            cautions: Vec::new(),
        }
    }
}

impl Config {
    /// Reads a configuration file.
    ///
    /// # Errors
    /// All faults, with their places.
    pub fn read(source: &Source<'_>) -> Result<Config, Faults> {
        let reader = Reader::new(source);
        let config = read_with(&reader);
        reader.conclude(Some(config))
    }

    /// The neck as the player sees it.
    pub fn neck(&self) -> Neck {
        Neck {
            left_handed: self.display.left_handed,
            ..self.instrument.clone()
        }
    }

    /// Makes every relative path count from `dir`, the directory of the configuration file.
    pub fn rebase(&mut self, dir: &Path) {
        let rebase = |path: &mut PathBuf| *path = dir.join(&*path);
        self.charts.iter_mut().for_each(rebase);
        self.drill.iter_mut().for_each(rebase);
        self.audio.soundfont.iter_mut().for_each(rebase);
        let Paths {
            state_dir,
            cache_dir,
            socket,
        } = &mut self.paths;
        state_dir.iter_mut().for_each(rebase);
        cache_dir.iter_mut().for_each(rebase);
        socket.iter_mut().for_each(rebase);
        for screen in &mut self.display.screens {
            if let ScreenKind::Png(path) = &mut screen.kind {
                rebase(path);
            }
        }
    }
}

/// Reads all tables; faults go to the reader.
fn read_with(reader: &Reader<'_>) -> Config {
    let table = reader.parse();
    let view = TableView::new(reader, table.get_ref(), 0..0);
    let usual = Config::default();
    let charts = view.strings("charts").map(|list| {
        let paths = list.iter().filter_map(|text| {
            if text.value.is_empty() {
                reader.fault(text.span.start, "a chart must be a path, not empty");
            }
            (!text.value.is_empty()).then(|| PathBuf::from(text.value))
        });
        paths.collect()
    });
    let (foot, mut cautions) = foot::read(reader, view.table("foot"));
    let mut config = Config {
        charts: charts.unwrap_or(usual.charts),
        drill: path(&view, "drill"),
        seed: view
            .integer("seed", 0..=i64::from(u32::MAX), "")
            .map_or(usual.seed, |seed| seed as u64),
        audio: audio::read(view.table("audio")),
        levels: audio::read_levels(view.table("levels")),
        clock: clock::read(view.table("clock")),
        foot,
        instrument: read_neck(reader, view.table("neck")),
        display: display::read(reader, view.table("display"), usual.display),
        speech: read_speech(view.table("speech"), usual.speech),
        practice: read_practice(view.table("practice"), usual.practice),
        ear: hearing::read_ear(view.table("ear")),
        judging: hearing::read_judging(view.table("judging")),
        harmony: habits(view.table("harmony")),
        paths: read_paths(view.table("paths")),
        cautions: Vec::new(),
    };
    cautions.extend(unsayable(&config));
    config.cautions = cautions;
    view.finish();
    config
}

/// Names of notes that the voice reads as words of its own language.
fn unsayable(config: &Config) -> Option<String> {
    let (speech, names) = (&config.speech, config.display.names);
    let english = Language::of_voice(&speech.voice) == Language::English;
    let spoken = speech.engine != SpeechEngine::None;
    (names == Names::German && english && spoken).then(|| {
        format!(
            "German names of notes with the voice \"{}\", which reads them as English words: voice = \"de\" in [speech]",
            speech.voice
        )
    })
}

/// A path; empty is none.
fn path(view: &TableView<'_, '_>, key: &'static str) -> Option<PathBuf> {
    let text = view.string(key)?;
    (!text.value.is_empty()).then(|| PathBuf::from(text.value))
}

fn read_neck(reader: &Reader<'_>, view: Option<TableView<'_, '_>>) -> Neck {
    let usual = Neck::default();
    let Some(view) = view else {
        return usual;
    };
    let tuning = view.strings("tuning").and_then(|strings| {
        let read = Tuning::read(strings.iter().map(|text| text.value));
        read.map_err(|error| reader.fault(view.offset("tuning"), error.to_string()))
            .ok()
    });
    let neck = Neck {
        tuning: tuning.unwrap_or(usual.tuning),
        capo: view
            .integer("capo", 0..=12, "frets")
            .map_or(usual.capo, |fret| fret as u8),
        frets: view
            .integer("frets", 12..=36, "frets")
            .map_or(usual.frets, |frets| frets as u8),
        left_handed: false,
    };
    view.finish();
    neck
}

fn read_speech(view: Option<TableView<'_, '_>>, usual: Speech) -> Speech {
    let Some(view) = view else {
        return usual;
    };
    let engines = [
        ("espeak-ng", SpeechEngine::EspeakNg),
        ("none", SpeechEngine::None),
    ];
    let when = [
        ("drill", Spoken::Drill),
        ("sections", Spoken::Sections),
        ("asked", Spoken::Asked),
    ];
    let speech = Speech {
        engine: view.one_of("engine", &engines).unwrap_or(usual.engine),
        voice: view
            .string("voice")
            .map_or(usual.voice, |text| text.value.to_string()),
        rate_wpm: view
            .integer("rate_wpm", 80..=450, "words a minute")
            .map_or(usual.rate_wpm, |rate| rate as u32),
        when: view.one_of("when", &when).unwrap_or(usual.when),
    };
    view.finish();
    speech
}

fn read_practice(view: Option<TableView<'_, '_>>, usual: Practice) -> Practice {
    let Some(view) = view else {
        return usual;
    };
    let practice = Practice {
        tempo_per_cent: view
            .number("tempo_per_cent", 20.0..=200.0, "per cent")
            .unwrap_or(usual.tempo_per_cent),
        tempo_step_qpm: view
            .number("tempo_step_qpm", 1.0..=40.0, "quarters a minute")
            .unwrap_or(usual.tempo_step_qpm),
        rest_after_min: view
            .integer("rest_after_min", 0..=180, "minutes")
            .map_or(usual.rest_after_min, |minutes| minutes as u32),
    };
    view.finish();
    practice
}

fn read_paths(view: Option<TableView<'_, '_>>) -> Paths {
    let Some(view) = view else {
        return Paths::default();
    };
    let paths = Paths {
        state_dir: path(&view, "state_dir"),
        cache_dir: path(&view, "cache_dir"),
        socket: path(&view, "socket"),
    };
    view.finish();
    paths
}

#[cfg(test)]
mod tests {
    use super::*;

    const MANUAL: &str = include_str!("../../configs/underfoot.toml");

    /// A configuration with every table in it, so that every key is asked for.
    const ALL_TABLES: &str = "[audio.connect]\n[levels]\n[clock]\n[foot.serial]\nport = \"/dev/x\"\n\
        [[foot.switch]]\nnumber = 1\n[[foot.midi]]\nswitch = 1\ncontrol = \"note 1\"\n\
        [[foot.pedal]]\nswitch = 1\ndevice = \"x\"\nkey = \"KEY_A\"\n[[foot.gpio]]\nswitch = 1\nline = \"x\"\n\
        [[foot.lamp]]\nshows = \"beat\"\nline = \"x\"\n\
        [foot.map.menu]\n[foot.map.playing]\n[foot.map.stopped]\n[foot.map.counting_in]\n\
        [[display.screen]]\nkind = \"png\"\ndir = \"pages\"\n[neck]\n[speech]\n[practice]\n[ear]\n[judging]\n[harmony]\n[paths]\n";

    #[test]
    fn a_teacher_s_habits_are_read() {
        use crate::harmony::{AfterHalfDiminished, DominantToMinor, MinorTonic, ThreeChord};
        let text = "[harmony]\nflat_nine_to_two = true\nflat_nine_after_half_diminished = \"never\"\nthree_chord = \"Aeolian\"\n\
            minor_tonic = \"signature\"\ndominant_to_minor = \"altered\"\n";
        let config = Config::read(&Source { name: "x", text }).unwrap();
        let expected = Habits {
            flat_nine_to_two: true,
            flat_nine_after_half_diminished: AfterHalfDiminished::Never,
            three_chord: ThreeChord::Aeolian,
            minor_tonic: MinorTonic::Signature,
            dominant_to_minor: DominantToMinor::Altered,
        };
        assert_eq!(config.harmony, expected);
    }

    #[test]
    fn the_manual_explains_every_key_there_is() {
        let source = Source {
            name: "all.toml",
            text: ALL_TABLES,
        };
        let reader = Reader::new(&source);
        read_with(&reader);
        assert!(!reader.has_faults());
        for key in reader.asked() {
            let explained = MANUAL.lines().any(|line| {
                let line = line.trim_start_matches(['#', ':', ' ', '[']);
                let rest = line
                    .trim_start_matches("audio.")
                    .trim_start_matches("foot.");
                let rest = rest
                    .trim_start_matches("map.")
                    .trim_start_matches("display.");
                rest.strip_prefix(key)
                    .is_some_and(|rest| rest.starts_with(" = ") || rest.starts_with(']'))
            });
            // The gestures of a state ("1 tap") are explained as a kind, not one by one.
            let is_gesture = key.starts_with(|first: char| first.is_ascii_digit());
            assert!(explained || is_gesture, "no word about \"{key}\"");
        }
    }
}
