//! What the voice says, and where it may: on a beat like a leader's call, done before the change, never near a
//! place.

use super::Material;
use super::missed::Missed;
use super::pass::{PassKind, as_drilled};
use super::steps::PlanStep;
use crate::audio::CUE_WINDOWS;
use crate::chart::Lap;
use crate::drill::{self, KeyRange, LayOut, Names, Phase, Stage, TargetNote, Voice};
use crate::harmony::{ChordInContext, Harmony};
use crate::speech::{self, FormLimit, PhraseSet, SpokenNote};
use crate::time::{Tick, UsPerQuarter};
use arrayvec::ArrayVec;
use std::collections::VecDeque;

/// The voice keeps this far from a place.
const PLACE_GUARD_MS: f64 = 150.0;
/// It ends at least this long before the change, or a beat.
pub(super) const BEFORE_CHANGE_MS: f64 = 600.0;
/// A cue is heard at most this many beats before its change: two bars of four.
pub(super) const LOOK_BACK_BEATS: usize = 8;
/// The shortest window worth offering.
const LEAST_MS: f64 = 200.0;
/// How long before its first window a cue is handed over.
const HAND_OVER_MS: f64 = 250.0;

/// Stretches of time in which a cue may sound.
pub type Windows = ArrayVec<(Tick, Tick), CUE_WINDOWS>;

/// A cue that is planned.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedCue {
    /// When it is handed to the player.
    pub hand_over: Tick,
    pub phrases: PhraseSet,
    /// How much of it at the most.
    pub limit: FormLimit,
    /// Where it may sound.
    pub windows: Windows,
    /// Where it may sound if other cues have taken that room, one after the other.
    pub otherwise: VecDeque<Windows>,
    /// When it must have ended.
    pub deadline: Tick,
    /// What it is about.
    pub about: CueAbout,
}

impl PlannedCue {
    /// The same without the windows that have begun by `now`.
    pub(super) fn within(mut self, now: Tick) -> PlannedCue {
        let all = std::iter::once(&mut self.windows).chain(&mut self.otherwise);
        for windows in all {
            windows.retain(|(from, _)| *from > now);
        }
        self.with_the_first_windows()
    }

    /// The same with the first windows that are any.
    pub(super) fn with_the_first_windows(mut self) -> PlannedCue {
        while self.windows.is_empty() {
            match self.otherwise.pop_front() {
                Some(windows) => self.windows = windows,
                None => break,
            }
        }
        self
    }
}

/// What a cue is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CueAbout {
    /// The target notes over a chord of the form (its index there).
    Notes(usize),
    /// What a leader calls where something else begins.
    Call,
    /// An answer to the foot, or how the last round went.
    Name,
}

impl CueAbout {
    /// The chord of the form whose notes are named.
    pub fn form_chord(self) -> Option<usize> {
        match self {
            CueAbout::Notes(form_chord) => Some(form_chord),
            CueAbout::Call | CueAbout::Name => None,
        }
    }
}

/// Plans what is said over a row of steps.
pub struct CuePlanner<'a> {
    pub(super) steps: &'a [PlanStep],
    /// The beats of the plan.
    pub(super) counts: &'a [Tick],
    /// Stretches around places where nothing is said, in ms.
    guarded: Vec<(f64, f64)>,
    /// The time of a tick.
    pub(super) ms: &'a dyn Fn(Tick) -> f64,
}

impl<'a> CuePlanner<'a> {
    /// `counts` are the beats of the plan; `ms` gives the time of a tick.
    pub fn new(
        steps: &'a [PlanStep],
        counts: &'a [Tick],
        ms: &'a dyn Fn(Tick) -> f64,
    ) -> CuePlanner<'a> {
        let playing = steps.iter().filter(|step| !step.is_listening());
        let places = playing.flat_map(|step| &step.places);
        let mut places: Vec<f64> = places.map(|at| ms(*at)).collect();
        places.sort_by(f64::total_cmp);
        let around = |at| (at - PLACE_GUARD_MS, at + PLACE_GUARD_MS);
        CuePlanner {
            steps,
            counts,
            guarded: places.into_iter().map(around).collect(),
            ms,
        }
    }

    /// The cues for the targets of all steps; `missed` is to be named again.
    pub fn target_cues(&self, names: Names, missed: Option<&Missed>) -> Vec<PlannedCue> {
        let mut cues = Vec::new();
        let mut free_from_ms = self.steps.first().map_or(0.0, |step| (self.ms)(step.start));
        for step in self.steps.iter().skip(1) {
            let again = missed.is_some_and(|missed| missed.names(step));
            if let (Some(form_chord), Some((phrases, limit))) =
                (step.form_chord(), phrases(step, names, again))
            {
                let about = CueAbout::Notes(form_chord);
                cues.push(self.target_cue(step, about, phrases, limit, &mut free_from_ms));
            }
        }
        cues
    }

    /// The cue for one step; it may begin where the one before had to be done: chords too short to be named leave their
    /// time to this one.
    fn target_cue(
        &self,
        step: &PlanStep,
        about: CueAbout,
        phrases: PhraseSet,
        limit: FormLimit,
        free_from_ms: &mut f64,
    ) -> PlannedCue {
        let (counts, ms) = (self.counts, self.ms);
        let change_count = counts.partition_point(|count| *count < step.start);
        let a_beat_before = counts.get(change_count.saturating_sub(1)).copied();
        let a_beat_before = a_beat_before.unwrap_or(step.start);
        let end_ms = ms(a_beat_before).min(ms(step.start) - BEFORE_CHANGE_MS);
        let look_back = change_count.saturating_sub(LOOK_BACK_BEATS);
        let first_count = counts
            .partition_point(|count| ms(*count) < *free_from_ms)
            .max(look_back);
        let beats = &counts[first_count.min(change_count)..change_count];
        let mut windows = ArrayVec::new();
        if limit != FormLimit::None {
            windows = self.windows(beats, a_beat_before, end_ms);
            *free_from_ms = end_ms;
        }
        PlannedCue {
            hand_over: self.hand_over(beats, &windows),
            phrases,
            limit,
            windows,
            otherwise: VecDeque::new(),
            deadline: step.start,
            about,
        }
    }

    /// An announcement anywhere in `from..to`, clear of places; `None` where there is no room.
    pub fn announcement(&self, phrases: PhraseSet, from: Tick, to: Tick) -> Option<PlannedCue> {
        let first = self.counts.partition_point(|count| *count < from);
        let windows = self.clear_windows(first, to);
        Some(PlannedCue {
            hand_over: windows.first()?.0,
            phrases,
            limit: FormLimit::Full,
            windows,
            otherwise: VecDeque::new(),
            deadline: to,
            about: CueAbout::Name,
        })
    }

    /// Where something may be said on a beat, clear of places, from the count of index `from` on up to the tick `to`.
    pub(super) fn clear_windows(&self, from: usize, to: Tick) -> Windows {
        let after = self.counts.partition_point(|count| *count < to);
        self.windows(&self.counts[from.min(after)..after], to, (self.ms)(to))
    }

    /// The same between the beats, one for each gap between places.
    pub(super) fn windows_between(&self, from: usize, to: Tick) -> Windows {
        let after = self.counts.partition_point(|count| *count < to);
        let counts = &self.counts[from.min(after)..after];
        let mut gaps: Vec<(Tick, Tick)> = Vec::new();
        for (index, count) in counts.iter().enumerate() {
            let next = counts.get(index + 1).copied().unwrap_or(to);
            for quarter in 0..4 {
                let start = Tick(count.0 + (next.0 - count.0) * quarter / 4);
                let found = self.windows(&[start], to, (self.ms)(to));
                let is_new = |gap: &(Tick, Tick)| gaps.last().is_none_or(|last| last.1 != gap.1);
                gaps.extend(found.first().filter(|gap| is_new(gap)).copied().as_slice());
            }
        }
        gaps.split_off(gaps.len().saturating_sub(CUE_WINDOWS))
            .into_iter()
            .collect()
    }

    /// The same, places or not.
    pub(super) fn any_windows(&self, from: usize, to: Tick) -> Windows {
        let after = self.counts.partition_point(|count| *count < to);
        let beats = self.counts[from.min(after)..after].iter().rev();
        let mut windows: Windows = beats.take(CUE_WINDOWS).map(|beat| (*beat, to)).collect();
        windows.reverse();
        windows
    }

    fn windows(&self, beats: &[Tick], end: Tick, end_ms: f64) -> Windows {
        let mut windows = ArrayVec::new();
        for beat in beats.iter().rev() {
            let start_ms = (self.ms)(*beat);
            // The first guarded stretch that ends after this beat.
            let next = self.guarded.partition_point(|(_, to)| *to <= start_ms);
            let (from_ms, _) = self
                .guarded
                .get(next)
                .copied()
                .unwrap_or((f64::MAX, f64::MAX));
            if from_ms <= start_ms || end_ms.min(from_ms) - start_ms < LEAST_MS {
                continue;
            }
            let stop = self.tick_before(*beat, end, end_ms.min(from_ms));
            if windows.try_push((*beat, stop)).is_err() {
                break;
            }
        }
        windows.reverse();
        windows
    }

    /// The last tick in `from..=to` whose time does not pass `limit_ms`.
    fn tick_before(&self, from: Tick, to: Tick, limit_ms: f64) -> Tick {
        let (mut low, mut high) = (from.0, to.0.max(from.0));
        while low < high {
            let middle = low + (high - low + 1) / 2;
            match (self.ms)(Tick(middle)) <= limit_ms {
                true => low = middle,
                false => high = middle - 1,
            }
        }
        Tick(low)
    }

    /// A beat or two before the first window, so that the player has it in time.
    pub(super) fn hand_over(&self, beats: &[Tick], windows: &[(Tick, Tick)]) -> Tick {
        let (counts, ms) = (self.counts, self.ms);
        let first = windows.first().map(|window| window.0);
        let first = first.or(beats.first().copied()).unwrap_or(Tick(0));
        let mut index = counts.partition_point(|count| *count < first);
        let is_near = |count: &Tick| ms(first) - ms(*count) < HAND_OVER_MS;
        while index > 0 && counts.get(index).is_none_or(is_near) {
            index -= 1;
        }
        counts.get(index).copied().unwrap_or(first)
    }
}

/// What is said for the targets of a step, once more if `again`; `None` where the voice is silent.
fn phrases(step: &PlanStep, names: Names, again: bool) -> Option<(PhraseSet, FormLimit)> {
    let standing = &step.pass.standing;
    let wanted = match step.pass.help.voice {
        Voice::Off => false,
        Voice::Always => true,
        Voice::FirstPass => standing.is_first_played(&step.pass.material) || again,
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
pub fn phrases_of(step: &PlanStep, names: Names) -> Option<PhraseSet> {
    let set = step.set().filter(|set| !set.notes.is_empty())?;
    phrases_for(step.pass.context(step.chord?)?, &set.notes, names)
}

/// Gives what a stage's first passes over a lap may say, place by place.
pub fn phrases_of_lap(
    material: &Material,
    stage: &Stage,
    lap: &Lap,
    names: Names,
    give: &mut impl FnMut(PhraseSet),
) {
    let views = as_drilled(lap, &material.contexts);
    let sets = drill::lay_out(
        stage,
        &LayOut {
            chords: &views,
            pass: 0,
            seed: 0,
            tempo: UsPerQuarter::from_qpm(material.form.tempo_qpm),
            range: KeyRange::GUITAR,
        },
    );
    let said = views.iter().zip(&sets);
    said.filter_map(|(view, set)| phrases_for(view.context, &set.notes, names))
        .for_each(give);
}

fn phrases_for(context: &ChordInContext, notes: &[TargetNote], names: Names) -> Option<PhraseSet> {
    let Harmony::Chord(symbol) = &context.harmony else {
        return None;
    };
    // Of a second that may as well be another nothing is said.
    let toss_up =
        |note: &&TargetNote| note.degree.number == 2 && !context.is_certain_of(note.pitch);
    let named = notes.iter().filter(|note| !toss_up(note));
    let spoken = named.map(|note| SpokenNote {
        pitch: note.pitch,
        degree: note.degree,
        direction: note.direction,
    });
    let phrases = speech::target_phrases(&spoken.collect::<Vec<_>>(), Some(symbol), names);
    (!phrases.full.is_empty()).then_some(phrases)
}
