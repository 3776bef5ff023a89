//! The home key of a stretch, declared or worked out.

use super::sound::{ChordSound, Neighbours};
use super::standing::standing;
use super::weights::{Tenths, Weights};
use super::{Key, KeyDeclaration, Mode, Quality};

/// Whether these chords are a blues in the key: dominants on one and four, and on most places.
pub(super) fn is_blues(key: Key, sounds: &[ChordSound]) -> bool {
    let tonic = key.tonic.class();
    let on = |degree: u8| {
        sounds
            .iter()
            .any(|s| s.quality == Quality::Dominant && (12 + s.root - tonic) % 12 == degree)
    };
    let dominants = sounds.iter().filter(|sound| sound.is_dominant()).count();
    let tonic_else = sounds
        .iter()
        .any(|s| s.root == tonic && !s.is_dominant() && s.quality != Quality::Suspended);
    key.mode == Mode::Major && on(0) && on(5) && !tonic_else && 2 * dominants >= sounds.len()
}

/// The home key of a stretch: what is declared, else what most speaks for over all chords, with the first and the last chord
/// in favour of the key whose tonic they are.
pub(super) fn home(
    declared: Option<KeyDeclaration>,
    around: &[Neighbours],
    weights: &Weights,
) -> Key {
    let modes = |fifths: i8| {
        let of = |mode| Key::of_signature(fifths, mode);
        [of(Mode::Major), of(Mode::Minor)]
    };
    let mut candidates: Vec<Key> = match declared {
        Some(KeyDeclaration::Key(key)) => return key,
        Some(KeyDeclaration::Signature(fifths)) => modes(fifths).to_vec(),
        None => (-5..=6).flat_map(modes).collect(),
    };
    let sounds: Vec<ChordSound> = around.iter().map(|place| place.chord).collect();
    // Ties fall to the key that is nearer to the first chord, never to a pitch.
    let first = sounds.first().map_or(0, |sound| sound.root);
    let order = |key: &Key| {
        (
            (12 + key.tonic.class() - first) % 12,
            key.mode == Mode::Minor,
        )
    };
    candidates.sort_by_key(order);
    let score = |key: Key| {
        let blues = is_blues(key, &sounds);
        let all: Tenths = around
            .iter()
            .map(|place| standing(key, &Neighbours { blues, ..*place }, weights))
            .sum();
        let tonic = |sound: Option<&ChordSound>, bonus: Tenths| match sound {
            Some(sound) if is_tonic(key, *sound) => bonus,
            _ => 0,
        };
        all + tonic(sounds.first(), weights.first) + tonic(sounds.last(), weights.last)
    };
    let best = |one: (Tenths, Key), other: (Tenths, Key)| if other.0 > one.0 { other } else { one };
    candidates
        .iter()
        .map(|key| (score(*key), *key))
        .reduce(best)
        .map_or(candidates[0], |(_, key)| key)
}

fn is_tonic(key: Key, sound: ChordSound) -> bool {
    sound.root == key.tonic.class()
        && match key.mode {
            Mode::Major => matches!(
                sound.quality,
                Quality::Major | Quality::Major6 | Quality::Major7 | Quality::Dominant
            ),
            Mode::Minor => sound.is_minor() && sound.quality != Quality::HalfDiminished,
        }
}
