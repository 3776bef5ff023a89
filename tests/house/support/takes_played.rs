//! Takes of `takes.rs` through the program: what is asked for, what is played, what the program says of it.

use super::program::{events, in_background, root};
use super::sound_file::write_wav;
use super::takes::{Asked, Manner, Meant, RATE, Room, anything, asked, decide, sound, sounding};
use crate::listen::ways::recorded::Recorded;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// How far the band is under the guitar, where it comes back; `UNDERFOOT_BLEED_DB` says otherwise, to see what breaks.
pub fn bleed_db() -> f32 {
    let asked = std::env::var("UNDERFOOT_BLEED_DB").ok();
    asked.map_or(15.0, |text| text.parse().expect("decibels"))
}
/// The way from the loudspeaker to the pickup, a little under three metres.
const LATE: usize = 400;

/// What is practised over which chart, and how it is played.
#[derive(Clone, Copy)]
pub struct Case {
    pub name: &'static str,
    pub chart: &'static str,
    /// Its tempo as it is written, and as it is played.
    pub written: f64,
    pub qpm: f64,
    pub seconds: f64,
    pub manner: Manner,
    /// The stage: degrees, figure, places.
    pub stage: &'static str,
}

const SINGLE: &str = "degrees = [\"1\"]\nfigure = [\"1\"]\nplaces = [\"1\"]";
const LINE: &str = "degrees = [\"1\", \"3\"]\nfigure = [\"1\", \"3\"]\nplaces = [\"1\", \"2\"]";
const SWUNG: &str = "degrees = [\"1\", \"3\", \"5\"]\nfigure = [\"1\", \"3\", \"5\", \"3\"]\nplaces = [\"1\", \"1&\", \"2\", \"2&\"]";

/// The rows, those that ask for most last.
pub const CASES: [Case; 4] = [
    Case {
        name: "single notes at 60",
        chart: "nine-lanterns",
        written: 144.0,
        qpm: 60.0,
        seconds: 75.0,
        manner: Manner::Single,
        stage: SINGLE,
    },
    Case {
        name: "single notes at 200",
        chart: "gasworks-corner",
        written: 104.0,
        qpm: 200.0,
        seconds: 45.0,
        manner: Manner::Single,
        stage: SINGLE,
    },
    Case {
        name: "legato at 100",
        chart: "ferry-at-six",
        written: 132.0,
        qpm: 100.0,
        seconds: 60.0,
        manner: Manner::Legato,
        stage: LINE,
    },
    Case {
        name: "swung eighths, legato, at 120",
        chart: "ferry-at-six",
        written: 132.0,
        qpm: 120.0,
        seconds: 60.0,
        manner: Manner::Swung,
        stage: SWUNG,
    },
];

/// How many takes of each row are asked for; in every run it is one row for the renderer and one for the server.
pub fn takes_asked() -> Option<u64> {
    let asked = std::env::var("UNDERFOOT_TAKES").ok();
    asked.map(|text| text.parse().expect("a number of takes"))
}

/// The guitar that is here, or those of the folder that `UNDERFOOT_REAL_NOTES` names.
pub fn guitars() -> Vec<Recorded> {
    let here = || root("tests/fixtures/guitar");
    let folder = std::env::var_os("UNDERFOOT_REAL_NOTES").map_or_else(here, PathBuf::from);
    let mut all = Recorded::read(&folder);
    // A bass guitar has a register of its own.
    all.retain(|guitar| guitar.source != "bass");
    all
}

/// A take as it is played.
pub struct Played {
    pub case: Case,
    pub meant: Vec<Meant>,
    pub guitar: Vec<f32>,
    /// What came before this frame is judged.
    pub until: i64,
    pub dir: tempfile::TempDir,
}

impl Played {
    pub fn new(guitar: &Recorded, case: &Case, take: u64) -> Played {
        let dir = tempfile::tempdir().expect("a directory");
        std::fs::write(dir.path().join("drill.toml"), case.drill()).expect("a file");
        let frames = (case.seconds * f64::from(RATE)) as usize;
        let log = case.rendered(dir.path(), Some(&anything(frames)));
        let judged = log.iter().filter(|line| line["kind"] == "judged");
        let until = judged
            .filter_map(|line| line["frame"].as_i64())
            .max()
            .expect("a pass that ends");
        let wanted: Vec<Asked> = asked(&log, until);
        let (low, high) = guitar.range();
        let seed = 1_000 * take + case.seconds as u64 + case.qpm as u64;
        // Two octaves where a learner plays most.
        let range = (low.max(43), high.min(74));
        let (meant, struck) = decide(&wanted, case.manner, case.qpm, range, seed);
        let guitar = sound(guitar, &struck, frames);
        Played {
            case: *case,
            meant,
            guitar,
            until,
            dir,
        }
    }

    /// The gain of the room by which the band comes back so many decibels under the guitar.
    pub fn gain(&self, under_db: f32) -> f32 {
        let path = self.dir.path().join("band.wav");
        self.case
            .render(self.dir.path(), &["--wav", path.to_str().expect("a name")]);
        let back = through(&mut Room::new(LATE, 1.0), &mono(&path));
        (sounding(&self.guitar) / sounding(&back)).sqrt() * 10f32.powf(-under_db / 20.0)
    }

    /// The log of the take, with the band in the input where it is said how far under the guitar.
    pub fn judged_offline(&self, under_db: Option<f32>) -> Vec<Value> {
        let mut input = self.guitar.clone();
        if let Some(under_db) = under_db {
            let mut room = Room::new(LATE, self.gain(under_db));
            let back = through(&mut room, &mono(&self.dir.path().join("band.wav")));
            input.iter_mut().zip(back).for_each(|(x, back)| *x += back);
        }
        self.case.rendered(self.dir.path(), Some(&input))
    }
}

/// The room that a live take is played in.
pub fn room(gain: f32) -> Room {
    Room::new(LATE, gain)
}

fn through(room: &mut Room, band: &[f32]) -> Vec<f32> {
    band.iter().map(|x| room.step(*x)).collect()
}

/// Both channels together.
fn mono(path: &Path) -> Vec<f32> {
    let mut reader = hound::WavReader::open(path).expect("a sound");
    let channels = usize::from(reader.spec().channels);
    let full = 2f32.powi(i32::from(reader.spec().bits_per_sample) - 1);
    let samples: Vec<f32> = match reader.spec().sample_format {
        hound::SampleFormat::Float => reader
            .samples::<f32>()
            .map(|s| s.expect("a sample"))
            .collect(),
        hound::SampleFormat::Int => reader
            .samples::<i32>()
            .map(|s| s.expect("a sample") as f32 / full)
            .collect(),
    };
    samples
        .chunks_exact(channels)
        .map(|frame| frame.iter().sum::<f32>() / channels as f32)
        .collect()
}

impl Case {
    /// The drill: nobody listens first, so that every pass is played.
    pub fn drill(&self) -> String {
        format!(
            "title = \"takes\"\n[[stage]]\nname = \"{}\"\n{}\n\
             help = {{ comping = \"full\", bass = true, drums = \"ride\", model = \"off\", voice = \"off\" }}\n\
             cycle = {{ listen = 0, sing = 0, play = 1, breathe_bars = 2 }}\n",
            self.name, self.stage
        )
    }

    fn render(&self, dir: &Path, more: &[&str]) {
        let mut command = in_background(dir);
        command
            .arg("render")
            .arg(root(&format!("configs/charts/{}.toml", self.chart)))
            .arg("--drill")
            .arg(dir.join("drill.toml"))
            .args([
                "--tempo",
                &self.qpm.to_string(),
                "--seconds",
                &self.seconds.to_string(),
                "--silent-voice",
            ])
            .args(more);
        assert!(command.status().expect("underfoot").success());
    }

    fn rendered(&self, dir: &Path, guitar: Option<&[f32]>) -> Vec<Value> {
        let (log, path) = (dir.join("events.jsonl"), dir.join("guitar.wav"));
        let mut more = vec!["--events", log.to_str().expect("a name")];
        if let Some(sound) = guitar {
            write_wav(&path, sound, RATE);
            more.extend(["--guitar", path.to_str().expect("a name")]);
        }
        self.render(dir, &more);
        events(&log)
    }
}
