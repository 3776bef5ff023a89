//! How much of the neck a handful of pitches needs. On which string a note was played cannot be heard; but what no hand
//! reaches from one position was played from two.

use super::Neck;
use super::tuning::REACH;

/// The fewest positions of the hand from which all these MIDI keys can be played, each within four frets of the first
/// finger or open. Keys outside the neck do not count.
pub fn fewest_positions(neck: &Neck, keys: &[u8]) -> usize {
    let last = neck.frets.saturating_sub(neck.capo).max(1);
    let reaches = |position: u8, key: u8| {
        let fits = |fret: u8| fret == 0 || (position..=position + REACH).contains(&fret);
        neck.places(key).iter().any(|place| fits(place.fret))
    };
    let mut left: Vec<u8> = keys.to_vec();
    left.retain(|key| !neck.places(*key).is_empty());
    left.sort_unstable();
    left.dedup();
    let mut count = 0;
    while let Some(lowest) = left.first().copied() {
        // From a position the hand has every pitch between its lowest and its highest, or nearly: so the lowest key is
        // taken together with as many that follow as may be.
        let of_lowest = (1..=last).filter(|position| reaches(*position, lowest));
        let run = |position: &u8| left.iter().filter(|key| reaches(*position, **key)).count();
        let Some(best) = of_lowest.max_by_key(run) else {
            break;
        };
        left.retain(|key| !reaches(best, *key));
        count += 1;
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hand_has_two_octaves_and_a_little() {
        // Common practice, no source: from the fifth position a guitarist has A2 to C#5.
        let neck = Neck::default();
        for (keys, expected) in [
            (&[][..], 0),
            (&[45, 57, 69, 73], 1),
            // Open strings are in reach of every position.
            (&[40, 45, 50, 88, 64], 1),
            (&[41, 84], 2),
            // One hand near the nut, one in the middle, one at the end.
            (&[41, 77, 42, 86], 2),
            // Outside the neck.
            (&[20, 100], 0),
        ] {
            assert_eq!(fewest_positions(&neck, keys), expected, "{keys:?}");
        }
    }
}
