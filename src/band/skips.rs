//! What a walking bass slips in between its beats, where the band is free: dead notes and pick-ups on the swung off-beat, and
//! both in a triplet.

use super::line::{HIGHEST, LOWEST, rubs};
use super::onset::Onset;
use super::scene::Scene;
use super::{choice, fills, swing};
use crate::chart::Feel;
use crate::drill::BandStyle;
use crate::time::{PPQ, Part, Tick, TimedNote};
use arrayvec::ArrayVec;

/// Salt of the choices made here.
const SALT: u64 = 10;
/// Quarters a minute from which on there is no time for it.
const TOO_QUICK_QPM: f64 = 220.0;
/// How many beats in a hundred have one: at least, and more when the band gives all.
const RARELY: f64 = 0.07;
const OFTEN: f64 = 0.14;
/// How many of them are dead: struck with the note's own key, damped.
const DEAD: f64 = 0.6;
/// How many pick-ups have a dead note before them, in a triplet; and above which tempo, in quarters a minute, none has.
const IN_TRIPLETS: f64 = 0.4;
const TOO_QUICK_FOR_TRIPLETS_QPM: f64 = 170.0;
/// Force of a dead note and of a pick-up.
const DEAD_FORCE: u8 = 46;
const PICK_UP_FORCE: u8 = 66;

/// The line with its skips. A note gives way to the one after it.
pub(super) fn with_skips(
    scene: &Scene<'_>,
    onsets: &[Onset],
    line: Vec<TimedNote>,
) -> Vec<TimedNote> {
    let score = scene.score;
    let quick = score.tempo.qpm() > TOO_QUICK_QPM;
    if score.band != BandStyle::Free || !matches!(score.feel, Feel::Swing | Feel::Shuffle) || quick
    {
        return line;
    }
    let offset = swing::swing_offset(score.tempo);
    let mut notes = Vec::with_capacity(line.len());
    for i in 0..line.len() {
        let mut note = line[i];
        let skips = skips(scene, onsets, &line, i, offset);
        if let Some(skip) = skips.first() {
            note.len = note.len.min(skip.at - note.at - Tick(PPQ / 16));
        }
        notes.push(note);
        notes.extend(skips);
    }
    notes
}

/// What comes between the `i`th note and the next, if anything does: only in a walk from beat to beat, and never so that one
/// key is struck three times.
fn skips(
    scene: &Scene<'_>,
    onsets: &[Onset],
    line: &[TimedNote],
    i: usize,
    offset: Tick,
) -> ArrayVec<TimedNote, 2> {
    let mut skips = ArrayVec::new();
    let (Some([here, next]), Some([note, after])) = (onsets.get(i..i + 2), line.get(i..i + 2))
    else {
        return skips;
    };
    let walks = here.on_pulse && next.on_pulse && (next.at - here.at).0 == PPQ;
    let before = i.checked_sub(1).map(|before| line[before].key);
    let again = before == Some(note.key) || after.key == note.key;
    let draw = |what: u64| {
        let places = [SALT, u64::from(scene.score.pass), i as u64, what];
        choice::fraction(scene.score.seed, &places)
    };
    let wanted = RARELY + (OFTEN - RARELY) * fills::intensity(scene);
    let last = scene.bars.last().filter(|_| scene.ending.is_some());
    let ends = last.is_some_and(|bar| note.at >= bar.start);
    if !walks || ends || again || draw(1) >= wanted {
        return skips;
    }
    let octave = [note.key.wrapping_sub(12), note.key + 12]
        .into_iter()
        .find(|key| (LOWEST..=HIGHEST).contains(key) && key.abs_diff(after.key) <= 12);
    let pick_up = octave.filter(|_| {
        let rubs = rubs(scene, here, note.key);
        here.chord == next.chord && !rubs && draw(2) >= DEAD
    });
    let slipped = |at: Tick, key, velocity, len| TimedNote {
        at: note.at + at,
        len: Tick(len),
        part: Part::Bass,
        key,
        velocity,
    };
    let dead = |at| slipped(at, note.key, DEAD_FORCE, PPQ / 10);
    let slow = scene.score.tempo.qpm() <= TOO_QUICK_FOR_TRIPLETS_QPM;
    match pick_up {
        Some(key) if slow && draw(3) < IN_TRIPLETS => {
            skips.push(dead(Tick(PPQ / 3)));
            skips.push(slipped(Tick(PPQ * 2 / 3), key, PICK_UP_FORCE, PPQ / 4));
        }
        Some(key) => skips.push(slipped(offset, key, PICK_UP_FORCE, PPQ / 4)),
        None => skips.push(dead(offset)),
    }
    skips
}
