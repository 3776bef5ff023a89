//! Which of the band's parts a SoundFont really has a sound for. A valid file may be silent: no samples, none but zeros, or
//! no preset that a part asks for.

use super::seats::BAND_PARTS;
use super::synth::Band;
use crate::synth::{FontError, PresetSound, SoundFont};
use crate::time::Part;

/// What a part sounds with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartSound {
    /// The preset that it asks for.
    Own,
    /// Another one: it is not there.
    Other,
    /// Nothing.
    None,
}

/// What each part of the band sounds with.
///
/// # Errors
/// As [`Band::sounds`].
pub fn part_sounds(
    font: &SoundFont,
    band: &Band,
) -> Result<[(Part, PartSound); BAND_PARTS.len()], FontError> {
    let sounds = band.sounds(font)?;
    Ok(BAND_PARTS.map(|part| {
        let keys = match part {
            Part::Bass => 28..=60,
            Part::Melody => 55..=96,
            Part::Drums => 35..=59,
            _ => 48..=84,
        };
        let wanted = band.preset(part);
        let is_own = font.stand_in(wanted) == Some(wanted);
        let sound = match (sounds.sound_of(wanted, &keys), is_own) {
            (PresetSound::Silence, _) => PartSound::None,
            (PresetSound::Sound, true) => PartSound::Own,
            (PresetSound::Sound, false) => PartSound::Other,
        };
        (part, sound)
    }))
}
