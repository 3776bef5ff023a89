//! Comping: the voicings sounded in their rhythm.

use super::ending::Ending;
use super::rhythm::{self, Hit};
use super::scene::{ChordRef, Scene, SceneChord};
use super::voicing::{HIGHEST, LOWEST, Voicing, voicings};
use super::{choice, leading};
use crate::chart::Feel;
use crate::drill::Comping;
use crate::time::{PPQ, Part, Tick, TimedNote};

/// Salt of the choices made here.
const SALT: u64 = 2;
/// From this tempo on chords of two beats and less are third and seventh only.
const GUIDES_FROM_QPM: f64 = 180.0;

/// Where the top voice of a lap's ends lies by preference, F4.
const ANCHOR: u8 = 65;

/// The comping of the lap.
pub(super) fn comping(scene: &Scene<'_>) -> Vec<TimedNote> {
    if scene.score.comping == Comping::Off {
        return Vec::new();
    }
    let mut choices: Vec<Vec<Voicing>> = scene
        .chords
        .iter()
        .map(|chord| {
            let own = voicings(chord, scene.score.comping, only_guides(scene, chord));
            with_inversions(scene, own)
        })
        .collect();
    let mut sounding = choices.iter_mut().filter(|choice| !choice.is_empty());
    let ends = [sounding.next(), sounding.next_back()];
    ends.into_iter().flatten().for_each(|end| anchor(end));
    let mut chosen = leading::lead(&choices, 0.0);
    let hits = rhythm::strokes(scene);
    if !scene.score.is_plain() {
        wish(scene, &mut choices, &chosen);
        chosen = evened(&mut choices, &hits);
    }
    let of = |index: usize| chosen[index].map(|choice| &choices[index][choice]);
    let after = scene.next.as_ref().and_then(|next| {
        if scene.loops {
            return of(0).cloned();
        }
        let last = (0..chosen.len()).rev().find_map(of);
        let mut choices = voicings(next, scene.score.comping, only_guides(scene, next));
        anchor(&mut choices);
        leading::nearest(last, &choices).cloned()
    });
    let mut notes = Vec::new();
    for (i, hit) in hits.iter().enumerate() {
        let voicing = match hit.chord {
            ChordRef::InLap(index) => of(index),
            ChordRef::Next => after.as_ref(),
        };
        let len = length(scene, hit, hits.get(i + 1));
        let velocity = loudness(scene, hit, i);
        for key in voicing.iter().flat_map(|voicing| &voicing.keys) {
            notes.push(TimedNote {
                at: hit.at,
                len,
                part: Part::Comping,
                key: *key,
                velocity,
            });
        }
    }
    notes
}

/// A lap begins and ends with its top voice near one place, so that another lap joins on without a leap.
fn anchor(choices: &mut [Voicing]) {
    for choice in choices {
        let top = choice.keys.last().copied().unwrap_or(ANCHOR);
        choice.cost += f64::from(top.abs_diff(ANCHOR).saturating_sub(1));
    }
}

/// What is paid for an inversion of a form.
const INVERTED: f64 = 0.8;

/// The forms with their inversions, the lowest note up or the highest down by an octave, so that every note of a chord may be
/// the line's: within the range, without a semitone at the top. Where notes are learned the forms stay as they are; where
/// the target may not be on top, so does what was chosen for that.
fn with_inversions(scene: &Scene<'_>, mut forms: Vec<Voicing>) -> Vec<Voicing> {
    if scene.score.is_plain() || scene.score.comping != Comping::Full {
        return forms;
    }
    let turned = |voicing: &Voicing, from: usize, by: i16| {
        let mut keys = voicing.keys.clone();
        let key = u8::try_from(i16::from(*keys.get(from)?) + by).ok()?;
        *keys.get_mut(from)? = key;
        keys.sort_unstable();
        let rubs = keys
            .windows(2)
            .last()
            .is_some_and(|top| top[1] - top[0] < 2);
        let fits = (LOWEST..=HIGHEST).contains(&key) && !rubs;
        let cost = voicing.cost + INVERTED;
        fits.then_some(Voicing { keys, cost })
    };
    let up = forms.iter().filter_map(|voicing| turned(voicing, 0, 12));
    let down = forms
        .iter()
        .filter_map(|voicing| turned(voicing, voicing.keys.len().wrapping_sub(1), -12));
    let more: Vec<Voicing> = up.chain(down).collect();
    for voicing in more {
        if forms.iter().all(|own| own.keys != voicing.keys) {
            forms.push(voicing);
        }
    }
    forms
}

/// What is paid for a top voice that stays where the chord changes.
const RESTLESS: f64 = 5.0;
/// A line between -1 and 1 that is everywhere as long.
fn rising_and_falling(turns: f64) -> f64 {
    4.0 * (turns.rem_euclid(1.0) - 0.5).abs() - 1.0
}

/// What is paid for each semitone between the top voice and where the line wants it.
const WISHED: f64 = 1.5;
/// How far the line of the top voice rises and falls around its middle, in semitones, and over how many bars.
const LINE: (f64, f64, f64) = (64.0, 5.0, 14.0);

/// The top voice is a line that rises and falls over the bars, elsewhere in each chorus. The ends of the lap stay as they are
/// led by its chords alone: the passes before and after join on there.
fn wish(scene: &Scene<'_>, choices: &mut [Vec<Voicing>], led: &[Option<usize>]) {
    let mut sounding: Vec<usize> = (0..led.len()).filter(|i| led[*i].is_some()).collect();
    let mut ends = vec![sounding.first().copied(), sounding.last().copied()];
    ends.dedup();
    for end in ends.into_iter().flatten() {
        if let Some(choice) = led[end] {
            choices[end] = vec![choices[end][choice].clone()];
        }
        sounding.retain(|i| *i != end);
    }
    let score = scene.score;
    let turn = choice::fraction(score.seed, &[SALT, u64::from(score.pass), 3]);
    let (middle, swing, bars) = LINE;
    for index in sounding {
        let start = scene.chords[index].start;
        let bar = scene.bars.partition_point(|bar| bar.start <= start) as f64;
        let wanted = middle + swing * rising_and_falling(bar / bars + turn);
        for voicing in &mut choices[index] {
            let top = f64::from(voicing.keys.last().copied().unwrap_or(0));
            voicing.cost += WISHED * (top - wanted).abs();
        }
    }
}

/// The most strokes of a lap that may have one note on top, in per cent, before that note is made dearer.
const MOST_PER_CENT: usize = 20;
/// How much dearer at a time and how often: all together far less than what a leap of a fourth costs.
const DEARER: f64 = 1.0;
const TIMES: usize = 12;

/// The way through the chords on which the top voice wanders most: the note that it sits on most is made dearer until it does
/// no more, or as long as that helps. A chord counts as often as it is struck.
fn evened(choices: &mut [Vec<Voicing>], hits: &[Hit]) -> Vec<Option<usize>> {
    let mut best = (usize::MAX, Vec::new());
    let steps = leading::Steps::of(choices, RESTLESS);
    for _ in 0..TIMES {
        let chosen = steps.lead(choices);
        let mut strokes = [0_usize; 128];
        for hit in hits {
            if let ChordRef::InLap(index) = hit.chord
                && let Some(choice) = chosen[index]
                && let Some(top) = choices[index][choice].keys.last()
            {
                strokes[usize::from(*top & 0x7f)] += 1;
            }
        }
        let all: usize = strokes.iter().sum();
        let (top, most) = (0..)
            .zip(strokes)
            .max_by_key(|(_, count)| *count)
            .unwrap_or((0, 0));
        if most < best.0 {
            best = (most, chosen);
        }
        if 100 * most <= MOST_PER_CENT * all {
            break;
        }
        let sits = |voicing: &&mut Voicing| voicing.keys.last() == Some(&top);
        let voicings = choices.iter_mut().flatten().filter(sits);
        voicings.for_each(|voicing| voicing.cost += DEARER);
    }
    best.1
}

fn only_guides(scene: &Scene<'_>, chord: &SceneChord<'_>) -> bool {
    chord.len() <= Tick(2 * PPQ) && scene.score.tempo.qpm() >= GUIDES_FROM_QPM
}

/// Up to the next stroke, its chord's end or the lap's end at the longest; off-beats mostly short.
fn length(scene: &Scene<'_>, hit: &Hit, next: Option<&Hit>) -> Tick {
    let score = scene.score;
    let chord_end = match hit.chord {
        ChordRef::InLap(index) => scene.chords[index].end,
        ChordRef::Next => score.lap.len,
    };
    let room = chord_end
        .min(score.lap.len)
        .min(next.map_or(score.lap.len, |next| next.at))
        - hit.at;
    let ends = scene.ending.filter(|_| next.is_none());
    let stabs = ends == Some(Ending::Button);
    let held = score.is_plain() || score.feel == Feel::Ballad || ends.is_some();
    let draw = choice::fraction(
        score.seed,
        &[SALT, u64::from(score.pass), hit.at.0 as u64, 0],
    );
    let wanted = match (hit.push, hit.off_beat) {
        _ if stabs => PPQ / 3,
        _ if held => room.0,
        (true, _) => PPQ * 3 / 2,
        (false, true) if draw < 0.6 => PPQ * 2 / 5,
        (false, true) => PPQ,
        (false, false) if draw < 0.3 => PPQ / 2,
        (false, false) => PPQ * 7 / 4,
    };
    // A breath before the next stroke, so that a struck key was let go.
    let breath = (room.0 / 8).min(40);
    Tick(wanted.min(room.0 - breath).max(1))
}

fn loudness(scene: &Scene<'_>, hit: &Hit, index: usize) -> u8 {
    let score = scene.score;
    let base = match (score.feel, hit.push, hit.off_beat) {
        (Feel::Ballad, ..) => 54,
        _ if score.is_plain() => 62,
        (_, true, _) => 72,
        (_, _, true) => 68,
        _ => 63,
    };
    choice::velocity(
        base,
        5,
        score.seed,
        &[SALT, u64::from(score.pass), index as u64, 1],
    )
}
