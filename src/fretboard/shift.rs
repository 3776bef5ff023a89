//! Where the hand moves within a figure.

use super::NeckPlace;
use super::tuning::REACH;

/// For each note of a figure the fret that the first finger goes to, where the hand must move to reach it; `None` where it
/// stays. A hand has four frets and stretches to a fifth; an open string needs no finger, a note outside the neck no hand.
pub fn shifts(places: &[Option<NeckPlace>]) -> Vec<Option<u8>> {
    let frets = |from: usize| {
        let fretted = places.iter().enumerate().skip(from);
        fretted.filter_map(|(index, place)| Some((index, place.as_ref()?.fret)))
    };
    let mut found = vec![None; places.len()];
    let mut from = 0;
    loop {
        let (mut low, mut high, mut next) = (u8::MAX, 0, None);
        for (index, fret) in frets(from).filter(|(_, fret)| *fret > 0) {
            let (lower, higher) = (low.min(fret), high.max(fret));
            if higher - lower > REACH {
                next = Some(index);
                break;
            }
            (low, high) = (lower, higher);
        }
        if from > 0 {
            found[from] = Some(low);
        }
        match next {
            Some(index) => from = index,
            None => return found,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hand_moves_where_a_figure_goes_beyond_its_reach() {
        // Frets, and where the first finger goes; common practice, no source.
        for (frets, expected) in [
            (&[3u8, 7][..], "- -"),
            (&[3, 8], "- 8"),
            (&[0, 12], "- -"),
            (&[3, 5, 7, 8, 10], "- - - 8 -"),
            (&[12, 8, 7, 5, 3], "- - 3 - -"),
            (&[5, 0, 12, 10, 3], "- - 10 - 3"),
            (&[], ""),
        ] {
            let place = |fret: &u8| {
                Some(NeckPlace {
                    string: 1,
                    fret: *fret,
                    midi: 64 + fret,
                })
            };
            let places: Vec<Option<NeckPlace>> = frets.iter().map(place).collect();
            let told = shifts(&places).into_iter();
            let told: Vec<String> = told
                .map(|at| at.map_or("-".to_string(), |fret| fret.to_string()))
                .collect();
            assert_eq!(told.join(" "), expected, "{frets:?}");
        }
    }
}
