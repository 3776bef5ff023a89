//! The easiest way over the neck: the whole line is looked at, not one note at a time.

use super::tuning::REACH;
use super::{Neck, NeckPlace};
use crate::drill::{StringRule, StringSet, TargetSet};

/// A note of a line that looks for its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WayNote {
    pub midi: u8,
    /// Whether it should lie on the string of the note before it, where the hand can.
    pub same_string: bool,
    /// Whether it goes on with the figure of the note before it: the hand stays, where it can.
    pub goes_on: bool,
    /// The strings that it should lie on, where it is there.
    pub strings: Option<StringSet>,
    /// The fret under the first finger, where the hand should stay there.
    pub position: Option<u8>,
}

/// A place and where the hand is: the fret under the first finger.
#[derive(Debug, Clone, Copy)]
struct Hand {
    place: NeckPlace,
    position: u8,
}

/// What it costs to leave a string that should be kept; a hand that jumps further than this rather leaves it.
const LEAVE_STRING: u32 = 60;
/// What it costs to move the hand within a figure, besides the way: more than any way over the neck between two figures.
const LEAVE_POSITION: u32 = 300;

/// The easiest places for a line of notes, one a note; `None` for a note outside the neck.
///
/// Where a position is asked for, the hand stays there as long as the notes lie within four frets of it; only a note
/// that does not is played elsewhere.
///
/// Dynamic programming over places and positions of the hand: moving the hand costs most, then stretching
/// and crossing strings, then lying far up the neck. A figure lies under one hand where it can. A string is kept where
/// asked if the hand need not go more than seven frets for it.
pub fn easiest(neck: &Neck, notes: &[WayNote]) -> Vec<Option<NeckPlace>> {
    let mut columns: Vec<Vec<Hand>> = Vec::new();
    let mut asked: Vec<WayNote> = Vec::new();
    for note in notes {
        let hands = in_position(
            on_strings(hands(neck, note.midi), note.strings),
            note.position,
        );
        if !hands.is_empty() {
            columns.push(hands);
            asked.push(*note);
        }
    }
    let mut chosen = cheapest(&columns, &asked).into_iter();
    let placed = notes.iter().map(|note| {
        let on_neck = !neck.places(note.midi).is_empty();
        if on_neck { chosen.next() } else { None }
    });
    placed.collect()
}

/// The easiest places for the notes of target sets, in their form. With `Same` each set stays on one string;
/// where every set is a single note, the whole line does. `position`: the fret under the first finger, kept.
pub fn way_through(
    neck: &Neck,
    sets: &[TargetSet],
    string: StringRule,
    position: Option<u8>,
) -> Vec<Vec<Option<NeckPlace>>> {
    let single = sets.iter().all(|set| set.notes.len() <= 1);
    let notes: Vec<WayNote> = sets
        .iter()
        .flat_map(|set| {
            set.notes
                .iter()
                .enumerate()
                .map(move |(index, note)| WayNote {
                    midi: note.midi,
                    same_string: string == StringRule::Same && (single || index > 0),
                    goes_on: index > 0,
                    strings: match string {
                        StringRule::On(strings) => Some(strings),
                        StringRule::Free | StringRule::Same | StringRule::EveryPlace => None,
                    },
                    position,
                })
        })
        .collect();
    let mut places = easiest(neck, &notes).into_iter();
    sets.iter()
        .map(|set| places.by_ref().take(set.notes.len()).collect())
        .collect()
}

/// Every place of a note with every position from which a finger reaches it.
fn hands(neck: &Neck, midi: u8) -> Vec<Hand> {
    let mut hands = Vec::new();
    for place in neck.places(midi) {
        if place.fret == 0 {
            // An open string leaves the hand where it is.
            hands.extend((1..=12).map(|position| Hand { place, position }));
        } else {
            let lowest = place.fret.saturating_sub(REACH).max(1);
            hands.extend((lowest..=place.fret).map(|position| Hand { place, position }));
        }
    }
    hands
}

/// Of `hands` those on the asked strings; all of them where none is asked for or none has the note.
fn on_strings(hands: Vec<Hand>, strings: Option<StringSet>) -> Vec<Hand> {
    let Some(strings) = strings else {
        return hands;
    };
    let on = |hand: &&Hand| strings.holds(hand.place.string);
    let found: Vec<Hand> = hands.iter().filter(on).copied().collect();
    if found.is_empty() { hands } else { found }
}

/// Of `hands` those in the asked position, the stretch beyond its four frets only where nothing else will do; all of
/// them where none is asked for or none reaches the note.
fn in_position(hands: Vec<Hand>, position: Option<u8>) -> Vec<Hand> {
    let Some(position) = position else {
        return hands;
    };
    let within = |stretch: u8| -> Vec<Hand> {
        let here = hands.iter().filter(|hand| {
            let open_counts = hand.place.fret > 0 || position == 1;
            let reached = hand.place.fret <= position + stretch;
            hand.position == position && open_counts && reached
        });
        here.copied().collect()
    };
    [within(REACH - 1), within(REACH), hands.clone()]
        .into_iter()
        .find(|hands| !hands.is_empty())
        .unwrap_or_default()
}

/// What it costs to hold a note in itself.
fn holding(hand: &Hand) -> u32 {
    let stretch = hand.place.fret.saturating_sub(hand.position);
    let stretched = if stretch >= REACH { 3 } else { 0 };
    let high = u32::from(hand.position.saturating_sub(7));
    let cramped = u32::from(hand.place.fret.saturating_sub(12)) * 2;
    // An open string is nothing to hold, but a line with it cannot be taken to another key.
    let open = if hand.place.fret == 0 { 2 } else { 0 };
    stretched + high + cramped + open
}

fn moving(from: &Hand, to: &Hand, note: &WayNote) -> u32 {
    let shift = u32::from(from.position.abs_diff(to.position));
    let crossing = u32::from(from.place.string.abs_diff(to.place.string));
    let shifted = if shift == 0 { 0 } else { 4 + 8 * shift };
    let crossed = crossing.saturating_sub(1) * 2 + u32::from(crossing > 0);
    let left = if note.same_string && crossing > 0 {
        LEAVE_STRING
    } else {
        0
    };
    // On one string a figure moves the hand by its nature.
    let torn = if note.goes_on && !note.same_string && shift > 0 {
        LEAVE_POSITION
    } else {
        0
    };
    shifted + crossed + left + torn
}

fn cheapest(columns: &[Vec<Hand>], notes: &[WayNote]) -> Vec<NeckPlace> {
    let Some(first) = columns.first() else {
        return Vec::new();
    };
    let mut costs: Vec<u32> = first.iter().map(holding).collect();
    let mut came_from: Vec<Vec<usize>> = Vec::new();
    for (pair, note) in columns.windows(2).zip(&notes[1..]) {
        let reached = pair[1].iter().map(|to| {
            let ways = pair[0].iter().zip(&costs).enumerate();
            let (from, cost) = ways
                .map(|(index, (from, cost))| (index, cost + moving(from, to, note)))
                .min_by_key(|(_, cost)| *cost)
                .unwrap_or((0, 0));
            (from, cost + holding(to))
        });
        let (from, next): (Vec<usize>, Vec<u32>) = reached.unzip();
        came_from.push(from);
        costs = next;
    }
    let mut at = (0..costs.len())
        .min_by_key(|index| costs[*index])
        .unwrap_or(0);
    let mut places = vec![columns[columns.len() - 1][at].place];
    for (from, column) in came_from.iter().zip(columns).rev() {
        at = from[at];
        places.push(column[at].place);
    }
    places.reverse();
    places
}

#[cfg(test)]
mod tests {
    use super::super::Tuning;
    use super::*;
    use proptest::prelude::*;

    fn way(keys: &[u8], same_string: bool) -> String {
        let notes: Vec<WayNote> = keys
            .iter()
            .enumerate()
            .map(|(index, midi)| WayNote {
                midi: *midi,
                same_string: same_string && index > 0,
                goes_on: false,
                strings: None,
                position: None,
            })
            .collect();
        let places = easiest(&Neck::default(), &notes);
        let words: Vec<String> = places
            .iter()
            .map(|place| place.map_or("-".to_string(), |p| format!("{}:{}", p.string, p.fret)))
            .collect();
        words.join(" ")
    }

    #[test]
    fn the_hand_stays_where_it_can() {
        // string:fret; common practice, no source.
        let cases: [(&str, &[u8], bool); 4] = [
            // A major scale stays in one position.
            (
                "6:3 6:5 5:2 5:3 5:5 4:2 4:4 4:5",
                &[43, 45, 47, 48, 50, 52, 54, 55],
                false,
            ),
            // Root and major third above, on one string.
            ("5:3 5:7", &[48, 52], true),
            // An octave apart the string is left.
            ("5:3 3:5", &[48, 60], true),
            ("- 6:0", &[30, 40], false),
        ];
        for (expected, keys, same_string) in cases {
            assert_eq!(way(keys, same_string), expected, "{keys:?}");
        }
    }

    #[test]
    fn a_position_is_kept_where_the_notes_allow() {
        let way = |keys: &[u8], position: u8| {
            let note = |midi: &u8| WayNote {
                midi: *midi,
                same_string: false,
                goes_on: false,
                strings: None,
                position: Some(position),
            };
            let notes: Vec<WayNote> = keys.iter().map(note).collect();
            let places = easiest(&Neck::default(), &notes).into_iter().flatten();
            let words: Vec<String> = places.map(|p| format!("{}:{}", p.string, p.fret)).collect();
            words.join(" ")
        };
        // Common practice, no source: in the fifth position the A of the sixth string is under the first finger, and
        // F and C lie on strings 6 and 5 at the eighth fret; the E below has no place there.
        assert_eq!(way(&[45, 48, 53, 57, 60], 5), "6:5 6:8 5:8 4:7 3:5");
        assert_eq!(way(&[43, 50], 1), "6:3 4:0");
        assert_eq!(way(&[40, 45], 5), "6:0 6:5");
        // B over the fourth string: only the stretch to the ninth fret, or string 3 in the first position.
        assert_eq!(way(&[59], 5), "4:9");
    }

    /// A neck of any strings, with notes on and beyond it.
    fn necks() -> impl Strategy<Value = (Neck, Vec<u8>)> {
        let open = proptest::collection::vec(24u8..76, 1..=16);
        let keys = proptest::collection::vec(20u8..100, 0..8);
        (open, 0u8..12, 12u8..=36, keys).prop_map(|(open, capo, frets, keys)| {
            let neck = Neck {
                tuning: Tuning::of_keys(&open),
                capo,
                frets,
                left_handed: capo % 2 == 0,
            };
            (neck, keys)
        })
    }

    /// What a way costs, counted apart from how it was found: the hand goes where it must.
    fn cost(hands: &[Hand], notes: &[WayNote]) -> u32 {
        let held: u32 = hands.iter().map(holding).sum();
        let moved = hands.windows(2).zip(&notes[1..]);
        held + moved
            .map(|(pair, note)| moving(&pair[0], &pair[1], note))
            .sum::<u32>()
    }

    /// The least cost of all ways, tried one by one.
    fn least(columns: &[Vec<Hand>], notes: &[WayNote]) -> u32 {
        let mut ways: Vec<Vec<Hand>> = vec![Vec::new()];
        for column in columns {
            let longer = |way: &Vec<Hand>| {
                let with = |hand: &Hand| way.iter().chain([hand]).copied().collect();
                column.iter().map(with).collect::<Vec<Vec<Hand>>>()
            };
            ways = ways.iter().flat_map(longer).collect();
        }
        ways.iter().map(|way| cost(way, notes)).min().unwrap_or(0)
    }

    #[test]
    fn the_line_stays_on_the_strings_that_are_asked_for() {
        // string:fret; common practice, no source: C E G on strings 2 and 3, then on the third alone; the low A is not
        // there and is played where it lies.
        let way = |keys: &[u8], strings: &[u8]| {
            let note = |midi: &u8| WayNote {
                midi: *midi,
                same_string: false,
                goes_on: false,
                strings: Some(StringSet::of(strings.iter().copied())),
                position: None,
            };
            let notes: Vec<WayNote> = keys.iter().map(note).collect();
            let places = easiest(&Neck::default(), &notes).into_iter().flatten();
            let words: Vec<String> = places.map(|p| format!("{}:{}", p.string, p.fret)).collect();
            words.join(" ")
        };
        assert_eq!(way(&[60, 64, 67], &[3]), "3:5 3:9 3:12");
        assert_eq!(way(&[60, 64, 67], &[2, 3]), "3:5 2:5 2:8");
        assert_eq!(way(&[45, 60], &[1, 2]), "5:0 2:1");
    }

    proptest! {
        /// Every place sounds its note, whatever strings, capo and frets; a note without one lies outside the neck.
        #[test]
        fn every_place_sounds_its_note(
            (neck, keys) in necks(), same_string in any::<bool>(),
            position in proptest::option::of(1u8..=12), strings in proptest::option::of(0u8..=16), goes_on in any::<bool>(),
        ) {
            let strings = strings.map(|top| StringSet::of(1..=top));
            let note = |midi: &u8| WayNote { midi: *midi, same_string, goes_on, strings, position };
            let notes: Vec<WayNote> = keys.iter().map(note).collect();
            let places = easiest(&neck, &notes);
            prop_assert_eq!(places.len(), keys.len());
            for (place, midi) in places.iter().zip(&keys) {
                let all = neck.places(*midi);
                match place {
                    Some(place) => {
                        let open = neck.tuning.open_keys()[usize::from(place.string) - 1];
                        prop_assert_eq!(open + neck.capo + place.fret, *midi);
                        prop_assert!(place.fret + neck.capo <= neck.frets.max(neck.capo));
                        let asked = |at: &NeckPlace| strings.is_some_and(|strings| strings.holds(at.string));
                        prop_assert!(!all.iter().any(asked) || asked(place));
                    }
                    None => prop_assert!(all.is_empty()),
                }
            }
        }

        /// All places of a note are found: those of every string, tried fret by fret.
        #[test]
        fn all_places_are_found((neck, _) in necks(), midi in 0u8..=127) {
            let mut tried = Vec::new();
            for (string, open) in (1u8..).zip(neck.tuning.open_keys()) {
                for fret in 0..=neck.frets.saturating_sub(neck.capo) {
                    if open + neck.capo + fret == midi {
                        tried.push(NeckPlace { string, fret, midi });
                    }
                }
            }
            prop_assert_eq!(neck.places(midi), tried);
        }

        /// No other way is easier.
        #[test]
        fn the_easiest_way_is_the_easiest(keys in proptest::collection::vec(40u8..60, 1..4), same_string in any::<bool>(), goes_on in any::<bool>()) {
            let neck = Neck { frets: 9, ..Neck::default() };
            let note = |midi: &u8| WayNote { midi: *midi, same_string, goes_on, strings: None, position: None };
            let notes: Vec<WayNote> = keys.iter().map(note).collect();
            let columns: Vec<Vec<Hand>> = keys.iter().map(|midi| hands(&neck, *midi)).collect();
            let chosen = cheapest(&columns, &notes);
            let among: Vec<Vec<Hand>> = columns.iter().zip(&chosen).map(|(column, place)| {
                column.iter().filter(|hand| hand.place == *place).copied().collect()
            }).collect();
            prop_assert_eq!(least(&among, &notes), least(&columns, &notes));
        }
    }
}
