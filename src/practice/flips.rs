//! When the page turns: the next set early enough, never late, never while the eye is needed elsewhere.
//!
//! A page always shows two neighbouring units (a chord, or a group of short chords): the one that sounds and
//! the one to come. The rules: a unit stands on the page at least max(2 beats, 1.2 s) before its change; the
//! page turns on a beat, never within 200 ms of a place nor in the last 150 ms before a change; the set that
//! is to be played next is the large one, and two that are both still needed are equal.

use super::pass::PassKind;
use super::steps::Step;
use crate::display::Large;
use crate::time::Tick;

/// Chords shorter than this are shown in groups.
pub const GROUP_BELOW_MS: f64 = 1200.0;
/// The most chords in a group.
pub const GROUP_CHORDS: usize = 4;
/// The least time a set stands on the page before its change, besides two beats.
pub const AHEAD_MS: f64 = 1200.0;
/// The page does not turn this near to a place.
const PLACE_GUARD_MS: f64 = 200.0;
/// The page does not turn this shortly before a change.
const CHANGE_GUARD_MS: f64 = 150.0;

/// What is shown as one: a chord, a group of short chords, a count-in or a breath.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    /// The steps it is made of.
    pub first: usize,
    /// The step after its last.
    pub after: usize,
    /// Where it starts.
    pub start: Tick,
    /// Where its last chord starts.
    pub last_start: Tick,
    /// Where it ends.
    pub end: Tick,
    /// Its places.
    pub places: Vec<Tick>,
    /// A breath: the summary stands there until the next set must.
    pub is_breath: bool,
}

/// The page turns: from `at` on it shows `units[unit]` above and the next unit below.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Flip {
    /// When.
    pub at: Tick,
    /// The upper unit.
    pub unit: usize,
    /// Which is large.
    pub large: Large,
}

/// Puts steps together to units. `ms` gives the time of a tick.
pub fn units(steps: &[Step], ms: &dyn Fn(Tick) -> f64) -> Vec<Unit> {
    let mut units: Vec<Unit> = Vec::new();
    let mut grouped = 0;
    let lasts_short =
        |step: &Step| step.chord.is_some() && ms(step.end) - ms(step.start) < GROUP_BELOW_MS;
    for (index, step) in steps.iter().enumerate() {
        let is_short = lasts_short(step);
        // A lone short chord that must be on the page before the one ahead of it sounds stands with that one.
        let is_alone = !steps.get(index + 1).is_some_and(lasts_short);
        let crowded = units.last().is_some_and(|unit| {
            let beat_ms = ms(unit.start + step.pass_count()) - ms(unit.start);
            let is_chord = steps[unit.first].chord.is_some() && unit.after - unit.first == 1;
            is_chord && ms(unit.end) - ms(unit.start) <= AHEAD_MS.max(2.0 * beat_ms) + 1.0
        });
        let join = is_short
            && ((1..GROUP_CHORDS).contains(&grouped) || (grouped == 0 && crowded && is_alone));
        if join && grouped == 0 {
            grouped = 1;
        }
        match units.last_mut().filter(|_| join) {
            Some(unit) => {
                unit.after = index + 1;
                unit.last_start = step.start;
                unit.end = step.end;
                unit.places.extend(&step.places);
                grouped += 1;
            }
            None => {
                let places = step.places.clone();
                units.push(Unit {
                    first: index,
                    after: index + 1,
                    start: step.start,
                    last_start: step.start,
                    end: step.end,
                    places,
                    is_breath: step.pass.kind == PassKind::Breathe,
                });
                grouped = usize::from(is_short);
            }
        }
    }
    units
}

/// Works out the page turns. `counts` are the beats of the plan; `beat_ms` is the length of one.
pub fn flips(units: &[Unit], counts: &[Tick], ms: &dyn Fn(Tick) -> f64) -> Vec<Flip> {
    let desk = Desk::new(units, counts, ms);
    let mut flips = Vec::new();
    let mut shown_from = units.first().map_or(Tick(0), |unit| unit.start);
    for lower in 1..=units.len() {
        let upper = lower - 1;
        let next_turn = if lower < units.len() {
            desk.entry(lower + 1, shown_from)
        } else {
            Tick(i64::MAX)
        };
        desk.emphasis(upper, shown_from, next_turn, &mut flips);
        shown_from = next_turn;
    }
    flips
}

struct Desk<'a> {
    units: &'a [Unit],
    counts: &'a [Tick],
    places_ms: Vec<f64>,
    changes_ms: Vec<f64>,
    ms: &'a dyn Fn(Tick) -> f64,
}

impl<'a> Desk<'a> {
    fn new(units: &'a [Unit], counts: &'a [Tick], ms: &'a dyn Fn(Tick) -> f64) -> Desk<'a> {
        let mut places_ms: Vec<f64> = units
            .iter()
            .flat_map(|unit| &unit.places)
            .map(|at| ms(*at))
            .collect();
        places_ms.sort_by(f64::total_cmp);
        let changes_ms = units.iter().map(|unit| ms(unit.start)).collect();
        Desk {
            units,
            counts,
            places_ms,
            changes_ms,
            ms,
        }
    }

    /// How far a time is from the nearest place.
    fn distance_to_places(&self, at_ms: f64) -> f64 {
        let after = self.places_ms.partition_point(|place| *place < at_ms);
        let near = |index: usize| {
            self.places_ms
                .get(index)
                .map_or(f64::MAX, |place| (place - at_ms).abs())
        };
        near(after).min(if after > 0 { near(after - 1) } else { f64::MAX })
    }

    fn is_permitted(&self, at: Tick) -> bool {
        let at_ms = (self.ms)(at);
        let next = self.changes_ms.partition_point(|change| *change <= at_ms);
        let before_change = self
            .changes_ms
            .get(next)
            .is_some_and(|change| change - at_ms < CHANGE_GUARD_MS);
        self.distance_to_places(at_ms) >= PLACE_GUARD_MS && !before_change
    }

    /// The latest tick at which unit `index` must stand on the page.
    fn deadline(&self, index: usize) -> Tick {
        let Some(unit) = self.units.get(index) else {
            return Tick(i64::MAX);
        };
        let before = self.counts.partition_point(|count| *count < unit.start);
        let two_beats = self
            .counts
            .get(before.saturating_sub(2))
            .copied()
            .unwrap_or(unit.start);
        let start_ms = (self.ms)(unit.start);
        let mut by_time = before;
        // The last beat that is 1.2 s ahead; a page turns on a beat.
        while by_time > 0
            && start_ms - (self.ms)(self.counts[by_time.min(self.counts.len() - 1)]) < AHEAD_MS
        {
            by_time -= 1;
        }
        let by_time = self.counts.get(by_time).copied().unwrap_or(unit.start);
        two_beats.min(by_time)
    }

    fn beats_in(&self, from: Tick, to: Tick) -> &[Tick] {
        let first = self.counts.partition_point(|count| *count < from);
        let after = self.counts.partition_point(|count| *count <= to);
        &self.counts[first.min(after)..after]
    }

    /// When unit `index` comes onto the page (below), given when the page before it was turned.
    fn entry(&self, index: usize, page_before: Tick) -> Tick {
        let upper = &self.units[index - 1];
        let deadline = self.deadline(index);
        let leaving = self.units[index - 2]
            .places
            .iter()
            .max()
            .copied()
            .unwrap_or(page_before);
        let from = page_before.max(leaving);
        let latest = deadline.min(upper.end);
        let at_ease = self.beats_in(from.max(upper.start), latest);
        if let Some(at) = at_ease.iter().find(|at| self.is_permitted(**at)) {
            return *at;
        }
        let beats = self.beats_in(from, latest);
        if let Some(at) = beats.iter().rev().find(|at| self.is_permitted(**at)) {
            return *at;
        }
        // No beat keeps all the rules: being late is worse than leaving a set before its last place, and that
        // is worse than turning near a place. A chord that has not sounded yet stays on the page.
        let sounded = self.units[index - 2].last_start;
        let earlier = self.beats_in(page_before.max(sounded), latest);
        if let Some(at) = earlier.iter().rev().find(|at| self.is_permitted(**at)) {
            return *at;
        }
        let clear = |at: &&Tick| self.distance_to_places((self.ms)(**at));
        let beats = if beats.is_empty() { earlier } else { beats };
        let clearest = beats.iter().max_by(|a, b| clear(a).total_cmp(&clear(b)));
        clearest.copied().unwrap_or(latest.max(page_before))
    }

    /// The summary stands until the set after the breath is due.
    fn breath(&self, upper: usize, from: Tick, until: Tick, flips: &mut Vec<Flip>) {
        let deadline = self.deadline(upper + 1);
        let latest = deadline.min(Tick(until.0.saturating_sub(1)));
        let beats = self.beats_in(from, latest);
        let due = beats.iter().rev().find(|beat| self.is_permitted(**beat));
        let due = due.copied().unwrap_or(from);
        let flip = |at: Tick, large: Large| Flip {
            at,
            unit: upper,
            large,
        };
        if due > from {
            flips.push(flip(from, Large::Now));
        }
        flips.push(flip(due, Large::Next));
    }

    /// The flips while the page shows `upper` and the unit after it.
    fn emphasis(&self, upper: usize, shown_from: Tick, until: Tick, flips: &mut Vec<Flip>) {
        if self.units[upper].is_breath {
            self.breath(upper, shown_from, until, flips);
            return;
        }
        let last_place = self.units[upper].places.iter().max().copied();
        let finished_at = last_place.map_or(Tick(i64::MIN), |place| Tick(place.0 + 1));
        let deadline = self.deadline(upper + 1);
        let mut at = |at: Tick, large: Large| match flips.last_mut() {
            Some(last) if last.unit == upper && last.large == large => {}
            Some(last) if last.unit == upper && last.at == at => last.large = large,
            _ => flips.push(Flip {
                at,
                unit: upper,
                large,
            }),
        };
        if shown_from >= finished_at {
            at(shown_from, Large::Next);
            return;
        }
        at(
            shown_from,
            if shown_from >= deadline {
                Large::Both
            } else {
                Large::Now
            },
        );
        let later = self.beats_in(shown_from, Tick(until.0.saturating_sub(1)));
        if finished_at > deadline {
            let both = later
                .iter()
                .rev()
                .find(|beat| **beat <= deadline && self.is_permitted(**beat));
            at(both.copied().unwrap_or(shown_from), Large::Both);
        }
        if let Some(turn) = later
            .iter()
            .find(|beat| **beat >= finished_at && self.is_permitted(**beat))
        {
            at(*turn, Large::Next);
        }
    }
}
