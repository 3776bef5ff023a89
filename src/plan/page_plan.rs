//! What the page shows when: chords put together to units, and the turns from one to the next.

use super::page_units::{Unit, units};
use super::steps::PlanStep;
use super::turns::{PageTurn, before_halfway, turns};
use crate::time::Tick;

/// The units of a plan, its page turns, and the turn in force.
#[derive(Debug, Default)]
pub struct PagePlan {
    /// What is shown as one, in order.
    pub units: Vec<Unit>,
    /// When the page turns.
    pub turns: Vec<PageTurn>,
    /// The last turn that was served; none before the first.
    pub shown: Option<PageTurn>,
}

impl PagePlan {
    /// Works units and turns out anew. Gives the turn that should have come by `done`, if the new plan has one.
    pub fn renew(
        &mut self,
        steps: &[PlanStep],
        counts: &[Tick],
        done: Tick,
        ms: &dyn Fn(Tick) -> f64,
    ) -> Option<PageTurn> {
        let on_page = self.shown.and_then(|shown| self.units.get(shown.unit));
        let on_page = on_page.map(|unit| unit.start);
        self.units = units(steps, ms);
        self.turns = turns(&self.units, counts, ms);
        // The unit that stands on the page is found among the new ones by where it began: they are counted from where the
        // plan begins, which moves on.
        let (shown, start) = (self.shown.as_mut()?, on_page?);
        let after = self.units.partition_point(|unit| unit.start <= start);
        shown.unit = after.saturating_sub(1);
        let past = self.turns.partition_point(|turn| turn.at <= done);
        let due = self.turns[past.checked_sub(1)?];
        (due.unit > shown.unit).then_some(due)
    }

    /// When the mark of a group's cells moves on, and what was to be done is done: after the last place of each chord a little
    /// before half of the way to the next place, so that neither eye is disturbed, and half a beat after it at the latest.
    pub fn marks(&self, steps: &[PlanStep], counts: &[Tick]) -> Vec<Tick> {
        let is_group = |unit: &&Unit| unit.after - unit.first > 1;
        let last_of_pass = |cell: &usize| {
            let next = steps.get(cell + 1);
            next.is_some_and(|next| next.origin != steps[*cell].origin)
        };
        let groups = self.units.iter().filter(is_group);
        let in_groups = groups.flat_map(|unit| unit.first..unit.after);
        let cells = in_groups.chain((0..steps.len()).filter(last_of_pass));
        let mark = |cell: usize| {
            let last = *steps[cell].places.iter().max()?;
            let after = counts.partition_point(|count| *count <= last);
            let pair = counts.get(after.checked_sub(1)?..=after)?;
            let half_beat = (pair[1].0 - pair[0].0) / 2;
            let later = steps[cell + 1..]
                .iter()
                .find_map(|step| step.places.iter().min());
            let between = later.map_or(Tick(i64::MAX), |next| before_halfway(last, *next));
            Some(between.min(Tick(last.0 + half_beat)).max(Tick(last.0 + 1)))
        };
        cells.filter_map(mark).collect()
    }

    /// The upper unit on the page.
    pub fn upper(&self) -> usize {
        self.shown.map_or(0, |shown| shown.unit)
    }

    /// The units on the page: the upper one and the one after it.
    pub fn on_page(&self) -> impl Iterator<Item = &Unit> {
        self.units.iter().skip(self.upper()).take(2)
    }
}
