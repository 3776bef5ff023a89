//! What is called where something else begins: read off the row of steps, so that whatever changed the plan (a foot, a stage
//! that comes by itself, the tune's own form) is called in the same way.
//!
//! # Why may a call sound over a place?
//!
//! It may where nothing else is left: in a row of eighths over short chords no beat of the last bars is clear, and hardly a
//! gap between them; a leader who does not call the break is worse than one who calls it over the last notes. Of the calls of
//! the demo's stages at 60 to 100 bpm these are 5 %.

use super::cues::{BEFORE_CHANGE_MS, CueAbout, CuePlanner, LOOK_BACK_BEATS, PlannedCue, Windows};
use super::pass::PassKind;
use super::steps::PlanStep;
use crate::drill::{Names, Phase, Place, Places, Stage};
use crate::harmony::{Key, KeyDeclaration};
use crate::plan::{Loop, Standing};
use crate::speech::{Call, Doing, FormLimit, Hand, PhraseSet, about_ms, call_phrases};
use crate::time::Tick;

/// A section and a key are called up to so many beats ahead: four bars of four.
const FAR_BACK_BEATS: usize = 16;
/// A call is handed over so many beats before it may sound first.
const AHEAD_BEATS: usize = 4;

/// Where something else begins.
struct Turn<'a> {
    before: &'a PlanStep,
    step: &'a PlanStep,
    /// Where what was called before began.
    since: Tick,
    /// The cues for the notes.
    targets: &'a [PlannedCue],
}

impl Turn<'_> {
    /// Where it begins for the player: a push is before it.
    fn first_place(&self) -> Tick {
        let place = self.step.places.iter().copied().min();
        place.map_or(self.step.start, |place| place.min(self.step.start))
    }
}

impl CuePlanner<'_> {
    /// What is called. `targets` are the cues for the notes: they have the time right before a change.
    pub fn calls(&self, names: Names, targets: &[PlannedCue]) -> Vec<PlannedCue> {
        let mut cues = Vec::new();
        let begins = self.steps.first().map_or(Tick(0), |step| step.start);
        // A call comes after what was called before it has begun, or it would be taken for that.
        let (mut since_far, mut since_near) = (begins, begins);
        for (before, step) in self.steps.iter().zip(self.steps.iter().skip(1)) {
            let (far, near): (Vec<Call<'_>>, Vec<Call<'_>>) = calls_between(before, step)
                .into_iter()
                .partition(Call::is_far_ahead);
            let turn = |since| Turn {
                before,
                step,
                since,
                targets,
            };
            if !far.is_empty() {
                cues.extend(self.far_calls(&far, names, &turn(since_far)));
            }
            if !near.is_empty() {
                let far = (!far.is_empty()).then_some(since_far);
                cues.extend(self.near_call(call_phrases(&near, names), &turn(since_near), far));
            }
            let is_break = step.pass.kind == PassKind::Breathe;
            for (since, turns) in [
                (&mut since_far, !far.is_empty() || is_break),
                (&mut since_near, !near.is_empty()),
            ] {
                *since = if turns { step.start } else { *since };
            }
        }
        cues
    }

    /// "last time", as soon as that is known: `from` is now, `end` where the take ends.
    pub fn last_time(&self, names: Names, from: Tick, end: Tick) -> Option<PlannedCue> {
        let last = self.steps.iter().rev().find(|step| step.end == end)?;
        let from = from.max(last.origin);
        let first = self.count_index(from) + 1;
        let soon = self.counts.get(first + LOOK_BACK_BEATS);
        let to = soon
            .copied()
            .unwrap_or(end)
            .min(self.last_count_before(end, BEFORE_CHANGE_MS)?);
        let windows = self.clear_windows(first, to);
        let otherwise = vec![self.any_windows(first, to)];
        self.planned(
            call_phrases(&[Call::LastTime], names),
            windows,
            otherwise,
            end,
        )
    }

    /// Section and key: two bars ahead, a bar ahead, or as there is room; in one call if it has room, else one by one.
    fn far_calls(&self, calls: &[Call<'_>], names: Names, turn: &Turn<'_>) -> Vec<PlannedCue> {
        let (start, to) = (turn.step.start, self.call_by(turn, BEFORE_CHANGE_MS));
        let Some(to) = to else { return Vec::new() };
        let from = self.count_index(start).saturating_sub(FAR_BACK_BEATS);
        let from = from.max(self.count_index(turn.since));
        let bars_ahead = |bars: i64| to.min(Tick(start.0 - bars * bar_of(turn.step).0));
        let stretches = [(from, bars_ahead(2)), (from, bars_ahead(1)), (from, to)];
        let otherwise = |is_clear| self.otherwise(is_clear, from, to);
        // Both or each: a shorter form would drop one of them.
        let all = PhraseSet::plain(call_phrases(calls, names).full);
        if let Some(windows) = self.room_for(&all.full, &stretches) {
            return self
                .planned(all, windows, otherwise(true), start)
                .into_iter()
                .collect();
        }
        let alone = |call: &Call<'_>| {
            let phrases = call_phrases(&[*call], names);
            let windows = self.room_for(&phrases.full, &stretches);
            let otherwise = otherwise(windows.is_some());
            self.planned(phrases, windows.unwrap_or_default(), otherwise, start)
        };
        calls.iter().filter_map(alone).collect()
    }

    /// What to do and where the notes fall, and the stage: in the last bars, in the fullest form that has room.
    /// `far`: section or key are called, too, and not sooner than here.
    fn near_call(
        &self,
        phrases: PhraseSet,
        turn: &Turn<'_>,
        far: Option<Tick>,
    ) -> Option<PlannedCue> {
        let start = turn.step.start;
        let is_count_in = turn.before.pass.kind == PassKind::CountIn;
        // In a count-in the player hears of it on its first beat.
        let (back, since) = match is_count_in {
            true => (usize::MAX, self.count_index(turn.before.start) + 1),
            false => (LOOK_BACK_BEATS, self.count_index(turn.since)),
        };
        let from = self.count_index(start).saturating_sub(back).max(since);
        let named = turn
            .targets
            .iter()
            .find(|cue| cue.deadline == start && !cue.windows.is_empty());
        let least_ms = if is_count_in { 0.0 } else { BEFORE_CHANGE_MS };
        let free_ms = named.map_or(least_ms, |cue| self.named_ms(cue));
        // The name of the first notes gives way to what to do; then anything does that is over before it begins.
        let ends = [
            self.call_by(turn, free_ms),
            self.call_by(turn, least_ms),
            Some(turn.first_place()),
        ];
        let stretches: Vec<(usize, Tick)> =
            ends.into_iter().flatten().map(|to| (from, to)).collect();
        let choices = phrases.choices(FormLimit::Full);
        let (full, least) = (choices.first()?.1, choices.last()?.1);
        // Where all has to be said in a short break, the first notes are on the page.
        let is_crowded = far.is_some_and(|since| self.count_index(since) >= from);
        let first = usize::from(is_crowded && stretches.len() > 1);
        let stretches = &stretches[first..];
        let windows = self.room_for(full, &stretches[..1]);
        let windows = windows.or_else(|| self.room_for(least, stretches));
        let end = turn.first_place();
        let otherwise = self.otherwise(windows.is_some(), from, end);
        self.planned(phrases, windows.unwrap_or_default(), otherwise, start)
    }

    /// The windows of the first stretch that has room for a text.
    fn room_for(&self, text: &str, stretches: &[(usize, Tick)]) -> Option<Windows> {
        let ms = self.ms;
        let clear = |(from, to): &(usize, Tick)| self.clear_windows(*from, *to);
        let is_long = |window: &(Tick, Tick)| ms(window.1) - ms(window.0) >= about_ms(text);
        let mut all = stretches.iter().map(clear);
        all.find(|windows| windows.iter().any(is_long))
    }

    /// The last count by which a call is over that leaves so much time free before the first note.
    fn call_by(&self, turn: &Turn<'_>, free_ms: f64) -> Option<Tick> {
        self.last_count_before(turn.first_place(), free_ms)
    }

    /// The index of the first count at or after a tick.
    fn count_index(&self, at: Tick) -> usize {
        self.counts.partition_point(|count| *count < at)
    }

    /// How long before a change its call must be over, so that its notes are named in peace.
    fn named_ms(&self, cue: &PlannedCue) -> f64 {
        let choices = cue.phrases.choices(cue.limit);
        let name_ms = choices.first().map_or(0.0, |(_, text)| about_ms(text));
        let before = self.count_index(cue.deadline).checked_sub(1);
        let beat = before.map(|before| self.counts[before]);
        let beat_ms = beat.map_or(0.0, |beat| (self.ms)(cue.deadline) - (self.ms)(beat));
        // The name begins on a beat and ends one before the change.
        beat_ms.max(BEFORE_CHANGE_MS) + (name_ms / beat_ms.max(1.0)).ceil() * beat_ms
    }

    /// The last count that is so long before a tick.
    fn last_count_before(&self, at: Tick, free_ms: f64) -> Option<Tick> {
        let limit_ms = (self.ms)(at) - free_ms;
        let is_early = |count: &&Tick| **count < at && (self.ms)(**count) <= limit_ms + 0.5;
        self.counts.iter().rev().find(is_early).copied()
    }

    /// Where a call may sound that finds no room: clear of places, if there is room at all, else between the beats; over
    /// places, if there is nothing else.
    fn otherwise(&self, is_clear: bool, from: usize, to: Tick) -> Vec<Windows> {
        let clear = match is_clear {
            true => self.clear_windows(from, to),
            false => self.windows_between(from, to),
        };
        vec![clear, self.any_windows(from, to)]
    }

    /// The cue of a call: in `windows`, and where another cue has taken that room, in others one after the other.
    fn planned(
        &self,
        phrases: PhraseSet,
        windows: Windows,
        otherwise: Vec<Windows>,
        deadline: Tick,
    ) -> Option<PlannedCue> {
        let otherwise = otherwise.into();
        let cue = PlannedCue {
            hand_over: deadline,
            phrases,
            limit: FormLimit::Full,
            windows,
            otherwise,
            deadline,
            about: CueAbout::Call,
        };
        let cue = cue.with_the_first_windows();
        let first = cue.windows.first()?.0;
        // Before the names of the notes, so that those find their place around it.
        let ahead = self.count_index(first).saturating_sub(AHEAD_BEATS);
        let from = self.counts.get(ahead).copied().unwrap_or(first);
        Some(PlannedCue {
            hand_over: from.min(self.hand_over(&[first], &cue.windows)),
            ..cue
        })
    }
}

/// The length of the bar in which a step begins.
fn bar_of(step: &PlanStep) -> Tick {
    lap_bar(step).map_or(step.end - step.start, |bar| bar.meter.bar_ticks())
}

/// What a leader calls between two steps; nothing where all goes on.
fn calls_between<'a>(before: &PlanStep, step: &'a PlanStep) -> Vec<Call<'a>> {
    if matches!(step.pass.kind, PassKind::CountIn | PassKind::Held) {
        return Vec::new();
    }
    let opens = matches!(before.pass.kind, PassKind::CountIn | PassKind::Held);
    let (pass, standing) = (&step.pass, &step.pass.standing);
    let stage = standing.stage_of(&pass.material);
    let is_break = pass.kind == PassKind::Breathe;
    let stage_before = before.pass.standing.stage_of(&before.pass.material);
    let new_stage = !is_break && (opens || stage.name != stage_before.name);
    let mut calls = Vec::new();
    if !opens && !is_break {
        let is_form = |step: &PlanStep| step.pass.standing.looping == Loop::Form;
        calls.extend((is_form(step) && !is_form(before)).then_some(Call::WholeForm));
        let section = section_of(step).filter(|name| section_of(before).as_ref() != Some(name));
        calls.extend(section.map(Call::Section));
    }
    calls.extend(new_stage.then_some(Call::Stage(stage)));
    if !opens && !is_break {
        let key = key_of(step).filter(|key| key_of(before) != Some(*key));
        calls.extend(key.map(Call::Key));
    }
    let doing = doing_of(step);
    let doing_before = if opens { Doing::Play } else { doing_of(before) };
    calls.extend((doing != doing_before).then_some(Call::Do(doing)));
    let begins = opens || before.pass.standing != *standing;
    let falls = matches!(doing, Doing::Play | Doing::Sing | Doing::Rest);
    let places = standing.places(&pass.material);
    // Open choice has places where it has a rhythm.
    if begins && falls && !(stage.is_open_choice() && places.is_empty()) {
        let is_new = match places_before(step) {
            Some(before) => before != places,
            // A new stage begins on one; the same stage from its beginning may come from anywhere.
            None if new_stage => !is_first_beat(places),
            None => !is_first_beat(places) || turns(stage),
        };
        let starts = places.len() == 1 && stage.figure.len() > 1;
        let ahead = stage.rotation.is_some() && !opens && !new_stage;
        calls.extend(is_new.then_some(Call::Places {
            places,
            starts,
            ahead,
        }));
    }
    if begins && matches!(doing, Doing::Play | Doing::Answer) && stage.rotation.is_some() {
        let hand = standing.hand(&pass.material);
        let before = standing_before(step, |phase| phase == Phase::Play);
        let is_new = before.is_none_or(|before| before.hand(&pass.material) != hand);
        let ahead = !opens && !new_stage;
        calls.extend((is_new && hand != Hand::default()).then_some(Call::Hand { hand, ahead }));
    }
    calls
}

fn is_first_beat(places: &[Place]) -> bool {
    matches!(
        places,
        [] | [Place {
            beat: 1,
            twelfths: 0,
            ..
        }]
    )
}

fn turns(stage: &Stage) -> bool {
    let rotation = stage.rotation.as_ref();
    rotation.is_some_and(|rotation| rotation.places.len() > 1)
        || matches!(&stage.places, Places::Rotate(turns) if turns.len() > 1)
}

/// Where the notes fell when the stage was played or sung last; `None`: it was not yet.
fn places_before(step: &PlanStep) -> Option<&[Place]> {
    let before = standing_before(step, |phase| phase != Phase::Listen)?;
    Some(before.places(&step.pass.material))
}

/// The last pass of the same stage in which the player did what is asked for.
fn standing_before(step: &PlanStep, is_done: impl Fn(Phase) -> bool) -> Option<Standing> {
    let standing = &step.pass.standing;
    let cycle = standing.stage_of(&step.pass.material).cycle;
    let pass = (0..standing.pass)
        .rev()
        .find(|pass| is_done(cycle.phase(*pass)))?;
    Some(Standing {
        pass,
        ..standing.clone()
    })
}

/// What the player does over a step.
fn doing_of(step: &PlanStep) -> Doing {
    let pass = &step.pass;
    let answers = pass.standing.stage_of(&pass.material).answer_phrase;
    let rests = step
        .chord
        .is_some_and(|chord| pass.rests.get(chord) == Some(&true));
    match pass.kind {
        PassKind::Breathe => Doing::Break,
        PassKind::Music(Phase::Play) if rests => Doing::Rest,
        PassKind::Music(Phase::Play) if answers => Doing::Answer,
        PassKind::Music(phase) => phase.into(),
        PassKind::CountIn | PassKind::Held => Doing::Play,
    }
}

/// The bar of the form that is known where a step begins: in a break the last one that was played.
/// The bar of the lap in which a step begins.
fn lap_bar(step: &PlanStep) -> Option<&crate::chart::LapBar> {
    let bars = &step.pass.lap.bars;
    let after = bars.partition_point(|bar| bar.start <= step.start - step.origin);
    after.checked_sub(1).and_then(|last| bars.get(last))
}

fn form_bar(step: &PlanStep) -> Option<&crate::chart::FormBar> {
    let pass = &step.pass;
    let bar = match pass.kind {
        PassKind::Breathe => pass.standing.form_bars(&pass.material).last().copied(),
        _ => lap_bar(step).map(|bar| bar.form_bar),
    };
    pass.material.form.bars.get(bar?)
}

fn section_of(step: &PlanStep) -> Option<&str> {
    let names = &step.pass.material.form.section_names;
    Some(names.get(form_bar(step)?.section)?.as_str())
}

/// The key that is declared where a step begins, else that of the tune.
pub fn key_of(step: &PlanStep) -> Option<Key> {
    match form_bar(step)?.key {
        Some(KeyDeclaration::Key(key)) => Some(key),
        _ => step.pass.material.key(),
    }
}
