//! Every place of a note on the neck, one after the other: what an easiest way never asks for.

use super::way::way_through;
use super::{Neck, NeckPlace};
use crate::drill::{Stage, StringRule, TargetSet};

/// Frets within which every place of a note is visited: an octave of each string.
const REACHED_FRETS: u8 = 12;

/// All places of a note, whatever its octave, up to the twelfth fret, from the lowest string on and up each string.
pub fn places_in_reach(neck: &Neck, class: u8) -> Vec<NeckPlace> {
    let lowest = neck.tuning.open_keys().iter().min().copied().unwrap_or(0);
    let highest = neck.tuning.open_keys().iter().max().copied().unwrap_or(0);
    let keys = lowest
        ..=highest
            .saturating_add(neck.capo)
            .saturating_add(REACHED_FRETS)
            .min(127);
    let keys = keys.filter(|key| key % 12 == class);
    let places = keys.flat_map(|key| neck.places(key));
    let mut places: Vec<NeckPlace> = places.filter(|place| place.fret <= REACHED_FRETS).collect();
    places.sort_by_key(|place| (std::cmp::Reverse(place.string), place.fret));
    places
}

/// Where the notes of target sets lie in pass `turn` of a stage: the easiest way, or where the stage asks for every place
/// the next one of each note, whose key is that of the place.
pub fn places_of(
    neck: &Neck,
    targets: &mut [TargetSet],
    stage: &Stage,
    turn: u32,
) -> Vec<Vec<Option<NeckPlace>>> {
    if stage.string != StringRule::EveryPlace {
        return way_through(neck, targets, stage.string, stage.position);
    }
    let of_set = |set: &mut TargetSet| {
        let notes = set.notes.iter_mut().map(|note| {
            let places = places_in_reach(neck, note.midi % 12);
            let place = places.get(turn as usize % places.len().max(1)).copied();
            note.midi = place.map_or(note.midi, |place| place.midi);
            place
        });
        notes.collect()
    };
    targets.iter_mut().map(of_set).collect()
}

#[cfg(test)]
mod tests {
    use super::super::Tuning;
    use super::*;

    #[test]
    fn every_place_of_a_note_is_found() {
        // string:fret, common practice, no source: C and E on a guitar; C on four strings of a bass, with a capo, on seven
        // strings.
        let told = |neck: &Neck, class: u8| {
            let places = places_in_reach(neck, class);
            let words: Vec<String> = places
                .iter()
                .map(|p| format!("{}:{}", p.string, p.fret))
                .collect();
            words.join(" ")
        };
        let tuned = |strings: &str| Neck {
            tuning: Tuning::read(strings.split(' ')).expect("a tuning"),
            ..Neck::default()
        };
        assert_eq!(told(&Neck::default(), 0), "6:8 5:3 4:10 3:5 2:1 1:8");
        assert_eq!(
            told(&Neck::default(), 4),
            "6:0 6:12 5:7 4:2 3:9 2:5 1:0 1:12"
        );
        assert_eq!(told(&tuned("E1 A1 D2 G2"), 0), "4:8 3:3 2:10 1:5");
        assert_eq!(
            told(&tuned("B1 E2 A2 D3 G3 B3 E4"), 0),
            "7:1 6:8 5:3 4:10 3:5 2:1 1:8"
        );
        assert_eq!(
            told(
                &Neck {
                    capo: 3,
                    ..Neck::default()
                },
                0
            ),
            "6:5 5:0 5:12 4:7 3:2 2:10 1:5"
        );
    }
}
