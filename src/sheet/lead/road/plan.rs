//! What the signs mean, before they are walked: where each repeat, jump and coda leads.

use super::super::written::{Act, Flow};
use super::order::{Bracket, Road};
use std::collections::HashMap;
/// What the signs mean, before they are walked.
#[derive(Debug)]
pub(super) struct Plan {
    /// Where each backward repeat goes to.
    pub(super) targets: HashMap<usize, usize>,
    /// Where the repeat of each group of endings begins.
    pub(super) starts: HashMap<usize, usize>,
    /// Where each place to leave for the coda goes to, and when it does.
    pub(super) codas: HashMap<usize, (usize, Act)>,
    segnos: Vec<usize>,
    pub(super) beginning: usize,
}

impl Plan {
    pub(super) fn new(flows: &[&Flow], pickup: bool, road: &mut Road) -> Plan {
        let beginning = usize::from(pickup);
        let (targets, starts) = targets(flows, &road.brackets, beginning);
        let signs = |sign: fn(&Flow) -> bool| {
            let found = flows.iter().enumerate().filter(|(_, flow)| sign(flow));
            found.map(|(bar, _)| bar).collect::<Vec<usize>>()
        };
        Plan {
            targets,
            starts,
            codas: codas(flows, &mut road.remarks),
            segnos: signs(|flow| flow.segno)
                .into_iter()
                .map(|bar| bar.max(beginning))
                .collect(),
            beginning,
        }
    }

    /// The last segno at or before a bar; else the first one.
    pub(super) fn segno(&self, bar: usize) -> Option<usize> {
        let before = self.segnos.iter().rev().find(|segno| **segno <= bar);
        before.or(self.segnos.first()).copied()
    }
}

/// Matches every backward repeat with its beginning, as brackets in a text: the nearest one still open, else the
/// bar after the last closed repeat.
fn targets(
    flows: &[&Flow],
    brackets: &[Bracket],
    beginning: usize,
) -> (HashMap<usize, usize>, HashMap<usize, usize>) {
    let mut targets = HashMap::new();
    let mut starts: HashMap<usize, usize> = HashMap::new();
    let mut open = Vec::new();
    let mut closed = beginning;
    let group_end = |group: usize| brackets.iter().rev().find(|one| one.group == group);
    for (bar, flow) in flows.iter().enumerate() {
        if flow.forward {
            open.push(bar.max(beginning));
        }
        if flow.backward.is_none() {
            continue;
        }
        let bracket = brackets
            .iter()
            .find(|one| (one.first..=one.last).contains(&bar));
        let known = bracket.and_then(|one| starts.get(&one.group).copied());
        let target = known.unwrap_or_else(|| open.pop().unwrap_or(closed));
        targets.insert(bar, target.min(bar));
        let end = match bracket {
            Some(one) => {
                starts.insert(one.group, target);
                group_end(one.group).map_or(bar, |last| last.last)
            }
            None => bar,
        };
        if open.is_empty() {
            closed = closed.max(end + 1);
        }
    }
    (targets, starts)
}

/// The places to leave for the coda. Where no word says which is which, coda signs before the jump back are
/// places to leave, and the first one after it is the coda.
fn codas(flows: &[&Flow], remarks: &mut Vec<(usize, String)>) -> HashMap<usize, (usize, Act)> {
    let jump = |flow: &Flow| flow.da_capo.is_some() || flow.dal_segno.is_some();
    let worded = flows.iter().any(|flow| flow.to_coda.is_some());
    let last_jump = flows.iter().rposition(|flow| jump(flow));
    let leaves = |bar: usize| match &flows[bar].to_coda {
        Some(act) => Some(act.clone()),
        None if !worded && flows[bar].coda && last_jump.is_some_and(|jump| bar <= jump) => {
            Some(Act::default())
        }
        None => None,
    };
    let mut found = HashMap::new();
    // The nearest coda after each place, found from the end.
    let mut coda = None;
    for bar in (0..flows.len()).rev() {
        match (leaves(bar), coda) {
            (None, _) => coda = if flows[bar].coda { Some(bar) } else { coda },
            (Some(act), Some(coda)) => {
                found.insert(bar, (coda, act));
            }
            (Some(_), None) => remarks.push((
                bar,
                "leads to a coda that is nowhere: played on".to_string(),
            )),
        }
    }
    remarks.reverse();
    let al_coda = |act: &Option<Act>| act.as_ref().is_some_and(|act| act.to_coda);
    if found.is_empty()
        && let Some(bar) = flows
            .iter()
            .position(|flow| al_coda(&flow.da_capo) || al_coda(&flow.dal_segno))
    {
        let what = "goes on to a coda, but no sign says where to leave for it: played on";
        remarks.push((bar, what.to_string()));
    }
    found
}
