//! The kinds of chords of MusicXML 4.0 (`kind-value` in musicxml.xsd) as degrees over the root.

use crate::harmony::Degree;

/// What a kind stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum HarmonyKind {
    /// A chord of these tones, each a number and its alteration.
    Tones(&'static [(u8, i8)]),
    /// Tones that come near; the kind has no chord symbol of its own.
    Near(&'static [(u8, i8)]),
    Silence,
}

use HarmonyKind::{Near, Silence, Tones};

/// The 33 kinds of the schema, in its order, as it describes them. The exceptions are a usage of players: the
/// thirteenth chords leave the eleventh out. The functional sixths stand on their lowest tone in root position,
/// as the seventh chords that they sound like; the Tristan chord is spelled as the half-diminished seventh that
/// it sounds like. A plainer kind that means the same chord comes first where one is looked for by its tones.
pub(super) const KINDS: [(&str, HarmonyKind); 33] = [
    ("major", Tones(&[(1, 0), (3, 0), (5, 0)])),
    ("minor", Tones(&[(1, 0), (3, -1), (5, 0)])),
    ("augmented", Tones(&[(1, 0), (3, 0), (5, 1)])),
    ("diminished", Tones(&[(1, 0), (3, -1), (5, -1)])),
    ("dominant", Tones(&[(1, 0), (3, 0), (5, 0), (7, -1)])),
    ("major-seventh", Tones(&[(1, 0), (3, 0), (5, 0), (7, 0)])),
    ("minor-seventh", Tones(&[(1, 0), (3, -1), (5, 0), (7, -1)])),
    (
        "diminished-seventh",
        Tones(&[(1, 0), (3, -1), (5, -1), (7, -2)]),
    ),
    (
        "augmented-seventh",
        Tones(&[(1, 0), (3, 0), (5, 1), (7, -1)]),
    ),
    (
        "half-diminished",
        Tones(&[(1, 0), (3, -1), (5, -1), (7, -1)]),
    ),
    ("major-minor", Tones(&[(1, 0), (3, -1), (5, 0), (7, 0)])),
    ("major-sixth", Tones(&[(1, 0), (3, 0), (5, 0), (6, 0)])),
    ("minor-sixth", Tones(&[(1, 0), (3, -1), (5, 0), (6, 0)])),
    (
        "dominant-ninth",
        Tones(&[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0)]),
    ),
    (
        "major-ninth",
        Tones(&[(1, 0), (3, 0), (5, 0), (7, 0), (9, 0)]),
    ),
    (
        "minor-ninth",
        Tones(&[(1, 0), (3, -1), (5, 0), (7, -1), (9, 0)]),
    ),
    (
        "dominant-11th",
        Tones(&[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0), (11, 0)]),
    ),
    (
        "major-11th",
        Tones(&[(1, 0), (3, 0), (5, 0), (7, 0), (9, 0), (11, 0)]),
    ),
    (
        "minor-11th",
        Tones(&[(1, 0), (3, -1), (5, 0), (7, -1), (9, 0), (11, 0)]),
    ),
    (
        "dominant-13th",
        Tones(&[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0), (13, 0)]),
    ),
    (
        "major-13th",
        Tones(&[(1, 0), (3, 0), (5, 0), (7, 0), (9, 0), (13, 0)]),
    ),
    (
        "minor-13th",
        Tones(&[(1, 0), (3, -1), (5, 0), (7, -1), (9, 0), (13, 0)]),
    ),
    ("suspended-second", Tones(&[(1, 0), (2, 0), (5, 0)])),
    ("suspended-fourth", Tones(&[(1, 0), (4, 0), (5, 0)])),
    ("Neapolitan", Near(&[(1, 0), (3, 0), (5, 0)])),
    ("Italian", Near(&[(1, 0), (3, 0), (7, -1)])),
    ("French", Near(&[(1, 0), (3, 0), (5, -1), (7, -1)])),
    ("German", Near(&[(1, 0), (3, 0), (5, 0), (7, -1)])),
    ("pedal", Tones(&[(1, 0)])),
    ("power", Tones(&[(1, 0), (5, 0)])),
    ("Tristan", Near(&[(1, 0), (3, -1), (5, -1), (7, -1)])),
    // All its tones are added.
    ("other", Tones(&[(1, 0)])),
    ("none", Silence),
];

/// The kind of this name.
pub(super) fn kind(name: &str) -> Option<HarmonyKind> {
    KINDS
        .iter()
        .find(|(known, _)| *known == name)
        .map(|(_, kind)| *kind)
}

/// The triad nearest to a name that is no kind.
pub(super) fn nearest_triad(name: &str) -> &'static [(u8, i8)] {
    let lower = name.to_lowercase();
    let any = |words: &[&str]| words.iter().any(|word| lower.contains(word));
    match () {
        () if any(&["dim"]) => &[(1, 0), (3, -1), (5, -1)],
        () if any(&["aug", "+"]) => &[(1, 0), (3, 0), (5, 1)],
        () if any(&["sus"]) => &[(1, 0), (4, 0), (5, 0)],
        () if any(&["min"]) || (lower.starts_with('m') && !lower.starts_with("maj")) => {
            &[(1, 0), (3, -1), (5, 0)]
        }
        () => &[(1, 0), (3, 0), (5, 0)],
    }
}

/// Tones as degrees.
pub(super) fn degrees(tones: &[(u8, i8)]) -> Vec<Degree> {
    tones
        .iter()
        .map(|(number, alter)| Degree::new(*number, *alter))
        .collect()
}
