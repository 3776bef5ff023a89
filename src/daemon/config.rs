//! The configuration: what the box is, as against what is played on it.
//!
//! What a file does not say is built in ([`Config::default`]); flags and environment lie over the file
//! ([`Overlay`]). `configs/underfoot.toml` explains every key, and a test holds the two together.

mod audio;
mod clock;
mod display;
mod foot;
mod hearing;
mod journal;
mod overlay;
mod pattern;
mod sockets;

pub use audio::{Audio, CueTo, Levels, PORTS};
pub use clock::Clock;
pub use display::{Display, Screen, ScreenKind};
pub use foot::{Foot, LampAt, LampPlace, PedalKey};
pub use hearing::{Ear, Judging};
pub use journal::{Journal, player_name};
pub use overlay::{Directories, Overlay, Paths, config_places};
pub use sockets::{machine_socket, socket_places};

use crate::chart::habits;
use crate::device::folders::Wanted;
use crate::drill::Names;
use crate::fault::settings::{flag, number, path, set, settings, table, text, whole, word};
use crate::fault::{Faults, Reader, Source, TableView};
use crate::fretboard::{Neck, Tuning};
use crate::harmony::Habits;
use crate::practice::Spoken;
use crate::speech::spoken::Language;
use std::path::{Path, PathBuf};

settings! {
    /// Everything that the configuration decides.
    #[derive(Debug, Clone, PartialEq)]
    pub struct Config {
        /// The charts; the first is played at the start, "next chart" goes through them. May be empty.
        charts: Vec<PathBuf> = Vec::new(), |view, key| paths_of(view, key, "a chart");
        /// Folders whose charts come after those, whatever is put there while the daemon runs.
        chart_folders: Vec<PathBuf> = Vec::new(), |view, key| paths_of(view, key, "a folder");
        /// A set list, whose tunes are played instead of the charts.
        set: Option<PathBuf> = None, path;
        /// The drill; `None`: no targets, the tune is just played.
        drill: Option<PathBuf> = None, path;
        /// Chooses where the band has a choice.
        seed: u64 = 1, whole(0..=i64::from(u32::MAX), "");
        audio: Audio = Audio::default(), table(Audio::over);
        /// Levels at the first start.
        levels: Levels = Levels::default(), table(Levels::over);
        clock: Clock = Clock::default(), table(clock::read);
        /// Switches and what they mean.
        foot: Foot = Foot::default(), table(|_, view| foot::read(view));
        /// The instrument; how its neck is seen is in `display` ([`Config::neck`] puts both together).
        instrument as "neck": Neck = Neck::default(), table(neck);
        display: Display = Display::default(), table(Display::over);
        speech: Speech = Speech::default(), table(Speech::over);
        practice: Practice = Practice::default(), table(Practice::over);
        ear: Ear = Ear::default(), table(Ear::over);
        /// When a note is right.
        judging: Judging = Judging::default(), table(Judging::over);
        /// What is kept of the practice.
        journal: Journal = Journal::default(), table(Journal::over);
        /// Where good teachers differ on the notes of a chord.
        harmony: Habits = Habits::default(), |view, key| Some(habits(view.table(key)));
        /// Where things are kept.
        paths: Paths = Paths::default(), table(Paths::over);
    }
}

settings! {
    /// The voice.
    #[derive(Debug, Clone, PartialEq, Eq)]
    pub struct Speech {
        /// Whether there is one.
        engine: SpeechEngine = SpeechEngine::EspeakNg,
            word([("espeak-ng", SpeechEngine::EspeakNg), ("none", SpeechEngine::None)]);
        voice: String = "en".to_string(), text;
        rate_wpm: u32 = 175, whole(80..=450, "words a minute");
        /// What is said at all.
        when: Spoken = Spoken::Drill,
            word([("drill", Spoken::Drill), ("sections", Spoken::Sections), ("asked", Spoken::Asked)]);
    }
}

/// What renders the phrases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpeechEngine {
    /// The program `espeak-ng`.
    EspeakNg,
    None,
}

settings! {
    /// How practising goes.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Practice {
        /// The tempo at the start, in per cent of the chart's.
        tempo_per_cent: f64 = 100.0, number(20.0..=200.0, "per cent");
        /// By how much "tempo up" and "tempo down" change it, in quarters a minute.
        tempo_step_qpm: f64 = 4.0, number(1.0..=40.0, "quarters a minute");
        /// How much of people's time feel the band has: 0 is the grid itself.
        feel_amount: f64 = 1.0, number(0.0..=1.0, "of 1");
        /// Whether the first take after a start is quieter.
        quiet_start: bool = true, flag;
        /// After how much playing the page suggests to rest the hands, in minutes; 0: never.
        rest_after_min: u32 = 25, whole(0..=180, "minutes");
    }
}

impl Config {
    /// Reads a configuration file.
    ///
    /// # Errors
    /// All faults, with their places.
    pub fn read(source: &Source<'_>) -> Result<Config, Faults> {
        Reader::new(source).read(|view| Some(Config::default().over(view)))
    }

    /// What is allowed but has a catch, for `check` and the log.
    pub fn cautions(&self) -> Vec<String> {
        let mut cautions = self.foot.map.cautions(&self.foot.switches);
        cautions.extend(self.unsayable());
        cautions
    }

    /// Names of notes that the voice reads as words of its own language.
    fn unsayable(&self) -> Option<String> {
        let (speech, names) = (&self.speech, self.display.names);
        let english = Language::of_voice(&speech.voice) == Language::English;
        let spoken = speech.engine != SpeechEngine::None;
        (names == Names::German && english && spoken).then(|| {
            format!(
                "German names of notes with the voice \"{}\", which reads them as English words: voice = \"de\" in [speech]",
                speech.voice
            )
        })
    }

    /// The neck as the player sees it.
    pub fn neck(&self) -> Neck {
        Neck {
            left_handed: self.display.left_handed,
            ..self.instrument.clone()
        }
    }

    /// The files that it names and that are read anew when they change, and the folders in which they come.
    pub fn wanted(&self) -> Wanted {
        let named = self.charts.iter().chain(&self.set).chain(&self.drill);
        Wanted {
            folders: self.chart_folders.clone(),
            files: named.cloned().collect(),
            endings: &["toml"],
        }
    }

    /// Lays settings over these. Call it after [`Config::rebase`], with the environment first and the flags
    /// last: flag, environment, file, built-in.
    pub fn overlay(&mut self, over: Overlay) {
        if !over.charts.is_empty() {
            self.charts = over.charts;
            self.chart_folders.clear();
            self.set = None;
        }
        self.set = over.set.or_else(|| self.set.take());
        self.drill = over.drill.or_else(|| self.drill.take());
        self.seed = over.seed.unwrap_or(self.seed);
        let paths = &mut self.paths;
        paths.state_dir = over.state_dir.or_else(|| paths.state_dir.take());
        paths.cache_dir = over.cache_dir.or_else(|| paths.cache_dir.take());
        paths.socket = over.socket.or_else(|| paths.socket.take());
    }

    /// Makes every relative path count from `dir`, the directory of the configuration file.
    pub fn rebase(&mut self, dir: &Path) {
        let rebase = |path: &mut PathBuf| *path = dir.join(&*path);
        self.charts.iter_mut().for_each(rebase);
        self.chart_folders.iter_mut().for_each(rebase);
        self.set.iter_mut().for_each(rebase);
        self.drill.iter_mut().for_each(rebase);
        self.journal.path.iter_mut().for_each(rebase);
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

fn paths_of(view: &TableView<'_, '_>, key: &'static str, what: &str) -> Option<Vec<PathBuf>> {
    let paths = view.strings(key)?.into_iter().filter_map(|text| {
        if text.value.is_empty() {
            let rule = format!("{what} must be a path, not empty");
            view.reader.fault(text.span.start, rule);
        }
        (!text.value.is_empty()).then(|| PathBuf::from(text.value))
    });
    Some(paths.collect())
}

fn neck(mut neck: Neck, view: &TableView<'_, '_>) -> Neck {
    set(&mut neck.tuning, view, "tuning", |view, key| {
        let strings = view.strings(key)?;
        let read = Tuning::read(strings.iter().map(|text| text.value));
        read.map_err(|error| view.reader.fault(view.offset(key), error.to_string()))
            .ok()
    });
    set(&mut neck.capo, view, "capo", whole(0..=12, "frets"));
    set(&mut neck.frets, view, "frets", whole(12..=36, "frets"));
    neck
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
        [[display.screen]]\nkind = \"png\"\ndir = \"pages\"\n[neck]\n[speech]\n[practice]\n[ear]\n[judging]\n[journal]\n[harmony]\n[paths]\n";

    #[test]
    fn a_teacher_s_habits_are_read() {
        use crate::harmony::{
            AfterHalfDiminished, DominantToMinor, MinorTonic, MinorTwo, ThreeChord,
        };
        let text = "[harmony]\nflat_nine_to_two = true\nflat_nine_after_half_diminished = \"never\"\nthree_chord = \"Aeolian\"\n\
            minor_tonic = \"natural sixth\"\ndominant_to_minor = \"altered\"\nschool = \"improviser\"\n\
            flat_nine_to_four = false\nflat_nine_to_dominant = true\nflat_two_rising = false\nnatural_two_on_six = true\nminor_two = \"natural second\"\n";
        let config = Config::read(&Source { name: "x", text }).unwrap();
        let expected = Habits {
            flat_nine_to_two: true,
            flat_nine_to_four: false,
            flat_nine_to_dominant: true,
            flat_nine_after_half_diminished: AfterHalfDiminished::Never,
            flat_two_rising: false,
            natural_two_on_six: true,
            three_chord: ThreeChord::Aeolian,
            minor_two: MinorTwo::Natural,
            minor_tonic: MinorTonic::NaturalSixth,
            dominant_to_minor: DominantToMinor::Altered,
            trial: Habits::default().trial,
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
        let table = reader.parse();
        Config::default().over(&TableView::new(&reader, table.get_ref(), 0..0));
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
