//! The way through the bars: repeats, endings, D.C., D.S., coda and end, played out under a cap.
//!
//! MusicXML 4.0 (the `repeat`, `ending` and `sound` elements) says what the signs do: a backward repeat is
//! played `times` in all, twice if it does not say; da capo and dal segno act the first time they are reached,
//! the way to the coda and the end only after such a jump; repeats are not taken again after a jump unless
//! they say so.

use super::sheet::{Act, Flow};
use super::{ImportError, Warnings};
use crate::chart::MAX_BARS;
use std::collections::{HashMap, HashSet};

/// The most endings: a form strings together no more sections.
const MAX_ENDINGS: usize = 500;

/// The order of playing.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Road {
    /// Bars by index, in the order of playing.
    pub order: Vec<usize>,
    /// The endings.
    pub brackets: Vec<Bracket>,
    /// What was strange, by bar.
    pub remarks: Vec<(usize, String)>,
}

/// An ending: the bars under one bracket.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bracket {
    pub first: usize,
    pub last: usize,
    pub passes: Vec<u32>,
    /// Endings of the same repeat have the same group.
    pub group: usize,
}

impl Road {
    /// Hands the remarks on as warnings.
    pub(super) fn tell(&mut self, warnings: &mut Warnings, label: impl Fn(usize) -> String) {
        for (bar, what) in self.remarks.drain(..) {
            warnings.at(&label(bar), what);
        }
    }
}

/// Plays the signs out. With a pickup, bar 0 is played once at most: a way back to the beginning goes to bar 1.
pub(super) fn road(flows: &[&Flow], pickup: bool) -> Result<Road, ImportError> {
    let mut road = Road {
        brackets: brackets(flows),
        ..Road::default()
    };
    if road.brackets.len() > MAX_ENDINGS {
        let rule = format!("it has more than {MAX_ENDINGS} endings");
        return Err(ImportError(rule));
    }
    let plan = Plan::new(flows, pickup, &mut road);
    Walk::new(flows, &plan, &road.brackets).run(&mut road.order, &mut road.remarks)?;
    let played: HashSet<usize> = road.order.iter().copied().collect();
    let mut unplayed = (0..flows.len()).filter(|bar| !played.contains(bar));
    if let Some(first) = unplayed.next() {
        let more = unplayed.count();
        let others = match more {
            0 => String::new(),
            _ => format!(" ({more} more bars likewise)"),
        };
        let what = "is never reached by the repeats and jumps as written: left out";
        road.remarks.push((first, format!("{what}{others}")));
    }
    Ok(road)
}

/// The endings, and which belong together. An ending reaches as far as its repeat sign, even where its bracket
/// is drawn shorter; without a stop it is one bar long.
fn brackets(flows: &[&Flow]) -> Vec<Bracket> {
    let mut found: Vec<Bracket> = Vec::new();
    for (bar, flow) in flows.iter().enumerate() {
        let Some(passes) = &flow.ending else { continue };
        let next = (bar + 1..flows.len()).find(|one| flows[*one].ending.is_some());
        let room = next.unwrap_or(flows.len());
        let stop = (bar..room).find(|one| flows[*one].ending_stop);
        let mut last = stop.unwrap_or(bar);
        let repeats = |one: &usize| flows[*one].backward.is_some();
        if next.is_some() && !(bar..=last).any(|one| repeats(&one)) && repeats(&(room - 1)) {
            last = room - 1;
        }
        let group = match found.last() {
            Some(before) if before.last + 1 == bar && !flows[bar].forward => before.group,
            Some(before) => before.group + 1,
            None => 0,
        };
        found.push(Bracket {
            first: bar,
            last,
            passes: passes.clone(),
            group,
        });
    }
    found
}

/// What the signs mean, before they are walked.
#[derive(Debug)]
struct Plan {
    /// Where each backward repeat goes to.
    targets: HashMap<usize, usize>,
    /// Where the repeat of each group of endings begins.
    starts: HashMap<usize, usize>,
    /// Where each place to leave for the coda goes to, and when it does.
    codas: HashMap<usize, (usize, Act)>,
    segnos: Vec<usize>,
    beginning: usize,
}

impl Plan {
    fn new(flows: &[&Flow], pickup: bool, road: &mut Road) -> Plan {
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
    fn segno(&self, bar: usize) -> Option<usize> {
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

/// The walk through the bars.
struct Walk<'w> {
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
    fn new(flows: &'w [&'w Flow], plan: &'w Plan, brackets: &'w [Bracket]) -> Walk<'w> {
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

    fn run(
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Bars written as words: `|:` `:|` `:|3` `:|!` (after a jump too) `[1` `[1,2` `]` `$` segno, `@` coda sign,
    /// `>@` to coda, `fine`, `dc`, `ds`, `dc@` and `ds@` al coda; bars are parted by commas with spaces.
    fn flows(text: &str) -> Vec<Flow> {
        let bar = |words: &str| {
            let mut flow = Flow::default();
            for word in words.split_whitespace() {
                let act = |to_coda| {
                    Some(Act {
                        to_coda,
                        ..Act::default()
                    })
                };
                match word {
                    "-" => {}
                    "|:" => flow.forward = true,
                    "]" => flow.ending_stop = true,
                    "$" => flow.segno = true,
                    "@" => flow.coda = true,
                    ">@" => flow.to_coda = act(false),
                    "fine" => flow.fine = act(false),
                    "dc" => flow.da_capo = act(false),
                    "ds" => flow.dal_segno = act(false),
                    "dc@" => flow.da_capo = act(true),
                    "ds@" => flow.dal_segno = act(true),
                    _ if word.starts_with('[') => {
                        flow.ending =
                            Some(word[1..].split(',').map(|n| n.parse().unwrap()).collect());
                    }
                    _ => {
                        let rest = word.strip_prefix(":|").unwrap_or_else(|| panic!("{word}"));
                        flow.backward = Some(super::super::Backward {
                            times: rest.parse().ok(),
                            after_jump: rest == "!",
                        });
                    }
                }
            }
            flow
        };
        text.split(" ; ").map(bar).collect()
    }

    fn order(text: &str, pickup: bool) -> String {
        let flows = flows(text);
        let flows: Vec<&Flow> = flows.iter().collect();
        let road = road(&flows, pickup).unwrap();
        let order: Vec<String> = road.order.iter().map(usize::to_string).collect();
        order.join(" ")
    }

    #[test]
    fn signs_are_played_out() {
        // MusicXML 4.0: repeat, ending and sound elements; common practice where it is silent.
        let cases = [
            ("- ; - ; -", "0 1 2"),
            ("- ; |: ; :|", "0 1 2 1 2"),
            ("- ; :| ; -", "0 1 0 1 2"),
            ("|: :|4 ; -", "0 0 0 0 1"),
            ("- ; :| ; - ; :|", "0 1 0 1 2 3 2 3"),
            ("|: ; [1 ] :| ; [2 ] ; -", "0 1 0 2 3"),
            ("|: ; [1,2 ] :| ; [3 ]", "0 1 0 1 0 2"),
            ("|: ; [1 ] :| ; [2 ] :| ; [3 ]", "0 1 0 2 0 3"),
            // A bracket drawn shorter than its ending.
            ("|: ; [1 ] ; :| ; [2 ]", "0 1 2 0 3"),
            // Only the first ending is bracketed.
            ("|: ; [1 ] :| ; -", "0 1 0 2"),
            // No ending for the second of three passes.
            ("|: ; [1 ] :| ; [3 ]", "0 1 0 1 0 2"),
            // Nested repeats; nested endings: the inner ones begin anew.
            ("|: ; |: :| ; :|", "0 1 1 2 0 1 1 2"),
            (
                "|: ; |: ; [1 ] :| ; [2 ] ; - ; [1 ] :| ; [2 ]",
                "0 1 2 1 3 4 5 0 1 2 1 3 4 6",
            ),
            // Jumps: no repeat is taken after one, and the last ending is.
            ("- ; - ; dc", "0 1 2 0 1 2"),
            ("- fine ; - ; dc", "0 1 2 0"),
            ("- ; $ ; - fine ; ds", "0 1 2 3 1 2"),
            ("- ; |: :| ; - fine ; dc", "0 1 1 2 3 0 1 2"),
            ("- ; |: :|! ; - fine ; dc", "0 1 1 2 3 0 1 1 2"),
            ("|: ; [1 ] :| ; [2 ] ; - fine ; dc", "0 1 0 2 3 4 0 2 3"),
            ("|: ; [1 fine ] :| ; [2 ] ; dc", "0 1 0 2 3 0 1"),
            ("- ; $ ; >@ ; ds@ ; @ ; -", "0 1 2 3 1 2 4 5"),
            ("- ; $ ; @ ; ds@ ; @ ; -", "0 1 2 3 1 2 4 5"),
            ("- ; >@ ; dc@ ; @ |: :|", "0 1 2 0 1 3 3"),
            // The end counts for nothing on the way to the coda.
            ("- fine ; >@ ; dc@ ; @", "0 1 2 0 1 3"),
            // A coda sign and a segno that lead nowhere.
            ("- ; >@ ; ds", "0 1 2 0 1 2"),
        ];
        for (text, wanted) in cases {
            assert_eq!(order(text, false), wanted, "{text}");
        }
    }

    #[test]
    fn a_pickup_is_played_once() {
        let cases = [
            ("- ; - ; :|", "0 1 2 1 2"),
            ("- ; - ; dc", "0 1 2 1 2"),
            ("- ; |: ; :|", "0 1 2 1 2"),
        ];
        for (text, wanted) in cases {
            assert_eq!(order(text, true), wanted, "{text}");
        }
    }

    #[test]
    fn strange_signs_are_remarked() {
        let cases = [
            ("- ; ds", 1, "there is no segno"),
            ("- ; >@ ; dc", 1, "a coda that is nowhere"),
            ("- ; dc@", 1, "no sign says where"),
            ("|: ; [1 ] :| ; [3 ]", 1, "no ending is for pass 2"),
            ("- fine ; dc ; -", 2, "never reached"),
        ];
        for (text, bar, what) in cases {
            let flows = flows(text);
            let flows: Vec<&Flow> = flows.iter().collect();
            let remarks = road(&flows, false).unwrap().remarks;
            let found = remarks
                .iter()
                .any(|one| one.0 == bar && one.1.contains(what));
            assert!(found, "{text}: {remarks:?}");
        }
    }

    #[test]
    fn the_cap_ends_every_walk() {
        let cases = ["|: :|1000000", "|: ; |: :|2000 ; :|2000"];
        for text in cases {
            let flows = flows(text);
            let flows: Vec<&Flow> = flows.iter().collect();
            let told = road(&flows, false).unwrap_err().to_string();
            assert!(told.contains("more than 10000 bars"), "{told}");
        }
    }
}
