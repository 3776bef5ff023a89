//! Modulators (SoundFont 2.04, sections 8.2, 8.4 and 9.5): what velocity, key and controllers add to generators.

use super::channel::Channel;
use super::curve::shaped;
use super::generator::{COUNT, id};
use super::tables::Modulator;
use std::sync::Arc;

/// The modulators of a region; most share the default ones.
pub(super) type Modulators = Arc<[Modulator]>;

/// Source, destination, amount, source of the amount (sections 8.4.1 to 8.4.10). 8.4.2, from velocity to the low-pass, is left
/// out: the standard's versions do not agree on it, what fonts are tuned on does not do it, and with it the cymbals of
/// TimGM6mb lose 6 dB at 8 kHz. A font that names it gets it.
const DEFAULTS: [(u16, usize, i16, u16); 9] = [
    (0x0502, id::ATTENUATION, 960, 0),
    (0x000D, id::VIB_LFO_TO_PITCH, 50, 0),
    (0x0081, id::VIB_LFO_TO_PITCH, 50, 0),
    (0x0587, id::ATTENUATION, 960, 0),
    // 8.4.6 says 1000: from the middle half of that leads to either side.
    (0x028A, id::PAN, 500, 0),
    (0x058B, id::ATTENUATION, 960, 0),
    (0x00DB, id::REVERB_SEND, 200, 0),
    (0x00DD, id::CHORUS_SEND, 200, 0),
    (0x020E, id::PITCH, 12_700, 0x0010),
];

/// The modulators that every region has (section 8.4).
pub(super) fn default_modulators() -> Modulators {
    let all = DEFAULTS.map(|(source, destination, amount, amount_source)| Modulator {
        source,
        destination: destination as u16,
        amount,
        amount_source,
        transform: 0,
    });
    Arc::new(all)
}

/// A note as its modulators see it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Struck {
    pub(super) key: u8,
    pub(super) velocity: u8,
}

/// Adds what the modulators come to.
pub(super) fn add(
    sums: &mut [f32; COUNT],
    modulators: &[Modulator],
    note: Struck,
    channel: &Channel,
) {
    for modulator in modulators {
        let Some(sum) = sums.get_mut(usize::from(modulator.destination)) else {
            continue;
        };
        let first = place(modulator.source, note, channel);
        let amount = place(modulator.amount_source, note, channel);
        let moved = f32::from(modulator.amount) * first * amount;
        // Section 8.3: the only other transform is the absolute value.
        *sum += if modulator.transform == 2 {
            moved.abs()
        } else {
            moved
        };
    }
}

/// Where a source stands (section 8.2.1).
fn place(source: u16, note: Struck, channel: &Channel) -> f32 {
    let index = usize::from(source & 0x7F);
    let value = match (source & 0x80 != 0, index) {
        (true, index) => channel.controllers.get(index).copied().unwrap_or(0.0),
        (false, 0) => return 1.0,
        (false, 2) => f32::from(note.velocity),
        (false, 3) => f32::from(note.key),
        (false, 13) => channel.pressure,
        (false, 14) => f32::from(channel.wheel) / 128.0,
        // In semitones: an amount of 12,700 cents is then 100 for each, as MIDI 1.0 wants it.
        (false, 16) => return channel.bend_semitones / 127.0,
        (false, _) => return 0.0,
    };
    shaped(value, source)
}
