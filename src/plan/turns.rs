//! When the page turns: the next set early enough, never late, never while the eye is needed elsewhere.
//!
//! A page always shows two neighbouring units (a chord, or a group of short chords): the one that sounds and
//! the one to come. The rules: a unit stands on the page at least max(2 beats, 1.2 s) before its change; the
//! page turns on a beat, never within 200 ms of a place nor in the last 150 ms before a change; the set that
//! is to be played next is the large one, and two that are both still needed are equal.
//!
//! # Why does the page sometimes turn between two beats?
//!
//! In a row of eighths no beat is clear of places. Better the middle
//! of a beat than a set that leaves the page before it has been played; only then comes a turn near a place.

use super::page_units::{AHEAD_MS, EQUAL_MS, PLACE_GUARD_MS, Unit};
use crate::display::Large;
use crate::time::{PPQ, Tick};

/// The eye looks for the next set so long before its first place.
const NEEDED_MS: f64 = 250.0;
/// The page does not turn this shortly before a change.
const CHANGE_GUARD_MS: f64 = 150.0;

/// The page turns: from `at` on it shows `units[unit]` above and the next unit below.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PageTurn {
    pub at: Tick,
    pub unit: usize,
    pub large: Large,
}

/// Works out the page turns. `counts` are the beats of the plan; `beat_ms` is the length of one.
pub fn turns(units: &[Unit], counts: &[Tick], ms: &dyn Fn(Tick) -> f64) -> Vec<PageTurn> {
    let planner = TurnPlanner::new(units, counts, ms);
    let mut turns = Vec::new();
    let mut shown_from = units.first().map_or(Tick(0), |unit| unit.start);
    for lower in 1..=units.len() {
        let upper = lower - 1;
        let next_turn = if lower < units.len() {
            planner.entry(lower + 1, shown_from)
        } else {
            Tick(i64::MAX)
        };
        planner.emphasis(upper, shown_from, next_turn, &mut turns);
        shown_from = next_turn;
    }
    turns
}

/// A moment between two places that leaves the eye longer for the second one.
pub(super) fn before_halfway(from: Tick, to: Tick) -> Tick {
    Tick(from.0 + (to.0 - from.0) * 44 / 100)
}

struct TurnPlanner<'a> {
    units: &'a [Unit],
    counts: &'a [Tick],
    /// All places, and the starts of what has none, in the order of time.
    looked_for: Vec<Tick>,
    /// When the places are.
    places_ms: Vec<f64>,
    changes_ms: Vec<f64>,
    ms: &'a dyn Fn(Tick) -> f64,
}

impl<'a> TurnPlanner<'a> {
    fn new(units: &'a [Unit], counts: &'a [Tick], ms: &'a dyn Fn(Tick) -> f64) -> TurnPlanner<'a> {
        let mut places: Vec<Tick> = units.iter().flat_map(|unit| unit.places.clone()).collect();
        places.sort();
        let places_ms = places.iter().map(|at| ms(*at)).collect();
        // What has no place, a rest, is looked for where it begins.
        let silent = units.iter().filter(|unit| unit.places.is_empty());
        let mut looked_for = places;
        looked_for.extend(silent.map(|unit| unit.start));
        looked_for.sort();
        let changes_ms = units.iter().map(|unit| ms(unit.start)).collect();
        TurnPlanner {
            units,
            counts,
            looked_for,
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

    /// Whether unit `index` stands early enough if it comes at `at`.
    fn is_ahead(&self, index: usize, at: Tick) -> bool {
        let Some(unit) = self.units.get(index) else {
            return true;
        };
        let before = self.counts.partition_point(|count| *count < unit.start);
        let two_beats = before.checked_sub(2).map(|place| self.counts[place]);
        two_beats.is_none_or(|beat| at <= beat) && (self.ms)(unit.start) - (self.ms)(at) >= AHEAD_MS
    }

    fn beats_in(&self, from: Tick, to: Tick) -> &[Tick] {
        let first = self.counts.partition_point(|count| *count < from);
        let after = self.counts.partition_point(|count| *count <= to);
        &self.counts[first.min(after)..after]
    }

    /// The middles of beats.
    fn half_beats_in(&self, from: Tick, to: Tick) -> Vec<Tick> {
        self.parts_in(from, to, &[2, 4])
    }

    /// A little before halfway between two places: where they follow each other closely nothing is clearer.
    fn halfway_in(&self, from: Tick, to: Tick) -> Vec<Tick> {
        let first = self.looked_for.partition_point(|at| *at < from);
        let after = self.looked_for.partition_point(|at| *at <= to);
        let first = first.saturating_sub(1);
        let around = first..(after + 1).min(self.looked_for.len()).max(first);
        let pairs = self.looked_for[around].windows(2);
        let halfway = pairs.map(|pair| before_halfway(pair[0], pair[1]));
        halfway.filter(|at| (from..=to).contains(at)).collect()
    }

    /// Moments within beats: so many parts of so many after each.
    fn parts_in(&self, from: Tick, to: Tick, parts: &[i64; 2]) -> Vec<Tick> {
        let first = self.counts.partition_point(|count| *count < from);
        let after = self.counts.partition_point(|count| *count <= to);
        let first = first.saturating_sub(1);
        let around = first..(after + 1).min(self.counts.len()).max(first);
        let within = self.counts[around]
            .windows(2)
            .map(|pair| Tick(pair[0].0 + (pair[1].0 - pair[0].0) * parts[0] / parts[1]));
        within.filter(|at| (from..=to).contains(at)).collect()
    }

    /// When unit `index` comes onto the page (below), given when the page before it was turned.
    ///
    /// Late is never; a chord that has not begun yet stays on the page, and so does a set up to its last place
    /// as long as there is a moment that is not near a place; on a beat rather than between two.
    fn entry(&self, index: usize, page_before: Tick) -> Tick {
        let (leaving, upper) = (&self.units[index - 2], &self.units[index - 1]);
        let latest = self.deadline(index).min(upper.end);
        let begun = Tick(page_before.max(leaving.last_start).0 + 1);
        let from = leaving
            .places
            .iter()
            .max()
            .map_or(begun, |last| begun.max(*last));
        let at_ease = from.max(upper.start);
        let permitted = |at: &Tick| self.is_permitted(*at);
        let (beats, half_beats) = (
            self.beats_in(from, latest),
            self.half_beats_in(from, latest),
        );
        for moments in [beats, &half_beats] {
            let eased = moments.iter().filter(|at| **at >= at_ease);
            let found = eased.copied().find(permitted);
            if let Some(at) = found.or_else(|| moments.iter().copied().rfind(permitted)) {
                return at;
            }
        }
        if let Some(at) = self.crowded_entry(index, from, latest) {
            return at;
        }
        let clearest = |moments: &[Tick]| self.clearest(moments);
        let earlier = self.beats_in(begun, latest);
        if let Some(at) = earlier.iter().copied().rfind(permitted) {
            return at;
        }
        let eased = self.beats_in(at_ease, latest);
        let nearest = clearest(eased)
            .or_else(|| clearest(beats))
            .or_else(|| clearest(earlier));
        let between = || self.half_beats_in(begun, latest).last().copied();
        let late = || self.beats_in(begun, upper.end).first().copied();
        nearest
            .or_else(between)
            .or_else(late)
            .unwrap_or(upper.end.max(page_before))
    }

    /// Between places that follow each other closely there are moments that are not quite as clear.
    fn crowded_entry(&self, index: usize, from: Tick, latest: Tick) -> Option<Tick> {
        let is_clear = |at: &Tick, of_guard: f64| self.clear_ms(*at) >= PLACE_GUARD_MS * of_guard;
        let half_beats = self.half_beats_in(from, latest);
        let halfway = self.halfway_in(from, latest);
        let of_each = [self.beats_in(from, latest), &half_beats, &halfway];
        let mut clearer = of_each.into_iter().filter_map(|some| self.clearest(some));
        // Near a place rather than too early: a set that leaves the page before it was played is lost.
        let narrow = || self.clearest(&halfway).filter(|at| is_clear(at, 0.25));
        // Between two beats the deadline may lie a little after the last beat that keeps it.
        let off_beat = || {
            let end = self.units[index - 1].end;
            let mut moments = self.half_beats_in(from, end);
            moments.extend(self.halfway_in(from, end));
            moments.retain(|at| self.is_ahead(index, *at));
            self.clearest(&moments).filter(|at| is_clear(at, 0.5))
        };
        let found = clearer.find(|at| is_clear(at, 0.5));
        found.or_else(narrow).or_else(off_beat)
    }

    /// How far a tick is from the nearest place.
    fn clear_ms(&self, at: Tick) -> f64 {
        self.distance_to_places((self.ms)(at))
    }

    /// The moment that is farthest from all places; of equal ones the first.
    fn clearest(&self, moments: &[Tick]) -> Option<Tick> {
        let from_the_last = moments.iter().copied().rev();
        from_the_last.max_by(|a, b| self.clear_ms(*a).total_cmp(&self.clear_ms(*b)))
    }

    /// The summary stands until the set after the breath is due.
    fn breath(&self, upper: usize, from: Tick, until: Tick, turns: &mut Vec<PageTurn>) {
        let deadline = self.deadline(upper + 1);
        let latest = deadline.min(Tick(until.0.saturating_sub(1)));
        let beats = self.beats_in(from, latest);
        let due = beats.iter().rev().find(|beat| self.is_permitted(**beat));
        let due = due.copied().unwrap_or(from);
        let turn = |at: Tick, large: Large| PageTurn {
            at,
            unit: upper,
            large,
        };
        if due > from {
            turns.push(turn(from, Large::Now));
        }
        turns.push(turn(due, Large::Next));
    }

    /// The turns while the page shows `upper` and the unit after it.
    fn emphasis(&self, upper: usize, shown_from: Tick, until: Tick, turns: &mut Vec<PageTurn>) {
        if self.units[upper].is_breath {
            self.breath(upper, shown_from, until, turns);
            return;
        }
        let here = &self.units[upper];
        // Of a group without places each chord is wanted until it begins, half a beat before which a push may fall.
        let last_begins =
            (here.after - here.first > 1).then_some(Tick(here.last_start.0 - PPQ / 2));
        let last_place = here.places.iter().max().copied().max(last_begins);
        let finished_at = last_place.map_or(Tick(i64::MIN), |place| Tick(place.0 + 1));
        let deadline = self.deadline(upper + 1);
        let mut at = |at: Tick, large: Large| match turns.last_mut() {
            Some(last) if last.unit == upper && last.large == large => {}
            Some(last) if last.unit == upper && last.at == at => last.large = large,
            _ => turns.push(PageTurn {
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
        if let Some(turn) = self.flip(upper, finished_at, later, until) {
            at(turn, Large::Next);
        }
    }

    /// When a set that is over gives way to the next: on a beat, rather between two than after the eye needs the next one,
    /// rather near a place than late, and with the change where places leave no gap.
    fn flip(&self, upper: usize, finished_at: Tick, later: &[Tick], until: Tick) -> Option<Tick> {
        let needed_ms = self.needed_ms(upper, finished_at) + EQUAL_MS;
        let last = Tick(until.0.saturating_sub(1));
        let beats = later.iter().copied().filter(|at| *at >= finished_at);
        let parts = [[2, 4], [3, 4], [1, 4]].into_iter();
        let within = parts.flat_map(|parts| self.parts_in(finished_at, last, &parts));
        let halfway = self.halfway_in(finished_at, last);
        let moments: Vec<Tick> = beats.chain(within).chain(halfway).collect();
        let in_time = |at: &&Tick| (self.ms)(**at) <= needed_ms;
        let clear = moments.iter().filter(in_time);
        let clear = clear.copied().find(|at| self.is_permitted(*at));
        let clearest = || {
            let near: Vec<Tick> = moments.iter().filter(in_time).copied().collect();
            let best = self.clearest(&near);
            best.filter(|at| self.clear_ms(*at) >= PLACE_GUARD_MS / 3.0)
        };
        let change = self.units[upper].end;
        let at_change = || moments.iter().copied().find(|at| *at == change);
        let late = || moments.iter().copied().find(|at| self.is_permitted(*at));
        clear.or_else(clearest).or_else(at_change).or_else(late)
    }

    /// When the eye needs the set after `upper`: so long before a place of it, but not while a place of the old one is near.
    fn needed_ms(&self, upper: usize, finished_at: Tick) -> f64 {
        let Some(next) = self.units.get(upper + 1) else {
            return f64::MAX;
        };
        let from_ms = (self.ms)(finished_at) + PLACE_GUARD_MS;
        let looks = next.places.iter().map(|at| (self.ms)(*at) - NEEDED_MS);
        let start_ms = (self.ms)(next.start) - NEEDED_MS;
        let first = looks
            .filter(|at| *at >= from_ms - EQUAL_MS)
            .min_by(f64::total_cmp);
        first.unwrap_or(start_ms.max(from_ms))
    }
}

#[cfg(test)]
mod tests;
