//! Walking the keys: in which key a tune comes the next time.

use crate::fault::TableView;
use crate::harmony::{Key, Pitch};

/// How the keys go on from time to time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum KeyWalk {
    /// The chart's key always.
    #[default]
    Stay,
    /// A fourth up each time, through all twelve keys.
    Fourths,
    /// A semitone up each time, through all twelve keys.
    Semitones,
    /// All twelve keys before any comes twice, another order each time round; the chart's own comes first.
    AtRandom,
    /// These tonics, round and round; the mode is the chart's.
    List(Vec<Pitch>),
}

/// Keys are spelled with at most five flats or six sharps, but for the chart's own and those of a list.
const FLATTEST: i8 = -5;

impl KeyWalk {
    /// The key after so many steps from `home`. `seed` chooses among orders at random: the same seed, the same
    /// order.
    pub fn key(&self, home: Key, steps: u32, seed: u64) -> Key {
        let turn = (steps % 12) as i8;
        // Twelve keys as fifths around the circle: a fourth up is a step back, a semitone up seven on.
        let around = |fifths: i8| match fifths.rem_euclid(12) {
            0 => home,
            by => Key::of_signature(
                (home.fifths() + by - FLATTEST).rem_euclid(12) + FLATTEST,
                home.mode,
            ),
        };
        match self {
            KeyWalk::Stay => home,
            KeyWalk::Fourths => around(-turn),
            KeyWalk::Semitones => around((turn * 7) % 12),
            KeyWalk::AtRandom => around(shuffled(seed, steps / 12)[turn as usize]),
            KeyWalk::List(tonics) => match tonics.len() {
                0 => home,
                count => Key::new(tonics[steps as usize % count], home.mode),
            },
        }
    }

    /// Reads `keys` of a stage; nothing there: [`KeyWalk::Stay`].
    pub(super) fn read(view: &TableView<'_, '_>) -> KeyWalk {
        const RULE: &str = "the tonic of a key (such as \"Eb\")";
        let listed = view
            .get("keys")
            .is_some_and(|value| value.get_ref().as_array().is_some());
        if !listed {
            let words = [
                ("stay", KeyWalk::Stay),
                ("fourths", KeyWalk::Fourths),
                ("semitones", KeyWalk::Semitones),
                ("at random", KeyWalk::AtRandom),
            ];
            return view.one_of("keys", &words).unwrap_or_default();
        }
        let texts = view.strings("keys").unwrap_or_default();
        if !(1..=48).contains(&texts.len()) {
            let rule = format!("keys names {} tonics, but must name 1 to 48", texts.len());
            view.fault("keys", rule);
        }
        let tonic = |text: &crate::fault::Text<'_>| {
            let pitch = text.value.parse::<Pitch>().ok();
            let plain = pitch.filter(|pitch| pitch.alter.abs() <= 1);
            if plain.is_none() {
                let rule = format!("keys has \"{}\", which is not {RULE}", text.value);
                view.reader.fault(text.span.start, rule);
            }
            plain
        };
        KeyWalk::List(texts.iter().filter_map(tonic).collect())
    }
}

/// The numbers 0 to 11 in an order that follows from seed and round; 0 comes first in the first round.
fn shuffled(seed: u64, round: u32) -> [i8; 12] {
    let mut order: [i8; 12] = std::array::from_fn(|at| at as i8);
    // SplitMix64 (Steele, Lea, Flood 2014): good enough to mix twelve keys.
    let mut state = seed ^ (u64::from(round) << 32) ^ 0x9e37_79b9_7f4a_7c15;
    let mut random = |below: usize| {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((mixed ^ (mixed >> 31)) % below as u64) as usize
    };
    let first = usize::from(round == 0);
    for at in (first + 1..12).rev() {
        order.swap(at, first + random(at + 1 - first));
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn walked(walk: &KeyWalk, home: &str, steps: std::ops::Range<u32>) -> String {
        let home = home.parse().unwrap();
        let names: Vec<String> = steps
            .map(|step| walk.key(home, step, 7).tonic.to_string())
            .collect();
        names.join(" ")
    }

    #[test]
    fn keys_go_on_as_musicians_name_them() {
        // The circle of fourths and the chromatic scale, common practice, no source.
        let cases = [
            (KeyWalk::Stay, "G minor", "G G G G G G G G G G G G G"),
            (
                KeyWalk::Fourths,
                "C major",
                "C F Bb Eb Ab Db F# B E A D G C",
            ),
            (
                KeyWalk::Fourths,
                "G minor",
                "G C F Bb D# G# C# F# B E A D G",
            ),
            (
                KeyWalk::Semitones,
                "C major",
                "C Db D Eb E F F# G Ab A Bb B C",
            ),
            (
                KeyWalk::List(vec!["C".parse().unwrap(), "Gb".parse().unwrap()]),
                "A minor",
                "C Gb C Gb C Gb C Gb C Gb C Gb C",
            ),
        ];
        for (walk, home, names) in cases {
            assert_eq!(walked(&walk, home, 0..13), names, "{walk:?}");
        }
    }

    proptest! {
        #[test]
        fn at_random_each_key_comes_once_a_round(seed in any::<u64>(), round in 0u32..1000, fifths in -6i8..=6) {
            let home = Key::of_signature(fifths, crate::harmony::Mode::Minor);
            let mut seen: Vec<u8> = (0..12)
                .map(|turn| KeyWalk::AtRandom.key(home, 12 * round + turn, seed).tonic.class())
                .collect();
            prop_assert_eq!(KeyWalk::AtRandom.key(home, 0, seed), home);
            seen.sort_unstable();
            prop_assert_eq!(seen, (0..12).collect::<Vec<u8>>());
        }
    }
}
