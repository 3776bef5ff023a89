//! The bass: what it plays where. The line itself is drawn in `line`.

use super::ending::Ending;
use super::line;
use super::onset::{LineTask, Onset};
use super::scene::{ChordRef, Scene, SceneBar};
use super::{choice, grid, skips, swing, wishes};
use crate::chart::Feel;
use crate::drill::BandStyle;
use crate::time::{PPQ, Part, Tick, TimedNote};

/// Salt of the choices made here.
const SALT: u64 = 3;
/// Pulses a minute of a tune from which on it walks.
const SLOWEST_WALK: f64 = 100.0;
/// Pulses a minute up to which the bass walks: of a band that stays steady, and of one that is asked for all it has.
const QUICKEST_STEADY_WALK: f64 = 240.0;
const QUICKEST_WALK: f64 = 300.0;

/// Where the bass of a straight feel plays, in eighths, in turn.
const STRAIGHT: [&[i64]; 5] = [
    &[0, 3, 4, 7],
    &[0, 3, 6],
    &[0, 4, 7],
    &[0, 3, 4, 6],
    &[0, 3, 7],
];

/// How the bass goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Style {
    /// A note every pulse.
    Walking,
    /// Root and answer, two a bar (one in a bar of three).
    Two,
    /// Root, fifth, fifth, next root.
    Bossa,
    /// Root and fifth between the beats, and a note that leads on.
    Straight,
}

/// The bass of the lap.
pub(super) fn bass(scene: &Scene<'_>) -> Vec<TimedNote> {
    if !scene.score.bass {
        return Vec::new();
    }
    let onsets = onsets(scene);
    let keys = line::draw(scene, &onsets);
    let mut notes = Vec::new();
    let stabs = scene.ending == Some(Ending::Button);
    for (i, (onset, key)) in onsets.iter().zip(&keys).enumerate() {
        let chord_end = match onset.chord {
            ChordRef::InLap(index) => scene.chords[index].end,
            ChordRef::Next => scene.score.lap.len,
        };
        let next = onsets
            .get(i + 1)
            .map_or(scene.score.lap.len, |next| next.at);
        // A bossa root before the bar belongs to the next chord and still ends at the next note.
        let room = next.min(chord_end).max(onset.at + Tick(1)) - onset.at;
        let accent = if onset.on_pulse { 80 } else { 74 };
        let last = i + 1 == onsets.len();
        let room = if last && stabs {
            Tick(PPQ / 3).min(room)
        } else {
            room
        };
        notes.push(TimedNote {
            at: onset.at,
            len: Tick((room.0 - (room.0 / 12).min(60)).max(1)),
            part: Part::Bass,
            key: *key,
            velocity: choice::velocity(
                accent,
                4,
                scene.score.seed,
                &[SALT, u64::from(scene.score.pass), i as u64],
            ),
        });
    }
    skips::with_skips(scene, &onsets, notes)
}

fn style(scene: &Scene<'_>, bar: &SceneBar) -> Style {
    let score = scene.score;
    let four = bar.meter.bar_ticks().0 == 4 * PPQ && bar.meter.unit() <= 4;
    // Whoever practises a quick tune slowly is to hear it walk.
    let [now, tune] =
        [score.tempo, score.tune_tempo].map(|tempo| grid::pulse_rate(bar.meter, tempo.qpm()));
    let written = now.max(tune);
    let quickest = if score.band == BandStyle::Free {
        QUICKEST_WALK
    } else {
        QUICKEST_STEADY_WALK
    };
    if score.feel == Feel::Bossa && four {
        return Style::Bossa;
    }
    if score.feel == Feel::Straight && four && !score.is_plain() && score.pass > 0 {
        return Style::Straight;
    }
    let slow_or_fast = score.feel != Feel::Waltz && (written < SLOWEST_WALK || now > quickest);
    if slow_or_fast || score.is_plain() || score.pass == 0 || score.feel == Feel::Ballad {
        Style::Two
    } else {
        Style::Walking
    }
}

/// All notes of the bass, as places and tasks.
fn onsets(scene: &Scene<'_>) -> Vec<Onset> {
    let mut onsets = Vec::new();
    let last = scene.bars.len().saturating_sub(1);
    for (index, bar) in scene.bars.iter().enumerate() {
        let style = style(scene, bar);
        let ending = scene.ending.filter(|_| index == last);
        let mut places = match ending {
            Some(ending) => ending.bass(),
            None => places(scene, bar, style, index),
        };
        places.extend(
            scene
                .chords_from(bar.start + Tick(1), bar.end)
                .iter()
                .map(|chord| chord.start - bar.start),
        );
        places.sort_unstable();
        places.dedup();
        for place in places {
            onsets.extend(onset(scene, bar, style, place));
        }
    }
    let changes: Vec<bool> = (0..onsets.len())
        .map(|i| leads_on(scene, &onsets, i))
        .collect();
    for (onset, leads) in onsets.iter_mut().zip(changes) {
        if onset.task == LineTask::Free && leads {
            onset.task = LineTask::Approach;
        } else if onset.task == LineTask::Free && onset.half {
            onset.task = LineTask::Tone;
        }
    }
    onsets
}

/// Where the style plays in a bar, as written.
fn places(scene: &Scene<'_>, bar: &SceneBar, style: Style, index: usize) -> Vec<Tick> {
    let pulses = grid::pulses(bar.meter);
    match style {
        Style::Walking => pulses,
        Style::Bossa => {
            let mut steps = vec![0, 3, 4];
            if bossa_may_push(scene, bar) {
                steps.push(7);
            }
            steps.into_iter().map(|step| Tick(step * PPQ / 2)).collect()
        }
        Style::Straight => straight(scene, bar, index),
        Style::Two => {
            let mut places = vec![Tick(0)];
            places.extend(grid::half_way(pulses.len()).map(|half| pulses[half]));
            let score = scene.score;
            let draw =
                choice::fraction(score.seed, &[SALT, u64::from(score.pass), index as u64, 1]);
            // Now and then a good player walks into the next bar.
            if pulses.len() > 2 && !score.is_plain() && score.pass > 0 && draw < 0.3 {
                places.extend(pulses.last());
            }
            places
        }
    }
}

/// A pattern of its own for each bar; where the chord changes within it, each is led into.
fn straight(scene: &Scene<'_>, bar: &SceneBar, index: usize) -> Vec<Tick> {
    let score = scene.score;
    let turn = u64::from(score.pass) * scene.bars.len() as u64 + index as u64;
    let changes = scene.chords_from(bar.start + Tick(1), bar.end);
    let steps = match changes {
        [] => STRAIGHT[wishes::card(scene, 12, turn, STRAIGHT.len())],
        _ => STRAIGHT[0],
    };
    steps.iter().map(|step| Tick(step * PPQ / 2)).collect()
}

/// The bossa's root before the bar: only in time with a player who is past the roots.
fn bossa_may_push(scene: &Scene<'_>, bar: &SceneBar) -> bool {
    let next_sounds = scene
        .chord_after(bar)
        .is_some_and(|next| scene.chord(next).sounds());
    let here = scene.chord_at(bar.end - Tick(PPQ / 2));
    let room = here.is_some_and(|i| scene.chords[i].start + Tick(PPQ) <= bar.end);
    next_sounds && room && !scene.root_stage && !scene.score.is_plain()
}

/// What is played at `place` of a bar; `None` in silence.
fn onset(scene: &Scene<'_>, bar: &SceneBar, style: Style, place: Tick) -> Option<Onset> {
    let written = bar.start + place;
    let index = scene.chord_at(written)?;
    let chord = &scene.chords[index];
    if !chord.sounds() {
        return None;
    }
    let pulses = grid::pulses(bar.meter);
    let pulse = pulses.iter().position(|pulse| *pulse == place);
    let half = pulse.is_some() && pulse == grid::half_way(pulses.len());
    let bossa_push = style == Style::Bossa && place.0 == 7 * PPQ / 2 && chord.start != written;
    let ends = scene.ending.is_some() && bar.end == scene.score.lap.len;
    let task = if chord.start == written || bossa_push {
        LineTask::Root
    } else if ends && place.0 == PPQ {
        LineTask::Fifth
    } else if ends {
        LineTask::Again
    } else if place.0 == 0 && style == Style::Walking && !scene.root_stage {
        LineTask::Midway
    } else if place.0 == 0 {
        LineTask::Again
    } else if style == Style::Bossa || style == Style::Straight && chord.end > written + Tick(PPQ) {
        LineTask::Fifth
    } else if style == Style::Two && half {
        LineTask::Answer
    } else {
        LineTask::Free
    };
    let (feel, tempo) = (scene.score.feel, scene.score.tempo);
    Some(Onset {
        at: bar.start + swing::swung(place, feel, bar.meter, tempo),
        chord: if bossa_push {
            scene.chord_after(bar)?
        } else {
            ChordRef::InLap(index)
        },
        task,
        on_pulse: pulse.is_some(),
        half,
    })
}

/// Whether the note after the `i`th is the first of a chord or a bar, so that the `i`th leads into it.
fn leads_on(scene: &Scene<'_>, onsets: &[Onset], i: usize) -> bool {
    match onsets.get(i + 1) {
        Some(next) => matches!(next.task, LineTask::Root | LineTask::Again),
        None => scene.next.as_ref().is_some_and(|next| next.sounds()),
    }
}
