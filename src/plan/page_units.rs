//! What the page shows as one: a chord, or a group of chords too short to be shown alone.
//!
//! # Why do groups of short chords begin anew with every pass, and why are they shared out by time?
//!
//! Counted from where
//! the plan began they moved when the plan forgot what was over, and a chord could come onto the page a bar before it
//! sounded. A group that is nearly as long as its neighbours leaves room to turn; a lone chord at the end of a row did not.
//! Short is what lasts less than a set must stand ahead: at 40 that is a chord of one beat, at 280 one of up to five.

use super::pass::PassKind;
use super::steps::PlanStep;
use crate::time::Tick;

/// The least time a set stands on the page before its change, besides two beats.
pub(super) const AHEAD_MS: f64 = 1200.0;
/// The page does not turn this near to a place.
pub(super) const PLACE_GUARD_MS: f64 = 200.0;
/// The most chords in a group.
const GROUP_CHORDS: usize = 4;
/// Times are of whole frames: what differs by less than this is equal.
pub(super) const EQUAL_MS: f64 = 1.0;

/// What is shown as one: a chord, a group of short chords, a count-in or a breath.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    /// The steps it is made of.
    pub first: usize,
    /// The step after its last.
    pub after: usize,
    pub start: Tick,
    /// Where its last chord starts.
    pub last_start: Tick,
    pub end: Tick,
    pub places: Vec<Tick>,
    /// A breath: the summary stands there until the next set must.
    pub is_breath: bool,
}

/// Puts steps together to units. `ms` gives the time of a tick.
///
/// Chords shorter than the next set must stand ahead are shown in groups, else the page would have to leave one
/// of them before it sounds. Groups begin anew with every pass, so that they do not depend on how far back the
/// plan reaches, and a row of short chords is shared out into groups of about the same length.
pub fn units(steps: &[PlanStep], ms: &dyn Fn(Tick) -> f64) -> Vec<Unit> {
    let mut units: Vec<Unit> = Vec::new();
    let mut at = 0;
    while at < steps.len() {
        if let Some(before) = units
            .last_mut()
            .filter(|unit| is_struck_again(&steps[unit.first], &steps[at]))
        {
            before.after = at + 1;
            before.end = steps[at].end;
            before.places = until_the_end(&steps[at]);
            at += 1;
            continue;
        }
        let row = steps[at..]
            .iter()
            .take_while(|step| is_short(step, ms) && step.origin == steps[at].origin)
            .count();
        if row == 1
            && let Some(before) = units
                .last_mut()
                .filter(|unit| is_crowded(unit, &steps[at], steps, ms))
        {
            before.take_in(at, &steps[at]);
            at += 1;
            continue;
        }
        let ends_ms: Vec<f64> = steps[at..at + row.max(1)]
            .iter()
            .map(|step| ms(step.end))
            .collect();
        for len in shared_out(ms(steps[at].start), &ends_ms) {
            let mut unit = Unit::of(at, &steps[at]);
            for (index, step) in steps.iter().enumerate().take(at + len).skip(at + 1) {
                unit.take_in(index, step);
            }
            units.push(unit);
            at += len;
        }
    }
    units
}

impl Unit {
    fn of(index: usize, step: &PlanStep) -> Unit {
        Unit {
            first: index,
            after: index + 1,
            start: step.start,
            last_start: step.start,
            end: step.end,
            places: match step.pass.kind {
                PassKind::Held => until_the_end(step),
                _ => step.places.clone(),
            },
            is_breath: step.pass.kind == PassKind::Breathe,
        }
    }

    fn take_in(&mut self, index: usize, step: &PlanStep) {
        self.after = index + 1;
        self.last_start = step.start;
        self.end = step.end;
        self.places.extend(&step.places);
    }
}

/// Whether a chord out of time only goes on: then the page stays as it is.
fn is_struck_again(before: &PlanStep, step: &PlanStep) -> bool {
    let is_held = |step: &PlanStep| step.pass.kind == PassKind::Held;
    is_held(before) && is_held(step) && before.form_chord() == step.form_chord()
}

/// Out of time a set is wanted as long as its chord is held.
fn until_the_end(step: &PlanStep) -> Vec<Tick> {
    vec![step.end - Tick(1)]
}

/// How long before the change a set must stand on the page where a count lasts as long as in this step.
fn ahead_ms(step: &PlanStep, ms: &dyn Fn(Tick) -> f64) -> f64 {
    let beat_ms = ms(step.start + step.pass_count()) - ms(step.start);
    AHEAD_MS.max(2.0 * beat_ms)
}

fn is_short(step: &PlanStep, ms: &dyn Fn(Tick) -> f64) -> bool {
    step.chord.is_some() && ms(step.end) - ms(step.start) < ahead_ms(step, ms) - EQUAL_MS
}

/// Whether a lone short chord stands with the one before it: the page must show what follows the short one
/// before the one before it is over, or even before its last place has passed.
fn is_crowded(unit: &Unit, short: &PlanStep, steps: &[PlanStep], ms: &dyn Fn(Tick) -> f64) -> bool {
    let first = &steps[unit.first];
    if first.chord.is_none() || unit.after - unit.first != 1 {
        return false;
    }
    let deadline_ms = ms(short.end) - ahead_ms(short, ms);
    let last_place_ms = unit.places.iter().max().map(|place| ms(*place));
    ms(unit.end) - ms(unit.start) <= ahead_ms(first, ms) + EQUAL_MS
        || last_place_ms.is_some_and(|place| place + PLACE_GUARD_MS > deadline_ms)
}

/// How many chords of a row each group takes: as few groups as there can be, ending where the row's time is
/// best shared. `ends_ms` are the times at which its chords end.
fn shared_out(from_ms: f64, ends_ms: &[f64]) -> Vec<usize> {
    let groups = ends_ms.len().div_ceil(GROUP_CHORDS);
    let len_ms = ends_ms.last().map_or(0.0, |to_ms| to_ms - from_ms);
    let mut taken = 0;
    let mut lens = Vec::with_capacity(groups);
    for left in (0..groups).rev() {
        let most = (ends_ms.len() - left).min(taken + GROUP_CHORDS);
        let least = ends_ms.len().saturating_sub(left * GROUP_CHORDS);
        let share_ms = from_ms + len_ms * (groups - left) as f64 / groups as f64;
        let off = |after: &usize| (ends_ms[after - 1] - share_ms).abs();
        let best = (least.max(taken + 1)..=most).min_by(|a, b| off(a).total_cmp(&off(b)));
        let after = best.unwrap_or(most);
        lens.push(after - taken);
        taken = after;
    }
    lens
}

#[cfg(test)]
mod tests {
    use super::*;

    // Our own rule: no more groups than needed, and of about the same length.
    #[test]
    fn a_row_is_shared_out_by_its_time() {
        let cases: &[(&str, &[f64], &[usize])] = &[
            ("one", &[1.0], &[1]),
            ("as many as fit", &[1.0, 1.0, 1.0, 1.0], &[4]),
            (
                "a lone one would be left over",
                &[1.0, 1.0, 1.0, 1.0, 1.0],
                &[2, 3],
            ),
            (
                "two bars and a divided one",
                &[4.0, 4.0, 4.0, 2.0, 2.0],
                &[2, 3],
            ),
            ("divided first", &[2.0, 2.0, 4.0, 4.0, 4.0], &[3, 2]),
            (
                "no group takes more than four",
                &[1.0, 1.0, 1.0, 1.0, 1.0, 9.0],
                &[4, 2],
            ),
            (
                "three groups",
                &[3.0, 2.0, 1.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0],
                &[4, 2, 3],
            ),
        ];
        for (name, lens_ms, expected) in cases {
            let ends_ms = lens_ms.iter().scan(7.0, |end, len| {
                *end += len;
                Some(*end)
            });
            assert_eq!(
                shared_out(7.0, &ends_ms.collect::<Vec<_>>()),
                *expected,
                "{name}"
            );
        }
    }
}
