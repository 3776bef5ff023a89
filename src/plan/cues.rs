//! What the voice says, and where it may: on a beat like a leader's call, done before the change, never near a
//! place.

use crate::audio::CUE_WINDOWS;
use crate::chart::{Lap, LapChord};
use crate::display::Phase;
use crate::drill::{self, LapChordView, LayOut, Names, Places, Stage, TargetNote, Voice};
use crate::harmony::{ChordInContext, Harmony};
use crate::plan::Material;
use crate::plan::pass::PassKind;
use crate::plan::steps::Step;
use crate::plan::take::Missed;
use crate::speech::{self, FormLimit, PhraseSet, SpokenNote};
use crate::time::Tick;
use arrayvec::ArrayVec;

/// The voice keeps this far from a place.
const PLACE_GUARD_MS: f64 = 150.0;
/// It ends at least this long before the change, or a beat.
const BEFORE_CHANGE_MS: f64 = 600.0;
/// A cue is heard at most this many beats before its change: two bars of four.
const LOOK_BACK_BEATS: usize = 8;
/// Before a change whose notes are named, other words leave so much time free.
pub(crate) const FREE_BEFORE_MS: f64 = 2500.0;
/// The shortest window worth offering.
const LEAST_MS: f64 = 200.0;
/// How long before its first window a cue is handed over.
const HAND_OVER_MS: f64 = 250.0;

/// A cue that is planned.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedCue {
    /// When it is handed to the player.
    pub hand_over: Tick,
    /// What to say.
    pub phrases: PhraseSet,
    /// How much of it at the most.
    pub limit: FormLimit,
    /// Where it may sound.
    pub windows: ArrayVec<(Tick, Tick), CUE_WINDOWS>,
    /// When it must have ended.
    pub deadline: Tick,
    /// The chord of the form it names.
    pub form_chord: Option<usize>,
}

/// Plans the cues for the targets of all steps. `counts` are the beats of the plan, `missed` is to be named again;
/// `ms` gives the time of a tick.
pub fn target_cues(
    steps: &[Step],
    counts: &[Tick],
    names: Names,
    missed: Option<&Missed>,
    ms: &dyn Fn(Tick) -> f64,
) -> Vec<PlannedCue> {
    let guarded = guarded_places(steps, ms);
    let mut cues = Vec::new();
    let mut free_from_ms = steps.first().map_or(0.0, |step| ms(step.start));
    for step in steps.iter().skip(1) {
        let again = missed.is_some_and(|missed| missed.names(step));
        let Some((phrases, limit)) = phrases(step, names, again) else {
            continue;
        };
        let change_count = counts.partition_point(|count| *count < step.start);
        let a_beat_before = counts
            .get(change_count.saturating_sub(1))
            .copied()
            .unwrap_or(step.start);
        let end_ms = ms(a_beat_before).min(ms(step.start) - BEFORE_CHANGE_MS);
        // From where the cue before had to be done: chords too short to be named leave their time to this one.
        let look_back = change_count.saturating_sub(LOOK_BACK_BEATS);
        let first_count = counts
            .partition_point(|count| ms(*count) < free_from_ms)
            .max(look_back);
        let beats = &counts[first_count.min(change_count)..change_count];
        let windows = match limit {
            FormLimit::None => ArrayVec::new(),
            _ => windows(beats, a_beat_before, end_ms, &guarded, ms),
        };
        if limit != FormLimit::None {
            free_from_ms = end_ms;
        }
        let hand_over = hand_over(beats, &windows, counts, ms);
        let form_chord = step.form_chord();
        cues.push(PlannedCue {
            hand_over,
            phrases,
            limit,
            windows,
            deadline: step.start,
            form_chord,
        });
    }
    cues
}

/// Where the notes fall, said ahead of each pass of a stage in which that turns, whatever the voice names. `targets` are the
/// cues for the notes: they have the time right before a change.
pub fn place_calls(
    steps: &[Step],
    counts: &[Tick],
    names: Names,
    targets: &[PlannedCue],
    ms: &dyn Fn(Tick) -> f64,
) -> Vec<PlannedCue> {
    let call = |pair: &[Step]| {
        let [before, step] = pair else { return None };
        let (pass, standing) = (&step.pass, &step.pass.standing);
        let stage = standing.stage_of(&pass.material);
        let turns = matches!(&stage.places, Places::Rotate(turns) if turns.len() > 1);
        let begins = *standing != before.pass.standing || before.pass.kind == PassKind::CountIn;
        if !turns || !begins || !matches!(pass.kind, PassKind::Music(_)) {
            return None;
        }
        let phrases = speech::places_phrases(stage.places_in(standing.pass), names)?;
        let (from, to) = room_for_call((before, step), counts, targets, ms)?;
        announcement(phrases, steps, counts, from, to, ms)
    };
    steps.windows(2).filter_map(call).collect()
}

/// The counts from and before which a call for the pass that begins with `step` may be said.
fn room_for_call(
    (before, step): (&Step, &Step),
    counts: &[Tick],
    targets: &[PlannedCue],
    ms: &dyn Fn(Tick) -> f64,
) -> Option<(Tick, Tick)> {
    let first = counts.partition_point(|count| *count < step.start);
    let place = step.places.first().copied().unwrap_or(step.start);
    let is_named = |cue: &PlannedCue| cue.deadline == step.start && !cue.windows.is_empty();
    let free_ms = match targets.iter().any(is_named) {
        true => FREE_BEFORE_MS,
        false => BEFORE_CHANGE_MS,
    };
    let limit_ms = ms(place.min(step.start)) - free_ms;
    let after = counts[..first].partition_point(|count| ms(*count) <= limit_ms);
    let to = counts[after.checked_sub(1)?];
    let from = counts[first.saturating_sub(LOOK_BACK_BEATS)];
    // In a count-in the first half is the stage's name's.
    let from = match before.pass.kind {
        PassKind::CountIn => from.max(middle(before.start, before.end)),
        _ => from,
    };
    Some((from, to))
}

/// The tick half way.
pub(crate) fn middle(from: Tick, to: Tick) -> Tick {
    Tick(from.0 + (to - from).0 / 2)
}

/// Windows for an announcement anywhere in `from..to`, clear of places.
pub fn announcement(
    phrases: PhraseSet,
    steps: &[Step],
    counts: &[Tick],
    from: Tick,
    to: Tick,
    ms: &dyn Fn(Tick) -> f64,
) -> Option<PlannedCue> {
    let guarded = guarded_places(steps, ms);
    let first = counts.partition_point(|count| *count < from);
    let after = counts.partition_point(|count| *count < to);
    let beats = &counts[first.min(after)..after];
    let windows = windows(beats, to, ms(to), &guarded, ms);
    let hand_over = windows.first()?.0;
    Some(PlannedCue {
        hand_over,
        phrases,
        limit: FormLimit::Full,
        windows,
        deadline: to,
        form_chord: None,
    })
}

/// What is said for the targets of a step, once more if `again`; `None` where the voice is silent.
fn phrases(step: &Step, names: Names, again: bool) -> Option<(PhraseSet, FormLimit)> {
    let wanted = match step.pass.help.voice {
        Voice::Off => false,
        Voice::Always => true,
        Voice::FirstPass => step.pass.standing.pass == 0 || again,
    };
    let sung = step.pass.kind == PassKind::Music(Phase::Sing);
    if !wanted || sung || step.pass.kind == PassKind::Held {
        return None;
    }
    let set = step.set().filter(|set| !set.notes.is_empty())?;
    let context = step.pass.context(step.chord?)?;
    let phrases = phrases_for(context, &set.notes, names)?;
    Some((
        phrases,
        speech::form_limit(step.pass.tempo, step.end - step.start),
    ))
}

/// The whole name of a step's targets, whatever the tempo: for "say again".
pub fn phrases_of(step: &Step, names: Names) -> Option<PhraseSet> {
    let set = step.set().filter(|set| !set.notes.is_empty())?;
    phrases_for(step.pass.context(step.chord?)?, &set.notes, names)
}

/// What a stage's first passes over a lap may say.
pub fn phrases_of_lap(
    material: &Material,
    stage: &Stage,
    lap: &Lap,
    names: Names,
) -> Vec<PhraseSet> {
    let view = |chord: &LapChord| LapChordView {
        start: chord.start,
        len: chord.len,
        meter: lap.bars[chord.bar].meter,
        context: &material.contexts[chord.form_chord],
    };
    let views: Vec<_> = lap.chords.iter().map(view).collect();
    let sets = drill::lay_out(
        stage,
        &LayOut {
            chords: &views,
            pass: 0,
            seed: 0,
        },
    );
    let said = views.iter().zip(&sets);
    said.filter_map(|(view, set)| phrases_for(view.context, &set.notes, names))
        .collect()
}

fn phrases_for(context: &ChordInContext, notes: &[TargetNote], names: Names) -> Option<PhraseSet> {
    let Harmony::Chord(symbol) = &context.harmony else {
        return None;
    };
    let spoken = notes.iter().map(|note| SpokenNote {
        pitch: note.pitch,
        degree: note.degree,
        direction: note.direction,
    });
    let phrases = speech::target_phrases(&spoken.collect::<Vec<_>>(), Some(symbol), names);
    (!phrases.full.is_empty()).then_some(phrases)
}

/// Stretches around places where nothing is said.
fn guarded_places(steps: &[Step], ms: &dyn Fn(Tick) -> f64) -> Vec<(f64, f64)> {
    let playing = steps.iter().filter(|step| !step.is_listening());
    let mut places: Vec<f64> = playing
        .flat_map(|step| &step.places)
        .map(|at| ms(*at))
        .collect();
    places.sort_by(f64::total_cmp);
    places
        .into_iter()
        .map(|at| (at - PLACE_GUARD_MS, at + PLACE_GUARD_MS))
        .collect()
}

fn windows(
    beats: &[Tick],
    end: Tick,
    end_ms: f64,
    guarded: &[(f64, f64)],
    ms: &dyn Fn(Tick) -> f64,
) -> ArrayVec<(Tick, Tick), CUE_WINDOWS> {
    let mut windows = ArrayVec::new();
    for beat in beats.iter().rev() {
        let start_ms = ms(*beat);
        // The first guarded stretch that ends after this beat.
        let next = guarded.partition_point(|(_, to)| *to <= start_ms);
        let (from_ms, _) = guarded.get(next).copied().unwrap_or((f64::MAX, f64::MAX));
        if from_ms <= start_ms || end_ms.min(from_ms) - start_ms < LEAST_MS {
            continue;
        }
        let stop = tick_before(*beat, end, end_ms.min(from_ms), ms);
        if windows.try_push((*beat, stop)).is_err() {
            break;
        }
    }
    windows.reverse();
    windows
}

/// The last tick in `from..=to` whose time does not pass `limit_ms`.
fn tick_before(from: Tick, to: Tick, limit_ms: f64, ms: &dyn Fn(Tick) -> f64) -> Tick {
    let (mut low, mut high) = (from.0, to.0.max(from.0));
    while low < high {
        let middle = low + (high - low + 1) / 2;
        if ms(Tick(middle)) <= limit_ms {
            low = middle
        } else {
            high = middle - 1
        }
    }
    Tick(low)
}

/// A beat or two before the first window, so that the player has it in time.
fn hand_over(
    beats: &[Tick],
    windows: &[(Tick, Tick)],
    counts: &[Tick],
    ms: &dyn Fn(Tick) -> f64,
) -> Tick {
    let first = windows
        .first()
        .map(|window| window.0)
        .or(beats.first().copied())
        .unwrap_or(Tick(0));
    let mut index = counts.partition_point(|count| *count < first);
    while index > 0
        && counts
            .get(index)
            .is_none_or(|count| ms(first) - ms(*count) < HAND_OVER_MS)
    {
        index -= 1;
    }
    counts.get(index).copied().unwrap_or(first)
}
