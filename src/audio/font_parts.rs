//! Which of the band's parts a SoundFont really has a sound for. A valid file may be silent: no samples, none but zeros, or
//! no preset that a part asks for.

use super::synth::{BAND_PARTS, Band};
use crate::time::Part;
use rustysynth::{Preset, SoundFont};
use std::ops::RangeInclusive;

/// The bank of the drum kits (General MIDI 1; SoundFont 2.04 specification, section 7.2).
const DRUMS_BANK: i32 = 128;

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
pub fn part_sounds(font: &SoundFont, band: &Band) -> [(Part, PartSound); BAND_PARTS.len()] {
    BAND_PARTS.map(|part| (part, part_sound(font, band, part)))
}

fn part_sound(font: &SoundFont, band: &Band, part: Part) -> PartSound {
    let (bank, patch, keys) = match part {
        Part::Bass => (0, band.bass_program, 28..=60),
        Part::Melody => (0, band.melody_program, 55..=96),
        Part::Drums => (DRUMS_BANK, 0, 35..=59),
        _ => (0, band.comping_program, 48..=84),
    };
    let id = |preset: &&Preset| (preset.get_bank_number(), preset.get_patch_number());
    let presets = font.get_presets();
    let own = presets
        .iter()
        .rfind(|preset| id(preset) == (bank, i32::from(patch)));
    // As the synthesizer does: where there is none, the first of all.
    let other = || presets.iter().min_by_key(id);
    match (own.or_else(other), own.is_some()) {
        (Some(preset), is_own) if sounds(font, preset, &keys) => match is_own {
            true => PartSound::Own,
            false => PartSound::Other,
        },
        _ => PartSound::None,
    }
}

/// Whether one of the keys has a sample that is not all silence.
fn sounds(font: &SoundFont, preset: &Preset, keys: &RangeInclusive<i32>) -> bool {
    let covers = |low: i32, high: i32| low <= *keys.end() && high >= *keys.start() && low <= high;
    let outer = preset.get_regions().iter();
    let outer = outer.filter(|one| covers(one.get_key_range_start(), one.get_key_range_end()));
    outer
        .filter_map(|one| font.get_instruments().get(one.get_instrument_id()))
        .flat_map(|instrument| instrument.get_regions())
        .filter(|one| covers(one.get_key_range_start(), one.get_key_range_end()))
        .any(|one| {
            let place = |at: i32| usize::try_from(at).unwrap_or(0);
            let stretch = place(one.get_sample_start())..place(one.get_sample_end());
            let wave = font.get_wave_data().get(stretch);
            wave.is_some_and(|wave| wave.iter().any(|sample| *sample != 0))
        })
}
