//! What is known of each input: a file in the state directory, so that the box knows a player from the first note on.
// A file of our own.
#![allow(clippy::disallowed_methods)]

use super::files;
use crate::device::{InputReport, Strings};
use crate::listen::Instrument;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The player may turn down by so much, in dB, before notes count as soft.
const TURNED_DOWN_DB: f32 = 10.0;

/// What is known of an input.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KnownInput {
    /// The middle of the notes, in dB of full scale.
    pub level_db: f32,
    /// The pauses.
    pub noise_db: Option<f32>,
    /// The mains, where they hum.
    pub hum_hz: Option<u32>,
    /// How far the instrument was from concert pitch.
    pub tuning_cents: Option<f32>,
    /// Whether a bass is plugged in.
    pub bass: bool,
}

impl KnownInput {
    /// What a sure report tells; none where nobody played.
    pub fn of(report: &InputReport) -> Option<KnownInput> {
        let level_db = report.level_db.filter(|_| report.is_sure)?;
        Some(KnownInput {
            level_db,
            noise_db: report.noise_db,
            hum_hz: report.hum.map(|hum| hum.mains_hz),
            tuning_cents: report.tuning_cents,
            bass: report.strings == Some(Strings::Bass),
        })
    }

    /// What the ear is to expect, in dB of full scale.
    pub fn expected_db(&self) -> f32 {
        self.level_db - TURNED_DOWN_DB
    }

    /// What is plugged in, where the configuration says so much: a guitar may turn out to be a bass.
    pub fn plugged_in(known: Option<&KnownInput>, configured: Instrument) -> Instrument {
        match configured {
            Instrument::Guitar if known.is_some_and(|known| known.bass) => Instrument::Bass,
            configured => configured,
        }
    }
}

/// Inputs by the names of the ports that they come from.
pub type KnownInputs = BTreeMap<String, KnownInput>;

/// Where the file stands.
pub fn path(state_dir: &Path) -> PathBuf {
    state_dir.join("inputs.json")
}

/// What was kept; nothing if there is none or it is damaged.
pub fn load(path: Option<&Path>) -> KnownInputs {
    let Some(path) = path.filter(|path| path.exists()) else {
        return KnownInputs::new();
    };
    match files::text(path).and_then(|text| parse(&text)) {
        Ok(known) => known,
        Err(error) => {
            log::warn!(
                "{}: not readable ({error}); inputs are looked at anew",
                path.display()
            );
            KnownInputs::new()
        }
    }
}

/// What a file of ours says.
///
/// # Errors
/// When it is none of ours, or damaged.
pub fn parse(text: &str) -> Result<KnownInputs, String> {
    serde_json::from_str(text).map_err(|error| error.to_string())
}

/// The file's text.
pub fn text(known: &KnownInputs) -> String {
    serde_json::to_string_pretty(known).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_known_comes_back_and_damage_is_no_error() {
        let dir = tempfile::tempdir().expect("a directory");
        let path = path(dir.path());
        assert_eq!(load(Some(&path)), KnownInputs::new());
        let bass = KnownInput {
            level_db: -20.0,
            noise_db: Some(-70.0),
            hum_hz: Some(50),
            tuning_cents: None,
            bass: true,
        };
        let known = KnownInputs::from([("system:capture_1".to_string(), bass.clone())]);
        std::fs::write(&path, text(&known)).expect("a file");
        assert_eq!(load(Some(&path)), known);
        for damage in ["", "{", "[1]", "{\"a\": 1}"] {
            std::fs::write(&path, damage).expect("a file");
            assert_eq!(load(Some(&path)), KnownInputs::new(), "{damage}");
        }
        use Instrument::{Bass, Guitar, Voice};
        for (configured, known, expected) in [
            (Guitar, None, Guitar),
            (Guitar, Some(&bass), Bass),
            (Voice, Some(&bass), Voice),
        ] {
            assert_eq!(KnownInput::plugged_in(known, configured), expected);
        }
    }
}
