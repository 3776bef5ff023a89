//! The tables `[audio]` and `[levels]`.

use super::{path, pattern};
use crate::audio::Level;
use crate::fault::TableView;
use crate::time::Part;
use std::path::PathBuf;

/// The ports of the client, in the order in which they are made. They never change: other programs' saved
/// connections hang on them.
pub const PORTS: [&str; 6] = ["out_l", "out_r", "cue", "guitar_in", "midi_in", "midi_out"];

/// The audio client.
#[derive(Debug, Clone, PartialEq)]
pub struct Audio {
    /// The client's name: 1 to 63 bytes, no colon.
    pub client: String,
    /// Whether ports that `connect` does not name are connected to the card.
    pub autoconnect: bool,
    /// Patterns (POSIX extended regular expressions, matched by the server) of what each port of [`PORTS`] is
    /// connected to; empty: not named.
    pub connect: [Vec<String>; PORTS.len()],
    /// The SoundFont; `None`: the first that is found at the usual places.
    pub soundfont: Option<PathBuf>,
    /// Whether the synth adds room.
    pub reverb: bool,
    /// Whether the synth adds chorus.
    pub chorus: bool,
    /// The pitch of A4 in Hz: 400 to 480.
    pub a4_hz: f64,
    /// Where cues sound.
    pub cue_to: CueTo,
    /// Added to the latency that the server tells, in ms: -100 to 100. More means everything sounds earlier.
    pub latency_ms: f64,
}

/// Where cues (speech and model tones) sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CueTo {
    /// On the port `cue`, and in the outputs too where the card has no third output for it.
    Auto,
    /// On the port `cue` and in the outputs.
    Outputs,
    /// On the port `cue` alone.
    Cue,
}

impl Default for Audio {
    fn default() -> Audio {
        Audio {
            client: "underfoot".to_string(),
            autoconnect: true,
            connect: Default::default(),
            soundfont: None,
            reverb: true,
            chorus: false,
            a4_hz: 440.0,
            cue_to: CueTo::Auto,
            latency_ms: 0.0,
        }
    }
}

/// Levels in dB; at or below -90 is silence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels {
    /// The band's outputs: -90 to 0.
    pub master_db: f32,
    /// The cue output: -90 to 0.
    pub cue_db: f32,
    /// Each part, in the order of [`Part::ALL`]: -90 to 6.
    pub parts_db: [f32; Part::ALL.len()],
    /// By how much "louder" and "softer" change the master: 0.5 to 6.
    pub step_db: f32,
}

impl Default for Levels {
    fn default() -> Levels {
        Levels {
            master_db: -12.0,
            cue_db: -12.0,
            parts_db: [0.0, 0.0, -6.0, 0.0, -3.0, 0.0],
            step_db: 2.0,
        }
    }
}

impl Levels {
    /// Every level with its value.
    pub fn all(&self) -> impl Iterator<Item = (Level, f32)> + '_ {
        let parts = Part::ALL.into_iter().zip(self.parts_db);
        [(Level::Master, self.master_db), (Level::Cue, self.cue_db)]
            .into_iter()
            .chain(parts.map(|(part, db)| (Level::Part(part), db)))
    }
}

pub(super) fn read(view: Option<TableView<'_, '_>>) -> Audio {
    let usual = Audio::default();
    let Some(view) = view else {
        return usual;
    };
    let cue_to = [
        ("auto", CueTo::Auto),
        ("outputs", CueTo::Outputs),
        ("cue", CueTo::Cue),
    ];
    let audio = Audio {
        client: read_client(&view).unwrap_or(usual.client),
        autoconnect: view
            .one_of("autoconnect", &[("physical", true), ("none", false)])
            .unwrap_or(usual.autoconnect),
        connect: view
            .table("connect")
            .map_or(usual.connect, |view| read_connect(&view)),
        soundfont: path(&view, "soundfont"),
        reverb: view.boolean("reverb").unwrap_or(usual.reverb),
        chorus: view.boolean("chorus").unwrap_or(usual.chorus),
        a4_hz: view
            .number("a4_hz", 400.0..=480.0, "Hz")
            .unwrap_or(usual.a4_hz),
        cue_to: view.one_of("cue_to", &cue_to).unwrap_or(usual.cue_to),
        latency_ms: view
            .number("latency_ms", -100.0..=100.0, "ms")
            .unwrap_or(usual.latency_ms),
    };
    view.finish();
    audio
}

/// A name that the server would cut or refuse is a fault here (jack.h: `jack_client_name_size` is 64 with the
/// closing zero; a colon parts client and port).
fn read_client(view: &TableView<'_, '_>) -> Option<String> {
    let text = view.string("client")?;
    if !(1..=63).contains(&text.value.len()) || text.value.contains([':', '\0']) {
        let rule = "client must have 1 to 63 bytes and no colon (JACK's rule for names)";
        view.reader.fault(text.span.start, rule);
        return None;
    }
    Some(text.value.to_string())
}

fn read_connect(view: &TableView<'_, '_>) -> [Vec<String>; PORTS.len()] {
    let patterns = PORTS.map(|port| {
        let texts = view.strings(port).unwrap_or_default();
        let patterns = texts.iter().map(|text| {
            if text.value.is_empty() || text.value.contains('\0') {
                let rule =
                    format!("{port}: a pattern must not be empty (it would match every port)");
                view.reader.fault(text.span.start, rule);
            } else if let Some(what) = pattern::broken(text.value) {
                let rule = format!("{port}: \"{}\" is no pattern: {what}", text.value);
                view.reader.fault(text.span.start, rule);
            }
            text.value.to_string()
        });
        patterns.collect()
    });
    view.finish();
    patterns
}

pub(super) fn read_levels(view: Option<TableView<'_, '_>>) -> Levels {
    let usual = Levels::default();
    let Some(view) = view else {
        return usual;
    };
    let db = |key, high: f64, usual: f32| {
        view.number(key, -90.0..=high, "dB")
            .map_or(usual, |db| db as f32)
    };
    let mut parts_db = usual.parts_db;
    for (level, part) in parts_db.iter_mut().zip(Part::ALL) {
        *level = db(part.name(), 6.0, *level);
    }
    let levels = Levels {
        master_db: db("master", 0.0, usual.master_db),
        cue_db: db("cue", 0.0, usual.cue_db),
        parts_db,
        step_db: view
            .number("step", 0.5..=6.0, "dB")
            .map_or(usual.step_db, |db| db as f32),
    };
    view.finish();
    levels
}
