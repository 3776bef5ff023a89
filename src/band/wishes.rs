//! What a bassist wants to play this time: every place goes through its possibilities as through a shuffled deck, so that none
//! comes again before the others had their turn. That is the memory of the choruses before, without playing them again: which
//! card it is follows from how often the place has come.

use super::choice;
use super::onset::{LineTask, Onset};
use super::scene::Scene;
use std::collections::BTreeMap;

/// Salt of the choices made here.
const SALT: u64 = 6;

/// Which time it is that a note of this kind comes: (the chord's sound, the way to the next one, the task, the beat).
type Kind = (Vec<i32>, u8, u8, i64);

/// For each onset, the number of its card. Cards of places that are alike follow each other, over the choruses too.
pub(super) fn turns(scene: &Scene<'_>, onsets: &[Onset]) -> Vec<u64> {
    let kinds: Vec<Kind> = (0..onsets.len()).map(|i| kind(scene, onsets, i)).collect();
    let mut in_lap: BTreeMap<&Kind, u64> = BTreeMap::new();
    for kind in &kinds {
        *in_lap.entry(kind).or_default() += 1;
    }
    let mut so_far: BTreeMap<&Kind, u64> = BTreeMap::new();
    let turn = |kind| {
        let before = so_far.entry(kind).or_default();
        *before += 1;
        u64::from(scene.score.pass) * in_lap[kind] + *before - 1
    };
    kinds.iter().map(turn).collect()
}

/// The card of a deck of `cards` that comes at a turn; `what` tells one deck from another. Each round through the deck has
/// its own order.
pub(super) fn card(scene: &Scene<'_>, what: u64, turn: u64, cards: usize) -> usize {
    let cards = cards.max(1) as u64;
    let (round, place) = (turn / cards, turn % cards);
    let mut order: Vec<u64> = (0..cards).collect();
    order.sort_by_key(|card| choice::mixed(scene.score.seed, &[SALT, what, round, *card]));
    order[place as usize] as usize
}

fn kind(scene: &Scene<'_>, onsets: &[Onset], i: usize) -> Kind {
    let onset = &onsets[i];
    let chord = scene.chord(onset.chord);
    let root = |chord: &super::scene::SceneChord<'_>| {
        let symbol = chord.symbol.as_ref();
        symbol.map_or(0, |symbol| symbol.root.class())
    };
    let sound = chord.symbol.as_ref().map_or(Vec::new(), |symbol| {
        let degrees = symbol.degrees.iter();
        degrees.map(|degree| degree.semitones()).collect()
    });
    let next = onsets.get(i + 1).map(|next| scene.chord(next.chord));
    let next = next.or(scene.next.as_ref());
    let way = next.map_or(12, |next| (root(next) + 12 - root(chord)) % 12);
    let task = match onset.task {
        LineTask::Approach => 1,
        LineTask::Tone => 2,
        LineTask::Midway => 3,
        _ => 0,
    };
    (sound, way, task, (onset.at - chord.start).0)
}
