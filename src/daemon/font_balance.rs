//! The balance of a SoundFont: metered once, and kept under what the font is made of.
// It reads and writes files of its own.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::whole_file::WholeFile;
use crate::audio::{Band, Loudness, SynthError, Trims};
use crate::synth::SoundFont;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The gains of a font's sounds: from the cache, or metered now, which takes about a second.
///
/// # Errors
/// When the samples cannot be read.
pub fn trims(
    font: &Arc<SoundFont>,
    band: &Band,
    cache: Option<&Path>,
) -> Result<Trims, SynthError> {
    let sounds = band.sounds(font)?;
    let place = cache.map(|cache| place(cache, sounds.fingerprint()));
    if let Some(known) = place.as_deref().and_then(kept) {
        return Ok(known.trims());
    }
    let metered = Loudness::of(font, band)?;
    if let Some(place) = &place
        && let Err(error) = keep(place, &metered)
    {
        log::warn!(
            "{}: the balance is metered anew at each start ({error})",
            place.display()
        );
    }
    Ok(metered.trims())
}

fn place(cache: &Path, fingerprint: u64) -> PathBuf {
    let name = format!("{fingerprint:016x}-{}.json", Loudness::VERSION);
    cache.join("balance").join(name)
}

/// What was metered before, if it is whole.
fn kept(place: &Path) -> Option<Loudness> {
    let text = std::fs::read_to_string(place).ok()?;
    let loudness: Loudness = serde_json::from_str(&text).ok()?;
    loudness.is_whole().then_some(loudness)
}

fn keep(place: &Path, loudness: &Loudness) -> std::io::Result<()> {
    if let Some(dir) = place.parent() {
        std::fs::create_dir_all(dir)?;
    }
    WholeFile::write_unsynced(place, serde_json::to_string(loudness)?.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::soundfont;

    #[test]
    fn what_was_metered_is_kept_and_what_is_cut_short_is_metered_anew() {
        let Some(path) = soundfont::find() else {
            return eprintln!("SKIPPED: no SoundFont");
        };
        let font = soundfont::load(&path, 1 << 30).unwrap();
        let band = Band::default();
        let dir = tempfile::tempdir().unwrap();
        let first = trims(&font, &band, Some(dir.path())).unwrap();
        let files = || std::fs::read_dir(dir.path().join("balance")).unwrap();
        let file = files().next().unwrap().unwrap().path();
        let text = std::fs::read_to_string(&file).unwrap();
        assert_eq!(trims(&font, &band, Some(dir.path())).unwrap(), first);
        assert_eq!(files().count(), 1);
        // Where the kept file says something else, that is believed: it is not metered again.
        let louder = text.replace("[-", "[-1");
        std::fs::write(&file, louder).unwrap();
        assert_ne!(trims(&font, &band, Some(dir.path())).unwrap(), first);
        for broken in ["", "{", "{\"lufs\":[]}"] {
            std::fs::write(&file, broken).unwrap();
            assert_eq!(trims(&font, &band, Some(dir.path())).unwrap(), first);
            assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
        }
    }
}
