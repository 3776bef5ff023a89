//! The walk through the bars, one after the other.

use super::super::warnings::ImportError;
use super::super::written::{Act, Flow};
use super::order::Bracket;
use super::plan::Plan;
use crate::chart::MAX_BARS;
use std::collections::{HashMap, HashSet};
/// The walk through the bars.
pub(super) struct Walk<'w> {
    flows: &'w [&'w Flow],
    plan: &'w Plan,
    brackets: &'w [Bracket],
    /// Which time the music of a repeat is being played, by where it begins.
    passes: HashMap<usize, u32>,
    /// How often each bar was played.
    visits: Vec<u32>,
    /// Jumps that were made.
    made: HashSet<usize>,
    /// The last jump back, if there was one.
    jumped: Option<Act>,
    /// Whether the coda was reached.
    in_coda: bool,
}

impl<'w> Walk<'w> {
    pub(super) fn new(flows: &'w [&'w Flow], plan: &'w Plan, brackets: &'w [Bracket]) -> Walk<'w> {
        Walk {
            flows,
            plan,
            brackets,
            passes: HashMap::new(),
            visits: vec![0; flows.len()],
            made: HashSet::new(),
            jumped: None,
            in_coda: false,
        }
    }

    pub(super) fn run(
        mut self,
        order: &mut Vec<usize>,
        remarks: &mut Vec<(usize, String)>,
    ) -> Result<(), ImportError> {
        let mut bar = 0;
        while bar < self.flows.len() {
            if let Some(beyond) = self.skipped(bar, remarks) {
                bar = beyond;
                continue;
            }
            if order.len() == MAX_BARS {
                let rule = format!(
                    "its repeats and jumps play more than {MAX_BARS} bars: more than a chart can have"
                );
                return Err(ImportError(rule));
            }
            order.push(bar);
            self.visits[bar] += 1;
            match self.after(bar, remarks) {
                Some(next) => bar = next,
                None => break,
            }
        }
        Ok(())
    }

    /// Whether repeats are taken: not after a jump back, before the coda.
    fn repeats(&self) -> bool {
        self.jumped.is_none() || self.in_coda
    }

    /// Where to go on if an ending begins here that is not for this pass.
    fn skipped(&self, bar: usize, remarks: &mut Vec<(usize, String)>) -> Option<usize> {
        let here = self.brackets.iter().position(|one| one.first == bar)?;
        let group: Vec<usize> = (0..self.brackets.len())
            .filter(|one| self.brackets[*one].group == self.brackets[here].group)
            .collect();
        let chosen = if self.repeats() || self.repeats_after_jump(&group) {
            self.by_pass(&group, remarks)
        } else {
            self.after_jump(&group)
        };
        (chosen != Some(here)).then(|| self.brackets[here].last + 1)
    }

    fn repeats_after_jump(&self, group: &[usize]) -> bool {
        let backward = |bar: usize| self.flows[bar].backward.is_some_and(|one| one.after_jump);
        group.iter().any(|one| {
            let bracket = &self.brackets[*one];
            (bracket.first..=bracket.last).any(backward)
        })
    }

    /// The ending of the current pass: the one that names it, else the last one before it.
    fn by_pass(&self, group: &[usize], remarks: &mut Vec<(usize, String)>) -> Option<usize> {
        let pass = self.pass_of(self.brackets[*group.first()?].group);
        let names = |one: &usize| self.brackets[*one].passes.contains(&pass);
        if let Some(named) = group.iter().copied().find(names) {
            return Some(named);
        }
        let highest = |one: usize| self.brackets[one].passes.iter().max().copied();
        if group.iter().all(|one| highest(*one) < Some(pass)) {
            return None;
        }
        let before = |one: &&usize| highest(**one) < Some(pass);
        let chosen = group.iter().rev().find(before).or(group.first()).copied()?;
        let what = format!("no ending is for pass {pass}: the one before is taken again");
        let remark = (self.brackets[chosen].first, what);
        if !remarks.contains(&remark) {
            remarks.push(remark);
        }
        Some(chosen)
    }

    /// After a jump back: the ending with the end in it, else the last one, unless that is for the first pass.
    fn after_jump(&self, group: &[usize]) -> Option<usize> {
        let holds = |one: &usize, sign: &dyn Fn(usize) -> bool| {
            (self.brackets[*one].first..=self.brackets[*one].last).any(sign)
        };
        let ends = group
            .iter()
            .find(|one| holds(one, &|bar| self.fine_acts(bar)));
        let leaves = group
            .iter()
            .find(|one| holds(one, &|bar| self.plan.codas.contains_key(&bar)));
        let last = group
            .last()
            .filter(|one| self.brackets[**one].passes.iter().max() > Some(&1));
        ends.or(leaves).or(last).copied()
    }

    fn pass_of(&self, group: usize) -> u32 {
        let start = self.plan.starts.get(&group);
        start
            .and_then(|start| self.passes.get(start))
            .copied()
            .unwrap_or(1)
    }

    /// How often the music of a repeat is played.
    fn total(&self, bar: usize) -> u32 {
        let times = self.flows[bar].backward.and_then(|one| one.times);
        let group = self
            .brackets
            .iter()
            .find(|one| (one.first..=one.last).contains(&bar))
            .map(|one| one.group);
        let named = self
            .brackets
            .iter()
            .filter(|one| Some(one.group) == group)
            .flat_map(|one| one.passes.iter().copied())
            .max()
            .unwrap_or(0);
        times.unwrap_or(2).max(named)
    }

    /// The bar after this one; `None`: the end.
    fn after(&mut self, bar: usize, remarks: &mut Vec<(usize, String)>) -> Option<usize> {
        if self.fine_acts(bar) {
            return None;
        }
        if let Some((coda, act)) = self.plan.codas.get(&bar) {
            let usual = self.jumped.is_some() && !self.in_coda;
            if self.acts(bar, act, usual) {
                self.in_coda = true;
                return Some(*coda);
            }
        }
        if let (Some(repeat), Some(target)) =
            (self.flows[bar].backward, self.plan.targets.get(&bar))
        {
            let pass = self.passes.get(target).copied().unwrap_or(1);
            if (self.repeats() || repeat.after_jump) && pass < self.total(bar) {
                // Repeats inside this one begin anew.
                self.passes
                    .retain(|start, _| *start < *target || *start > bar);
                self.passes.insert(*target, pass + 1);
                return Some(*target);
            }
        }
        self.jump(bar, remarks).or(Some(bar + 1))
    }

    /// Where a jump back at this bar goes to, if there is one that acts now.
    fn jump(&mut self, bar: usize, remarks: &mut Vec<(usize, String)>) -> Option<usize> {
        let flow = self.flows[bar];
        let (act, segno) = match (&flow.da_capo, &flow.dal_segno) {
            (Some(act), _) => (act, false),
            (None, Some(act)) => (act, true),
            (None, None) => return None,
        };
        let first = !self.made.contains(&bar);
        if !self.acts(bar, act, first) {
            return None;
        }
        let target = if segno {
            match self.plan.segno(bar) {
                Some(target) => target,
                None => {
                    let what = "dal segno, but there is no segno: the beginning is taken";
                    remarks.push((bar, what.to_string()));
                    self.plan.beginning
                }
            }
        } else {
            self.plan.beginning
        };
        self.made.insert(bar);
        self.jumped = Some(act.clone());
        self.in_coda = false;
        self.passes.clear();
        Some(target)
    }

    /// Whether something acts now: in the passes it names, else as usual.
    fn acts(&self, bar: usize, act: &Act, usual: bool) -> bool {
        match act.only.is_empty() {
            true => usual,
            false => act.only.contains(&self.visits[bar]),
        }
    }

    /// Whether the music ends here: after a jump back that does not name the coda.
    fn fine_acts(&self, bar: usize) -> bool {
        let Some(act) = &self.flows[bar].fine else {
            return false;
        };
        let usual = match &self.jumped {
            Some(jump) => jump.to_fine || !jump.to_coda,
            None => false,
        };
        self.acts(bar, act, usual)
    }
}
