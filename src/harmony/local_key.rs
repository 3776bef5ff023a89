//! The local key of every chord: the path through the keys that explains the whole form at the least cost.

use super::function::read;
use super::habits::Habits;
use super::sound::{ChordSound, Neighbours};
use super::{Key, KeyDeclaration, Mode, Quality};

/// Twelve tonics in two modes.
const KEYS: usize = 24;

/// What leaving the key costs, once.
const CHANGE: f32 = 1.6;
/// What coming home costs, once.
const RETURN: f32 = 0.9;
/// What a change between relatives costs.
const TO_RELATIVE: f32 = 0.6;
/// What a step on the circle of fifths adds.
const A_FIFTH: f32 = 0.1;
/// What every chord away from the declared key costs.
const AWAY: f32 = 0.25;
/// The same in the relative of the declared key.
const AWAY_IN_RELATIVE: f32 = 0.12;

/// A key by number: the tonic's pitch class, majors first.
fn index(key: Key) -> usize {
    usize::from(key.tonic.class()) + if key.mode == Mode::Minor { 12 } else { 0 }
}

/// The 24 keys, each spelled as near to the home signature as can be.
fn keys(home: Key) -> Vec<Key> {
    (0..KEYS)
        .map(|number| {
            let mode = if number < 12 {
                Mode::Major
            } else {
                Mode::Minor
            };
            let class = (number % 12) as u8;
            (-9i8..=9)
                .map(|fifths| Key::of_signature(fifths, mode))
                .filter(|key| key.tonic.class() == class)
                .min_by_key(|key| {
                    let beyond = (key.fifths().abs() - 7).max(0) * 12;
                    let far = (key.fifths() - home.fifths()).abs();
                    (far + beyond, key.fifths().abs())
                })
                .unwrap_or(home)
        })
        .collect()
}

/// Steps between two signatures on the circle of fifths, 0 to 6.
fn distance(a: Key, b: Key) -> i32 {
    let apart = (i32::from(a.fifths()) - i32::from(b.fifths())).rem_euclid(12);
    apart.min(12 - apart)
}

/// The chords of one declared stretch, silences left out, with their neighbours.
pub(super) fn neighbours(sounds: &[ChordSound]) -> Vec<Neighbours> {
    let count = sounds.len();
    let mut after = vec![None; count];
    // The place of the nearest chord of another root before each.
    let mut before: Vec<Option<usize>> = vec![None; count];
    // Twice round: the form is a loop.
    for step in 0..2 * count {
        let at = step % count;
        let last = (at + count - 1) % count;
        before[at] = if sounds[last].root == sounds[at].root {
            before[last]
        } else {
            Some(last)
        };
        let at = count - 1 - at;
        let next = (at + 1) % count;
        after[at] = if sounds[next].root == sounds[at].root {
            after[next]
        } else {
            Some(sounds[next])
        };
    }
    let led_by = |at: usize| {
        let place = before[at]?;
        let on_target = sounds[place].above(sounds[at]) == 5;
        let place = if on_target { before[place]? } else { place };
        Some(sounds[place])
    };
    (0..count)
        .map(|at| Neighbours {
            chord: sounds[at],
            before: before[at].map(|place| sounds[place]),
            led_by: led_by(at),
            before_that: before[at]
                .and_then(|place| before[place])
                .map(|place| sounds[place]),
            after: after[at],
            blues: false,
            home: false,
        })
        .collect()
}

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

/// The home key of a stretch: what is declared, else what costs least over all chords, with the first and
/// the last chord in favour of the key whose tonic they are.
pub(super) fn home(
    declared: Option<KeyDeclaration>,
    around: &[Neighbours],
    habits: &Habits,
) -> Key {
    let candidates: Vec<Key> = match declared {
        Some(KeyDeclaration::Key(key)) => return key,
        Some(KeyDeclaration::Signature(fifths)) => vec![
            Key::of_signature(fifths, Mode::Major),
            Key::of_signature(fifths, Mode::Minor),
        ],
        None => (-5..=6)
            .flat_map(|fifths| {
                [
                    Key::of_signature(fifths, Mode::Major),
                    Key::of_signature(fifths, Mode::Minor),
                ]
            })
            .collect(),
    };
    let sounds: Vec<ChordSound> = around.iter().map(|place| place.chord).collect();
    let cost = |key: &Key| {
        let blues = is_blues(*key, &sounds);
        let all: f32 = around
            .iter()
            .map(|place| read(*key, &Neighbours { blues, ..*place }, habits).cost)
            .sum();
        let tonic = |sound: Option<&ChordSound>, bonus: f32| match sound {
            Some(sound) if is_tonic(*key, *sound) => bonus,
            _ => 0.0,
        };
        all - tonic(sounds.first(), 0.8) - tonic(sounds.last(), 1.2)
    };
    candidates
        .iter()
        .map(|key| (cost(key), key))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(candidates[0], |(_, key)| *key)
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

/// The cheapest path of local keys through a stretch. Time and space are linear in the number of chords.
pub(super) fn path(home: Key, around: &[Neighbours], habits: &Habits) -> Vec<Key> {
    let keys = keys(home);
    let blues = is_blues(home, &around.iter().map(|p| p.chord).collect::<Vec<_>>());
    let home_at = index(home);
    let relative = index(home.relative());
    let change = changes(&keys, home_at);
    let stay = |key: usize| match key {
        _ if key == home_at => 0.0,
        _ if key == relative => AWAY_IN_RELATIVE,
        _ => AWAY,
    };
    let mut cost: Vec<f32> = (0..KEYS).map(|key| change[home_at][key]).collect();
    let mut came_from: Vec<[u8; KEYS]> = Vec::with_capacity(around.len());
    for place in around {
        let mut next = [0.0f32; KEYS];
        let mut from = [0u8; KEYS];
        for key in 0..KEYS {
            let (best, at) = (0..KEYS)
                .map(|last| (cost[last] + change[last][key], last))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap_or((0.0, key));
            let blues = blues && key == home_at;
            next[key] =
                best + stay(key) + read(keys[key], &Neighbours { blues, ..*place }, habits).cost;
            from[key] = at as u8;
        }
        // Only differences count; kept small so that long forms lose no precision.
        let least = next.iter().copied().fold(f32::INFINITY, f32::min);
        cost = next.map(|cost| cost - least).to_vec();
        came_from.push(from);
    }
    let mut key = (0..KEYS)
        .min_by(|a, b| {
            let end = |key: usize| cost[key] + change[key][home_at];
            end(*a).total_cmp(&end(*b))
        })
        .unwrap_or(home_at);
    let mut out = vec![home; around.len()];
    for (at, from) in came_from.iter().enumerate().rev() {
        out[at] = keys[key];
        key = usize::from(from[key]);
    }
    out
}

/// What each change of key costs.
fn changes(keys: &[Key], home: usize) -> Vec<[f32; KEYS]> {
    (0..KEYS)
        .map(|from| {
            std::array::from_fn(|to| {
                let apart = distance(keys[from], keys[to]);
                match () {
                    () if from == to => 0.0,
                    () if apart == 0 => TO_RELATIVE,
                    () if to == home => RETURN,
                    () => CHANGE + A_FIFTH * apart as f32,
                }
            })
        })
        .collect()
}
