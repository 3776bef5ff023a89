//! Which accidentals are written: those that signature and bar do not already say.

use super::score::Measure;
use crate::harmony::{KeyDeclaration, Pitch};
use std::collections::HashMap;

/// The signature of a key, of at most seven signs: beyond, that of the same sound.
pub fn fifths(key: Option<KeyDeclaration>) -> i8 {
    match key.map_or(0, KeyDeclaration::fifths) {
        more @ 8.. => more - 12,
        more @ ..=-8 => more + 12,
        fifths => fifths,
    }
}

/// What a signature makes of a letter: -1, 0 or 1.
fn by_signature(pitch: Pitch, fifths: i8) -> i8 {
    // F C G D A E B, the order of sharps.
    let order = [1, 3, 5, 0, 2, 4, 6];
    let at: i8 = order[pitch.letter as usize];
    match fifths {
        sharps @ 1.. if at < sharps => 1,
        flats @ ..=-1 if 6 - at < -flats => -1,
        _ => 0,
    }
}

/// For each element of a bar whether its accidental is written. What is tied over the bar line needs none.
pub fn shown(measure: &Measure<'_>, fifths: i8) -> Vec<bool> {
    let mut said: HashMap<(u8, i8), i8> = HashMap::new();
    let element = |element: &super::score::Element<'_>| {
        let Some(note) = element.note.filter(|_| !element.tied_from) else {
            return false;
        };
        let place = (note.pitch.letter as u8, note.octave);
        let there = said.insert(place, note.pitch.alter);
        there.unwrap_or_else(|| by_signature(note.pitch, fifths)) != note.pitch.alter
    };
    measure.elements.iter().map(element).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signatures_bend_letters() {
        // Common practice: B minor has F and C sharp, C minor B, E and A flat.
        let cases = [
            ("F", 2, 1),
            ("C", 2, 1),
            ("G", 2, 0),
            ("B", -3, -1),
            ("A", -3, -1),
            ("D", -3, 0),
            ("B", 7, 1),
            ("F", -7, -1),
        ];
        for (letter, fifths, alter) in cases {
            assert_eq!(
                by_signature(letter.parse().unwrap(), fifths),
                alter,
                "{letter} {fifths}"
            );
        }
    }
}
