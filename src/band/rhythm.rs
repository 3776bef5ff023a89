//! When the comping strikes: a cell for each bar, so that every chord is stated and no rhythm wears out.

use super::cells::{self, RhythmCell};
use super::scene::{ChordRef, Scene, SceneBar};
use super::{choice, grid, swing};
use crate::chart::Feel;
use crate::drill::Comping;
use crate::time::{PPQ, Tick};
use std::collections::BTreeMap;

/// Salt of the choices made here.
const SALT: u64 = 1;

/// A stroke of the comping.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Hit {
    /// Where, in ticks of the lap, swung.
    pub at: Tick,
    pub chord: ChordRef,
    /// Whether it comes before its chord.
    pub push: bool,
    /// Whether it falls between the beats.
    pub off_beat: bool,
}

/// A rhythm that could be taken: written ticks from the bar's start.
#[derive(Debug, Clone)]
struct Rhythm {
    places: Vec<Tick>,
    push: bool,
    weight: f64,
}

/// All strokes of the lap in order.
pub(super) fn strokes(scene: &Scene<'_>) -> Vec<Hit> {
    let mut chooser = Chooser::default();
    let mut hits = Vec::new();
    let last = scene.bars.len().saturating_sub(1);
    for (index, bar) in scene.bars.iter().enumerate() {
        let rhythm = match scene.ending.filter(|_| index == last) {
            Some(ending) => Rhythm {
                places: ending.comping(),
                push: false,
                weight: 1.0,
            },
            None => chooser.choose(scene, index),
        };
        for (i, place) in rhythm.places.iter().enumerate() {
            let pushed = rhythm.push && i + 1 == rhythm.places.len();
            let chord = if pushed {
                scene.chord_after(bar)
            } else {
                scene.chord_at(bar.start + *place).map(ChordRef::InLap)
            };
            let Some(chord) = chord.filter(|chord| scene.chord(*chord).sounds()) else {
                continue;
            };
            let played = swing::swung(*place, scene.score.feel, bar.meter, scene.score.tempo);
            hits.push(Hit {
                at: bar.start + played,
                chord,
                push: pushed,
                off_beat: !grid::pulses(bar.meter).contains(place),
            });
        }
    }
    hits
}

/// What was taken so far in this pass.
#[derive(Default)]
struct Chooser {
    used: BTreeMap<Vec<Tick>, u32>,
    before: [Vec<Tick>; 2],
    pushed: bool,
}

impl Chooser {
    /// The rhythm of a bar: the least used of what states its chords, chance deciding between equals.
    fn choose(&mut self, scene: &Scene<'_>, index: usize) -> Rhythm {
        let bar = &scene.bars[index];
        let mut options = options(scene, bar, index, self.pushed);
        // The seam may not join two runs: the last bar never repeats, nor does the second.
        let seam = index == 1 || index + 1 == scene.bars.len();
        let worn = |places: &Vec<Tick>| {
            !places.is_empty()
                && *places == self.before[0]
                && (seam || self.before[0] == self.before[1])
        };
        if options.iter().all(|option| worn(&option.places)) {
            let chords = unstated(scene, bar, self.pushed);
            options.extend(built(
                &chords,
                grid::step(bar.meter),
                scene.score.is_plain(),
            ));
        }
        let light = index % 4 == 3 && !scene.score.is_plain();
        let price = |option: &Rhythm| {
            let used = self.used.get(&option.places).copied().unwrap_or(0);
            let places = [SALT, u64::from(scene.score.pass), index as u64];
            let draw = option.places.iter().map(|place| place.0 as u64);
            let key: Vec<u64> = places.into_iter().chain(draw).collect();
            let heavy = option.places.len().saturating_sub(1) as f64;
            (f64::from(used) + choice::fraction(scene.score.seed, &key)) / option.weight
                + if worn(&option.places) { 1000.0 } else { 0.0 }
                + if option.places == self.before[0] {
                    1.0
                } else {
                    0.0
                }
                + if light { 20.0 * heavy } else { 0.0 }
                // Push after push lifts the time off its feet.
                + if option.push && self.pushed { 3.0 } else { 0.0 }
        };
        let taken = options
            .into_iter()
            .min_by(|a, b| price(a).total_cmp(&price(b)))
            .unwrap_or(Rhythm {
                places: Vec::new(),
                push: false,
                weight: 1.0,
            });
        *self.used.entry(taken.places.clone()).or_default() += 1;
        self.pushed = taken.push;
        self.before.swap(0, 1);
        self.before[0].clone_from(&taken.places);
        taken
    }
}

/// Every rhythm that states the chords of a bar. `pushed`: its first chord already sounds.
fn options(scene: &Scene<'_>, bar: &SceneBar, index: usize, pushed: bool) -> Vec<Rhythm> {
    let score = scene.score;
    let silent = |place: &Tick| {
        let chord = scene.chord_at(bar.start + *place);
        chord.is_none_or(|chord| !scene.chords[chord].sounds())
    };
    let unstated = unstated(scene, bar, pushed);
    let step = grid::step(bar.meter);
    let cells = cells::for_bar(bar.meter, score.feel, score.is_plain(), index);
    let as_rhythm = |cell: &RhythmCell| Rhythm {
        places: cell
            .steps
            .iter()
            .map(|at| Tick(i64::from(*at) * step.0))
            .filter(|place| !silent(place))
            .collect(),
        push: false,
        weight: cell.weight,
    };
    let mut all: Vec<Rhythm> = cells.iter().map(as_rhythm).collect();
    if may_push(scene, bar) {
        with_pushes(&mut all, bar, step);
    }
    all.retain(|rhythm| states_all(rhythm, &unstated, score.is_plain()));
    if pushed {
        all.retain(|rhythm| rhythm.places.first() != Some(&Tick(0)));
    }
    if all.is_empty() {
        all = built(&unstated, step, score.is_plain());
    }
    all
}

/// The chords that a bar has to state: their starts and ends within it.
fn unstated(scene: &Scene<'_>, bar: &SceneBar, pushed: bool) -> Vec<(Tick, Tick)> {
    scene
        .chords_from(bar.start, bar.end)
        .iter()
        .filter(|chord| chord.sounds())
        .map(|chord| (chord.start - bar.start, chord.end.min(bar.end) - bar.start))
        .filter(|(start, _)| !(pushed && start.0 == 0))
        .collect()
}

/// Whether the bar's last off-beat may take the chord after it.
fn may_push(scene: &Scene<'_>, bar: &SceneBar) -> bool {
    let score = scene.score;
    let feel = matches!(
        score.feel,
        Feel::Swing | Feel::Straight | Feel::Bossa | Feel::Shuffle
    );
    let meter = bar.meter.bar_ticks().0 == 4 * PPQ || bar.meter.is_compound();
    // Without the target nothing sounds before its time: the next chord could hold this one's target.
    let allowed = !score.is_plain() && score.comping != Comping::WithoutTarget;
    let off_beat = bar.end - grid::step(bar.meter);
    let next_changes = scene.chord_after(bar).is_some_and(|next| {
        let chord = scene.chord(next);
        chord.sounds() && chord.start == bar.end
    });
    let here = scene.chord_at(off_beat).map(|i| &scene.chords[i]);
    // A silence is not cut short.
    let stays = here.is_some_and(|chord| chord.sounds() && chord.start + Tick(PPQ) <= bar.end);
    feel && meter && allowed && next_changes && stays
}

/// Adds the push alone and to each rhythm of one stroke.
fn with_pushes(all: &mut Vec<Rhythm>, bar: &SceneBar, step: Tick) {
    let push = bar.end - bar.start - step;
    let mut pushes = vec![Rhythm {
        places: vec![push],
        push: true,
        weight: 0.7,
    }];
    for rhythm in all.iter().filter(|rhythm| rhythm.places.len() == 1) {
        pushes.push(Rhythm {
            places: vec![rhythm.places[0], push],
            push: true,
            weight: 0.5,
        });
    }
    all.append(&mut pushes);
}

/// Whether every chord has its stroke; in learning stages on its first beat and nowhere off the cells.
fn states_all(rhythm: &Rhythm, chords: &[(Tick, Tick)], learning: bool) -> bool {
    let own = &rhythm.places[..rhythm.places.len() - usize::from(rhythm.push)];
    chords.iter().all(|(start, end)| {
        if learning {
            own.contains(start)
        } else {
            own.iter().any(|place| place >= start && place < end)
        }
    })
}

/// No cell fits: each chord on its first beat; for variety one of them half a beat late.
fn built(chords: &[(Tick, Tick)], step: Tick, learning: bool) -> Vec<Rhythm> {
    let plain: Vec<Tick> = chords.iter().map(|(start, _)| *start).collect();
    let mut all = vec![Rhythm {
        places: plain.clone(),
        push: false,
        weight: 1.0,
    }];
    if learning {
        return all;
    }
    for (late, (start, end)) in chords.iter().enumerate() {
        // A stroke on the bar's last off-beat would be heard as the next chord's.
        let last = late + 1 == chords.len();
        if *end - *start > if last { step + step } else { step } {
            let mut places = plain.clone();
            places[late] += step;
            all.push(Rhythm {
                places,
                push: false,
                weight: 0.8,
            });
        }
    }
    all
}
