//! What a take asks for, written out for the judge: pass after pass, as the band plays them.

use crate::band::{swings, swung};
use crate::chart::{Lap, LapBar};
use crate::drill::{KeyRange, LayOut, Phase, Stage, StringRule, TargetSet, lay_out};
use crate::harmony::{ChordInContext, Degree, Pitch};
use crate::judging::verdict::{NoteName, Wanted};
use crate::plan::pass::as_drilled;
use crate::plan::{Material, Standing};
use crate::time::{Meter, PPQ, Tick, UsPerQuarter};
use std::ops::Range;
use std::sync::Arc;

/// The take of one stage: where it loops, how fast, how long.
#[derive(Debug, Clone, PartialEq)]
pub struct StageTake {
    pub standing: Standing,
    pub tempo: UsPerQuarter,
    /// The seed of every choice.
    pub seed: u64,
    /// How long it lasts.
    pub until_ms: f64,
}

/// The most passes that are written out.
const MOST_PASSES: usize = 10_000;

/// Everything to be played from the first full bar on, in the order of time. Only what the stage asks to be played:
/// while it asks to listen, to sing or to breathe nothing is wanted.
pub fn wanted_in(material: &Arc<Material>, plan: &StageTake) -> Vec<Wanted> {
    let mut wanted: Vec<Wanted> = Vec::new();
    let mut standing = plan.standing.clone();
    let mut at = Tick(0);
    for _ in 0..MOST_PASSES {
        if plan.tempo.ms(at) >= plan.until_ms {
            break;
        }
        let material = &standing.walked(material);
        let stage = standing.stage_of(material);
        if standing.breathing {
            let bar = standing.form_bars(material).first().copied().unwrap_or(0);
            let bars = i64::from(stage.cycle.breathe_bars.max(1));
            at += Tick(material.form.bars[bar].meter.bar_ticks().0 * bars);
        } else {
            let lap = standing.lap(material);
            if lap.len <= Tick(0) {
                break;
            }
            if standing.phase(material) == Phase::Play {
                wanted.extend(of_pass(material, &standing, at, plan));
            }
            at += lap.len;
        }
        let stays = standing.stage;
        standing = standing.next(material);
        standing.stage = stays;
    }
    wanted.retain(|want| want.at_ms < plan.until_ms);
    wanted.sort_by(|a, b| a.at_ms.total_cmp(&b.at_ms));
    wanted
}

fn of_pass(
    material: &Material,
    standing: &Standing,
    origin: Tick,
    plan: &StageTake,
) -> Vec<Wanted> {
    let stage = standing.stage_of(material);
    let lap = standing.lap(material);
    let views = as_drilled(&lap, &material.contexts);
    let targets = lay_out(
        stage,
        &LayOut {
            chords: &views,
            pass: standing.turn(material),
            seed: plan.seed,
            tempo: plan.tempo,
            range: KeyRange::GUITAR,
        },
    );
    let asked = PassTargets {
        material,
        fixed: stage.string == StringRule::Same,
        lap: &lap,
        targets: &targets,
        tempo: plan.tempo,
    };
    let all = Tick(i64::MIN)..Tick(i64::MAX);
    let ms = |tick| plan.tempo.ms(origin + tick);
    let found = match stage.is_open_choice() {
        true => rhythm_of(&asked, stage, all, &ms),
        false => wanted_of(&asked, all, &ms),
    };
    found.into_iter().map(|(_, wanted)| wanted).collect()
}

/// What a pass asks for.
pub(crate) struct PassTargets<'a> {
    pub(crate) material: &'a Material,
    /// Whether the octave counts.
    pub(crate) fixed: bool,
    pub(crate) lap: &'a Lap,
    /// A set for each chord of the lap.
    pub(crate) targets: &'a [TargetSet],
    pub(crate) tempo: UsPerQuarter,
}

impl PassTargets<'_> {
    /// The bar that a place lies in, and the last moment that is as right: the ride's for an off-beat.
    fn bar_and_last(&self, at: Tick) -> (LapBar, Tick) {
        let bars = &self.lap.bars;
        let begun = bars.partition_point(|bar| bar.start <= at);
        let bar = bars[begun.saturating_sub(1)];
        let ride = ride_place(self.material, at - bar.start, bar.meter, self.tempo);
        (bar, (bar.start + ride).max(at))
    }
}

/// The places of a rhythm in open choice: any note of the stage's set is right there, and beside them no note is asked for, to
/// the end of the pass.
pub(crate) fn rhythm_of(
    asked: &PassTargets<'_>,
    stage: &Stage,
    within: Range<Tick>,
    ms: &dyn Fn(Tick) -> f64,
) -> Vec<(Tick, Wanted)> {
    let PassTargets { material, lap, .. } = *asked;
    let mut wanted = Vec::new();
    for (set, chord) in asked.targets.iter().zip(&lap.chords) {
        let context = &material.contexts[chord.form_chord];
        let Some(root) = context.root() else { continue };
        let names = names_over(context, root);
        let places = set.rhythm.iter().map(|(_, at)| *at);
        for at in places.filter(|at| within.contains(at)) {
            let (bar, last) = asked.bar_and_last(at);
            let found = Wanted {
                chord: chord.form_chord,
                name: names[usize::from(root.class())],
                midi: root.class(),
                fixed: false,
                choice: true,
                at_ms: ms(at),
                at_last_ms: ms(last),
                on_change: false,
                beat_ms: ms(at + bar.meter.beat_ticks()) - ms(at),
                until_ms: ms(lap.len),
                set: stage.classes_over(context),
                names,
            };
            wanted.push((at, found));
        }
    }
    wanted
}

/// The notes of a pass whose places lie within some ticks of its lap, with their places; `ms` gives the time of a tick
/// of the lap.
pub(crate) fn wanted_of(
    asked: &PassTargets<'_>,
    within: Range<Tick>,
    ms: &dyn Fn(Tick) -> f64,
) -> Vec<(Tick, Wanted)> {
    let PassTargets { material, lap, .. } = *asked;
    let mut wanted = Vec::new();
    for (set, chord) in asked.targets.iter().zip(&lap.chords) {
        let context = &material.contexts[chord.form_chord];
        let Some(root) = context.root() else { continue };
        let classes = set.notes.iter().map(|note| 1 << note.pitch.class());
        let classes = classes.fold(0, |set, class| set | class);
        for note in set.notes.iter().filter(|n| within.contains(&n.at)) {
            let (bar, last) = asked.bar_and_last(note.at);
            let found = Wanted {
                chord: chord.form_chord,
                name: NoteName {
                    degree: note.degree,
                    pitch: note.pitch,
                },
                midi: note.midi,
                fixed: asked.fixed,
                choice: false,
                at_ms: ms(note.at),
                at_last_ms: ms(last),
                on_change: note.at == chord.start,
                beat_ms: ms(note.at + bar.meter.beat_ticks()) - ms(note.at),
                until_ms: ms(chord.start + chord.len),
                set: classes,
                names: names_over(context, root),
            };
            wanted.push((note.at, found));
        }
    }
    wanted
}

fn ride_place(material: &Material, in_bar: Tick, meter: Meter, tempo: UsPerQuarter) -> Tick {
    let feel = material.form.feel;
    if in_bar.0.rem_euclid(PPQ) == PPQ / 2 && swings(feel, meter) {
        swung(in_bar, feel, meter, tempo)
    } else {
        in_bar
    }
}

/// What each pitch class is called over a chord: as its scale names it, else in the usual way.
pub(crate) fn names_over(context: &ChordInContext, root: Pitch) -> [NoteName; 12] {
    const USUAL: [(u8, i8); 12] = [
        (1, 0),
        (2, -1),
        (2, 0),
        (3, -1),
        (3, 0),
        (4, 0),
        (4, 1),
        (5, 0),
        (6, -1),
        (6, 0),
        (7, -1),
        (7, 0),
    ];
    std::array::from_fn(|class| {
        let of_scale = context
            .degrees
            .iter()
            .find(|degree| usize::from(degree.pitch.class()) == class);
        let above = (class as i32 - i32::from(root.class())).rem_euclid(12) as usize;
        let (number, alter) = USUAL[above];
        let degree = of_scale.map_or(Degree::new(number, alter), |degree| degree.degree);
        NoteName {
            degree,
            pitch: degree.above(root),
        }
    })
}
