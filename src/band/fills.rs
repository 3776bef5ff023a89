//! What a drummer does beside the time: fills that lead into sections, a mark where one begins, answers to the comping, and one
//! arc over the choruses. Only where the band is free.

use super::scene::Scene;
use super::{choice, grid};
use crate::chart::Feel;
use crate::drill::BandStyle;
use crate::time::{PPQ, Tick};

/// Salt of the choices made here.
const SALT: u64 = 8;

/// How much the band gives in a chorus, 0 to 1: sparse at first, then growing, a breath, and again.
const ARC: [f64; 6] = [0.35, 0.5, 0.65, 0.8, 1.0, 0.6];

/// How much the band gives in this pass.
pub(super) fn intensity(scene: &Scene<'_>) -> f64 {
    match scene.score.band {
        BandStyle::Free => ARC[scene.score.pass as usize % ARC.len()],
        BandStyle::Plain | BandStyle::Steady => 0.5,
    }
}

/// Whether a bar of the lap is the last of a section; the lap's last one always is.
pub(super) fn ends_section(scene: &Scene<'_>, index: usize) -> bool {
    index + 1 == scene.bars.len() || begins_section(scene, index + 1)
}

/// Whether a section begins with a bar; the lap's first one always does.
pub(super) fn begins_section(scene: &Scene<'_>, index: usize) -> bool {
    index == 0 || scene.score.sections.contains(&index)
}

/// A stroke of a fill or an answer: its place in the bar, its drum, its force.
pub(super) type Played = (Tick, u8, u8);

/// From where in a bar a fill is played, if one is: the last half, the whole bar, or two whole bars before a section.
pub(super) fn fill_from(scene: &Scene<'_>, index: usize) -> Option<Tick> {
    let score = scene.score;
    if score.band != BandStyle::Free || score.last_time && index + 1 == scene.bars.len() {
        return None;
    }
    let length = |end: usize| {
        let places = [SALT, u64::from(score.pass), end as u64, 1];
        let draw = choice::fraction(score.seed, &places);
        if draw < 0.55 {
            FillLength::Half
        } else if draw < 0.9 || score.feel == Feel::Ballad {
            FillLength::Bar
        } else {
            FillLength::Two
        }
    };
    let pulses = grid::pulses(scene.bars[index].meter);
    if ends_section(scene, index) {
        return Some(match length(index) {
            FillLength::Half => pulses[pulses.len() / 2],
            FillLength::Bar | FillLength::Two => Tick(0),
        });
    }
    let two = ends_section(scene, index + 1) && length(index + 1) == FillLength::Two;
    two.then_some(Tick(0))
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FillLength {
    Half,
    Bar,
    Two,
}

/// The strokes of a fill in a bar, on its eighths: around the drums from high to low, with rests, the last eighth never
/// silent.
pub(super) fn fill(scene: &Scene<'_>, index: usize, from: Tick) -> Vec<Played> {
    use super::kit::{BRUSH_TAP, HIGH_TOM, KICK, LOW_TOM, SNARE};
    let bar = &scene.bars[index];
    let step = grid::step(bar.meter);
    let len = bar.end - bar.start;
    let steps = (len - from).0 / step.0;
    let draw = |step: i64, what: u64| {
        let places = [
            SALT,
            u64::from(scene.score.pass),
            index as u64,
            step as u64,
            what,
        ];
        choice::fraction(scene.score.seed, &places)
    };
    let soft = scene.score.feel == Feel::Ballad;
    (0..steps)
        .filter_map(|i| {
            let last = i + 1 == steps;
            let on_beat = (from.0 + i * step.0) % PPQ == 0;
            let plays = last || draw(i, 2) < if on_beat { 0.8 } else { 0.65 };
            let share = i as f64 / steps as f64 + 0.4 * (draw(i, 3) - 0.5);
            let key = match share {
                _ if soft => BRUSH_TAP,
                _ if draw(i, 4) < 0.12 => KICK,
                share if share < 0.4 => SNARE,
                share if share < 0.75 => HIGH_TOM,
                _ => LOW_TOM,
            };
            let force = 44.0 + 16.0 * i as f64 / steps as f64 + if on_beat { 6.0 } else { 0.0 };
            let force = if soft { force * 0.5 } else { force };
            plays.then_some((from + Tick(i * step.0), key, force as u8))
        })
        .collect()
}

/// Where the left hand answers the comping in a bar: off-beats on which the comping (in the order of time) rests and the player
/// is not asked for anything.
pub(super) fn answers(scene: &Scene<'_>, index: usize, comped: &[Tick]) -> Vec<Played> {
    use super::kit::{KICK, SNARE};
    let score = scene.score;
    if score.band != BandStyle::Free
        || !matches!(score.feel, Feel::Swing | Feel::Waltz | Feel::Shuffle)
    {
        return Vec::new();
    }
    let bar = &scene.bars[index];
    let step = grid::step(bar.meter);
    let wanted = 0.10 + 0.22 * intensity(scene);
    let near = |at: Tick, of: Tick| (at - of).0.abs() < step.0;
    // What is asked for lies no farther than a bar from its chord.
    let around = bar.end - bar.start;
    let chords = &score.lap.chords;
    let first = chords.partition_point(|chord| chord.start + chord.len + around <= bar.start);
    let end = chords.partition_point(|chord| chord.start < bar.end + around);
    let sets = score.targets.get(first..end.min(score.targets.len()));
    let asked = |at: Tick| {
        let notes = sets.into_iter().flatten().flat_map(|set| &set.notes);
        notes.into_iter().any(|note| near(note.at, at))
    };
    let comped = &comped[comped.partition_point(|other| *other + step <= bar.start)..];
    let comped = &comped[..comped.partition_point(|other| *other < bar.end + step)];
    let steps = (bar.end - bar.start).0 / step.0;
    let mut played = Vec::new();
    for i in (1..steps).step_by(2) {
        let place = Tick(i * step.0);
        let at = bar.start + place;
        let places = [SALT, u64::from(score.pass), index as u64, i as u64, 5];
        let draw = choice::fraction(score.seed, &places);
        let comped = comped.iter().any(|other| near(*other, at));
        if draw < wanted && !comped && !asked(at) {
            let key = if draw < 0.25 * wanted { KICK } else { SNARE };
            played.push((place, key, 30 + (draw * 60.0) as u8));
        }
    }
    played
}
