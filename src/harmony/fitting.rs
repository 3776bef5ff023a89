//! The scale under a symbol: the symbol's own tones come first.

use super::role::{DegreeRole, Role};
use super::sound::ChordSound;
use super::{ChordSymbol, Degree, Pitch, Quality, ScaleName as Scale};

/// The scales that a family of chords may take, the usual ones first.
fn candidates(quality: Quality) -> &'static [Scale] {
    match quality {
        Quality::Major | Quality::Major6 | Quality::Major7 => &[
            Scale::Ionian,
            Scale::Lydian,
            Scale::LydianAugmented,
            Scale::LydianSharp2,
            Scale::MixolydianFlat6,
        ],
        Quality::AugmentedMajor7 => &[Scale::LydianAugmented, Scale::IonianSharp5],
        Quality::Augmented => &[Scale::WholeTone, Scale::LydianAugmented],
        Quality::Minor | Quality::Minor7 => &[
            Scale::Dorian,
            Scale::Aeolian,
            Scale::Phrygian,
            Scale::DorianFlat2,
            Scale::DorianSharp4,
        ],
        Quality::Minor6 => &[Scale::MelodicMinor, Scale::Dorian, Scale::DorianFlat2],
        Quality::MinorMajor7 => &[Scale::MelodicMinor, Scale::HarmonicMinor],
        Quality::Dominant | Quality::AugmentedSeventh => &[
            Scale::Mixolydian,
            Scale::LydianDominant,
            Scale::MixolydianFlat6,
            Scale::PhrygianDominant,
            Scale::DiminishedHalfWhole,
            Scale::Altered,
            Scale::WholeTone,
        ],
        Quality::Suspended | Quality::SuspendedSecond => &[
            Scale::Mixolydian,
            Scale::Phrygian,
            Scale::DorianFlat2,
            Scale::Ionian,
            Scale::Dorian,
            Scale::Aeolian,
            Scale::Lydian,
        ],
        Quality::HalfDiminished | Quality::Diminished => &[
            Scale::Locrian,
            Scale::LocrianNatural2,
            Scale::AlteredDoubleFlat7,
            Scale::LocrianNatural6,
            Scale::DiminishedWholeHalf,
        ],
        Quality::Diminished7 => &[Scale::DiminishedWholeHalf, Scale::AlteredDoubleFlat7],
        Quality::Power => &[
            Scale::Ionian,
            Scale::Mixolydian,
            Scale::Dorian,
            Scale::Aeolian,
        ],
    }
}

/// The scale of these notes, in semitones over the root; where none has just these, the one of the chord's family that holds
/// the chord's tones and most of them.
pub(super) fn named(notes: &[u8], chord: ChordSound) -> Scale {
    let notes: Vec<i32> = notes.iter().map(|note| i32::from(*note)).collect();
    let exact = Scale::ALL
        .into_iter()
        .find(|scale| classes(scale.degrees()) == notes);
    if let Some(scale) = exact {
        return scale;
    }
    let score = |scale: &Scale| {
        let has = classes(scale.degrees());
        let tones = (0..12u8).filter(|tone| chord.holds(*tone, chord));
        let held = tones.filter(|tone| has.contains(&i32::from(*tone))).count();
        let kept = notes.iter().filter(|note| has.contains(note)).count();
        // The second before the other notes.
        let second = has.get(1) == notes.get(1);
        (held, second, kept)
    };
    candidates(chord.quality)
        .iter()
        .rev()
        .copied()
        .max_by_key(score)
        .unwrap_or(Scale::Ionian)
}

fn classes(degrees: &[Degree]) -> Vec<i32> {
    degrees
        .iter()
        .map(|d| d.semitones().rem_euclid(12))
        .collect()
}

/// The scale for a symbol, given what its place in the key would take: that scale if it holds the symbol's
/// tones, else the one of the family that holds them and keeps most of it.
pub(super) fn fit(symbol: &ChordSymbol, base: Scale) -> Scale {
    let quality = symbol.quality();
    let flat_nine = symbol.has_degree(9, -1);
    let sharp_nine = symbol.has_degree(9, 1);
    let dominant = matches!(quality, Quality::Dominant | Quality::AugmentedSeventh);
    let natural = symbol.has_degree(13, 0) || symbol.has_degree(9, 0);
    // An altered chord leaves its perfect fifth out; a natural thirteenth makes it half-whole.
    if dominant && sharp_nine && !natural && !symbol.has_degree(13, 0) {
        return Scale::Altered;
    }
    if dominant && flat_nine && symbol.has_degree(5, 1) {
        return Scale::Altered;
    }
    if dominant && quality == Quality::AugmentedSeventh {
        let minor = matches!(base, Scale::PhrygianDominant | Scale::Altered);
        return if minor && !symbol.has_degree(9, 0) {
            Scale::Altered
        } else {
            Scale::WholeTone
        };
    }
    let wanted = classes(&symbol.degrees);
    let holds = |scale: Scale| {
        let notes = classes(scale.degrees());
        wanted.iter().filter(|tone| notes.contains(tone)).count()
    };
    if holds(base) == wanted.len() {
        return base;
    }
    // By habit altered, but the symbol keeps its fifth: that is no fault of the habit.
    if base == Scale::Altered && dominant && !natural && !symbol.has(11) {
        return base;
    }
    let kept = |scale: Scale| {
        let notes = classes(scale.degrees());
        classes(base.degrees())
            .iter()
            .filter(|tone| notes.contains(tone))
            .count()
    };
    candidates(quality)
        .iter()
        .rev()
        .copied()
        .max_by_key(|scale| (holds(*scale), kept(*scale)))
        .unwrap_or(base)
}

/// The degrees of a scale over a chord, with the symbol's tones in it and the role of each.
pub(super) fn degrees(symbol: &ChordSymbol, scale: Scale) -> Vec<DegreeRole> {
    let mut names: Vec<Degree> = scale.degrees().to_vec();
    let tones: Vec<Degree> = symbol.degrees.iter().map(|tone| tone.simple()).collect();
    let same = |a: Degree, b: Degree| (a.semitones() - b.semitones()).rem_euclid(12) == 0;
    // "alt" names the notes of the altered scale; over one root they are its flat five and its flat thirteenth.
    let (flat, sharp) = (Degree::new(5, -1), Degree::new(5, 1));
    let is_alt = scale == Scale::Altered && tones.contains(&flat) && tones.contains(&sharp);
    for tone in tones.iter().filter(|tone| !is_alt || **tone != sharp) {
        if let Some(at) = names.iter().position(|name| same(*name, *tone)) {
            // The chord's own name for the note, unless it has two for this one.
            if !names.contains(tone) && !tones.contains(&names[at]) {
                names[at] = *tone;
            }
        } else if scale == Scale::Altered && *tone == Degree::new(5, 0) {
            // The altered scale leaves the perfect fifth out.
        } else if let Some(name) = names.iter_mut().find(|name| {
            name.number == tone.number && !tones.iter().any(|tone| same(*tone, **name))
        }) {
            *name = *tone;
        } else {
            names.push(*tone);
        }
    }
    names.sort_by_key(|name| name.semitones());
    names.dedup_by_key(|name| name.semitones());
    // A symbol of many tones leaves room for fewer others: eight notes at most, where its own are no more.
    while names.len() > 8 {
        let sounds = |name: &Degree| tones.iter().any(|tone| same(*tone, *name));
        let Some(at) = names.iter().rposition(|name| !sounds(name)) else {
            break;
        };
        names.remove(at);
    }
    names
        .iter()
        .map(|degree| DegreeRole {
            degree: *degree,
            pitch: spelled(*degree, symbol.root),
            role: role(*degree, symbol, &tones),
        })
        .collect()
}

/// A degree over a root; the diminished seventh by its plain letter (A over C).
fn spelled(degree: Degree, root: Pitch) -> Pitch {
    let strict = degree.above(root);
    if degree != Degree::new(7, -2) {
        return strict;
    }
    let plain = Degree::new(6, 0).above(root);
    if plain.alter.abs() < strict.alter.abs() {
        plain
    } else {
        strict
    }
}

fn role(degree: Degree, symbol: &ChordSymbol, tones: &[Degree]) -> Role {
    let semitones = degree.semitones().rem_euclid(12);
    let sounds = |wanted: i32| tones.iter().any(|t| t.semitones().rem_euclid(12) == wanted);
    if sounds(semitones) {
        return Role::ChordTone;
    }
    let dominant = symbol.degree(7) == Some(Degree::new(7, -1)) && !symbol.has_degree(3, -1);
    match semitones {
        1 if !dominant => Role::Passing,
        5 if sounds(4) => Role::Passing,
        8 if sounds(3) && sounds(7) => Role::Avoid,
        _ => Role::Colour,
    }
}
