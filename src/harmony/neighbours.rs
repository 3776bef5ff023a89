//! The chords around each chord, the form being a loop.

use super::sound::{ChordSound, Neighbours};
use super::weights::Tenths;

/// Each chord with the nearest chords of another root on both sides; silences are left out beforehand.
pub(super) fn neighbours(sounds: &[ChordSound]) -> Vec<Neighbours> {
    let count = sounds.len();
    // The places of the nearest chords of another root; `None` where all have one root.
    let mut after: Vec<Option<usize>> = vec![None; count];
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
            Some(next)
        };
    }
    let sound = |place: Option<usize>| place.map(|place| sounds[place]);
    (0..count)
        .map(|at| Neighbours {
            chord: sounds[at],
            before: sound(before[at]),
            after: sound(after[at]),
            after_that: sound(after[at].and_then(|next| after[next])),
            blues: false,
            home: None,
        })
        .collect()
}

/// Which chords say nothing new: one that repeats the chord before it, and those of a pattern of up to eight chords once it
/// was heard so often (in tenths). A loop goes round as often as it likes; what it says of the key it has said.
pub(super) fn nothing_new(sounds: &[ChordSound], heard: Tenths) -> Vec<bool> {
    const LONGEST: usize = 8;
    let times = usize::try_from(heard / 10).unwrap_or(0).max(1);
    let mut old = vec![false; sounds.len()];
    for period in 1..=LONGEST {
        let heard = if period == 1 { 1 } else { times * period };
        let mut run = 0;
        for at in period..sounds.len() {
            let again = sounds[at] == sounds[at - period];
            run = if again { run + 1 } else { 0 };
            if run == heard {
                old[at + 1 - period..=at].fill(true);
            } else if run > heard {
                old[at] = true;
            }
        }
    }
    old
}
