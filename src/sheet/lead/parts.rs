//! Blocks as sections and their endings.

use super::blocks::Block;
use super::road::Bracket;
use std::collections::{BTreeMap, HashMap, HashSet};

/// Sections before they have bars: blocks, and blocks that are endings.
#[derive(Debug, Default)]
pub(super) struct Parts {
    pub(super) sections: Vec<SectionPart>,
    pub(super) form: Vec<usize>,
}

#[derive(Debug, PartialEq, Eq)]
pub(super) struct SectionPart {
    pub(super) body: usize,
    /// Pass and block of each ending; the last one also takes the passes not named.
    pub(super) endings: Vec<(u32, usize)>,
}

pub(super) fn parts(blocks: &[Block], sequence: &[usize], brackets: &[Bracket]) -> Parts {
    let group = |block: usize| blocks[block].bracket.map(|one| brackets[one].group);
    let body_of: HashMap<usize, usize> = folding(blocks, sequence, brackets);
    let mut found = Parts::default();
    let mut index: BTreeMap<usize, usize> = BTreeMap::new();
    let mut ends: HashMap<usize, Vec<usize>> = HashMap::new();
    for (at, block) in sequence.iter().enumerate() {
        let folded = |one: usize| group(one).is_some_and(|group| body_of.contains_key(&group));
        if folded(*block) {
            continue;
        }
        index.entry(*block).or_default();
        found.form.push(*block);
        if let Some(end) = sequence.get(at + 1).filter(|next| folded(**next)) {
            ends.entry(*block).or_default().push(*end);
        }
    }
    for (place, (_, section)) in index.iter_mut().enumerate() {
        *section = place;
    }
    for block in index.keys() {
        let played = ends.get(block).map_or(&[][..], Vec::as_slice);
        found.sections.push(SectionPart {
            body: *block,
            endings: endings(played),
        });
    }
    found
        .form
        .iter_mut()
        .for_each(|block| *block = index[block]);
    found
}

/// The groups of endings that can be endings of a section, with the block that is its body: the one that each of
/// them always follows, and that is always followed by one of them.
fn folding(blocks: &[Block], sequence: &[usize], brackets: &[Bracket]) -> HashMap<usize, usize> {
    let group = |block: usize| blocks[block].bracket.map(|one| brackets[one].group);
    let mut bodies: HashMap<usize, usize> = HashMap::new();
    let mut refused: HashSet<usize> = HashSet::new();
    for (at, block) in sequence.iter().enumerate() {
        let Some(group_here) = group(*block) else {
            continue;
        };
        let before = at.checked_sub(1).map(|before| sequence[before]);
        match before.filter(|before| group(*before).is_none()) {
            Some(body) if *bodies.entry(group_here).or_insert(body) == body => {}
            _ => {
                refused.insert(group_here);
            }
        }
    }
    // A bracket in pieces leaves a block under it that is no ending.
    for block in blocks.iter().filter(|block| block.bracket.is_none()) {
        let touched = brackets.iter().filter(|one| {
            block
                .bars
                .iter()
                .any(|bar| (one.first..=one.last).contains(bar))
        });
        refused.extend(touched.map(|one| one.group));
    }
    let mut followed: HashMap<usize, usize> = HashMap::new();
    for (group, body) in &bodies {
        if followed
            .insert(*body, *group)
            .is_some_and(|other| other != *group)
        {
            refused.insert(*group);
        }
    }
    for (at, block) in sequence.iter().enumerate() {
        if let Some(group_there) = followed.get(block) {
            let next = sequence.get(at + 1).and_then(|next| group(*next));
            if next != Some(*group_there) {
                refused.insert(*group_there);
            }
        }
    }
    bodies.retain(|group, _| !refused.contains(group));
    bodies
}

/// The endings of a section by pass. An ending of several passes stands last, for it takes those not named.
fn endings(played: &[usize]) -> Vec<(u32, usize)> {
    let mut count: BTreeMap<usize, usize> = BTreeMap::new();
    for block in played {
        *count.entry(*block).or_default() += 1;
    }
    let Some((usual, _)) = count.iter().max_by_key(|(_, count)| **count) else {
        return Vec::new();
    };
    let mut named: Vec<(u32, usize)> = Vec::new();
    let mut usual_pass = None;
    for (pass, block) in (1..).zip(played) {
        if block == usual {
            usual_pass.get_or_insert((pass, *block));
        } else {
            named.push((pass, *block));
        }
    }
    named.into_iter().chain(usual_pass).collect()
}
