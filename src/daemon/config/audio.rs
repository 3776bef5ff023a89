//! The tables `[audio]` and `[levels]`.

use super::pattern;
use crate::audio::{Level, SoundStyle};
use crate::fault::TableView;
use crate::fault::settings::{flag, number, number_f32, path, set, settings, table, word};
use crate::time::Part;
use std::path::PathBuf;

/// The ports of the client, in the order in which they are made. They never change: other programs' saved
/// connections hang on them.
pub const PORTS: [&str; 6] = ["out_l", "out_r", "cue", "guitar_in", "midi_in", "midi_out"];

settings! {
    /// The audio client.
    #[derive(Debug, Clone, PartialEq)]
    pub struct Audio {
        /// The client's name: 1 to 63 bytes, no colon.
        client: String = "underfoot".to_string(), client;
        /// Whether ports that `connect` does not name are connected to the card.
        autoconnect: bool = true, word([("physical", true), ("none", false)]);
        /// Patterns (POSIX extended regular expressions, matched by the server) of what each port of [`PORTS`] is
        /// connected to; empty: not named.
        connect: [Vec<String>; PORTS.len()] = Default::default(), table(connect);
        /// The SoundFont; `None`: the first that is found at the usual places.
        soundfont: Option<PathBuf> = None, path;
        /// What the band plays on, where it stands, how much room each part has.
        sound: SoundStyle = SoundStyle::ElectricPiano, word(SoundStyle::ALL);
        /// Whether the synth adds room.
        reverb: bool = true, flag;
        /// Whether the synth adds chorus.
        chorus: bool = false, flag;
        /// The pitch of A4 in Hz.
        a4_hz: f64 = 440.0, number(400.0..=480.0, "Hz");
        cue_to: CueTo = CueTo::Auto,
            word([("auto", CueTo::Auto), ("outputs", CueTo::Outputs), ("cue", CueTo::Cue)]);
        /// Added to the latency that the server tells, in ms. More means everything sounds earlier.
        latency_ms: f64 = 0.0, number(-100.0..=100.0, "ms");
    }
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

settings! {
    /// Levels in dB; at or below -90 is silence.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Levels {
        /// The band's outputs.
        master_db as "master": f32 = -12.0, number_f32(-90.0..=0.0, "dB");
        /// The cue output.
        cue_db as "cue": f32 = -12.0, number_f32(-90.0..=0.0, "dB");
        /// Each part by its name, in the order of [`Part::ALL`].
        parts_db: [f32; Part::ALL.len()] = PARTS_DB, parts;
        /// By how much "louder" and "softer" change the master.
        step_db as "step": f32 = 2.0, number_f32(0.5..=6.0, "dB");
    }
}

/// Each part's level, in the order of [`Part::ALL`]: the balance is metered, so that nothing has to be made up for.
const PARTS_DB: [f32; Part::ALL.len()] = [0.0; Part::ALL.len()];

fn parts(view: &TableView<'_, '_>, _: &'static str) -> Option<[f32; Part::ALL.len()]> {
    let mut parts_db = PARTS_DB;
    for (level, part) in parts_db.iter_mut().zip(Part::ALL) {
        set(level, view, part.name(), number_f32(-90.0..=6.0, "dB"));
    }
    Some(parts_db)
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

/// A name that the server would cut or refuse is a fault here (jack.h: `jack_client_name_size` is 64 with the
/// closing zero; a colon parts client and port).
fn client(view: &TableView<'_, '_>, key: &'static str) -> Option<String> {
    let text = view.string(key)?;
    if !(1..=63).contains(&text.value.len()) || text.value.contains([':', '\0']) {
        let rule = "client must have 1 to 63 bytes and no colon (JACK's rule for names)";
        view.reader.fault(text.span.start, rule);
        return None;
    }
    Some(text.value.to_string())
}

fn connect(_: [Vec<String>; PORTS.len()], view: &TableView<'_, '_>) -> [Vec<String>; PORTS.len()] {
    PORTS.map(|port| {
        let texts = view.strings(port).unwrap_or_default();
        let patterns = texts.iter().map(|text| {
            if text.value.is_empty() || text.value.contains('\0') {
                let rule =
                    format!("{port}: a pattern must not be empty (it would match every port)");
                view.reader.fault(text.span.start, rule);
            } else if let Some(what) = pattern::fault(text.value) {
                let rule = format!("{port}: \"{}\" is no pattern: {what}", text.value);
                view.reader.fault(text.span.start, rule);
            }
            text.value.to_string()
        });
        patterns.collect()
    })
}
