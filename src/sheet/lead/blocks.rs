//! Blocks: bars that are always played one after the other.

use super::road::Bracket;
use super::written::Measure;
use std::collections::{BTreeSet, HashMap, HashSet};

/// A double bar line parts sections of at least this many bars.
const LEAST_BARS: usize = 4;

/// A block: bars that are always played one after the other.
#[derive(Debug)]
pub(super) struct Block {
    pub(super) bars: Vec<usize>,
    /// The ending it is, whole, as an index.
    pub(super) bracket: Option<usize>,
}

pub(super) fn blocks(measures: &[Measure], brackets: &[Bracket], order: &[usize]) -> Vec<Block> {
    let played: BTreeSet<usize> = order.iter().copied().collect();
    let mut cuts: HashSet<usize> = HashSet::new();
    for pair in order.windows(2) {
        if pair[0] + 1 != pair[1] {
            cuts.insert(pair[0] + 1);
            cuts.insert(pair[1]);
        }
    }
    cuts.extend(order.last().map(|last| last + 1));
    for bracket in brackets {
        cuts.insert(bracket.first);
        cuts.insert(bracket.last + 1);
    }
    let inside = |bar: usize| {
        let within = |one: &Bracket| one.first < bar && bar <= one.last;
        brackets.iter().any(within)
    };
    let marks = (0..measures.len()).filter(|bar| measures[*bar].mark.is_some() && !inside(*bar));
    cuts.extend(marks.clone());
    if marks.count() == 0 {
        cut_at_double_bars(measures, &played, &mut cuts);
    }
    let mut blocks: Vec<Block> = Vec::new();
    for bar in played {
        match blocks.last_mut() {
            Some(block)
                if !cuts.contains(&bar) && block.bars.last() == bar.checked_sub(1).as_ref() =>
            {
                block.bars.push(bar);
            }
            _ => blocks.push(Block {
                bars: vec![bar],
                bracket: None,
            }),
        }
    }
    for block in &mut blocks {
        let whole = |one: &Bracket| {
            block.bars.first() == Some(&one.first) && block.bars.last() == Some(&one.last)
        };
        block.bracket = brackets.iter().position(whole);
    }
    blocks
}

/// Without rehearsal marks a double bar line parts two sections, if both are long enough for one.
fn cut_at_double_bars(measures: &[Measure], played: &BTreeSet<usize>, cuts: &mut HashSet<usize>) {
    let Some(first) = played.first().copied() else {
        return;
    };
    let mut edges: Vec<usize> = cuts
        .iter()
        .copied()
        .chain([first, measures.len()])
        .collect();
    edges.sort_unstable();
    let mut from = first;
    for bar in played {
        if cuts.contains(bar) {
            from = *bar;
        }
        if !measures[*bar].double_bar || bar + 1 - from < LEAST_BARS {
            continue;
        }
        let next = edges[edges
            .partition_point(|edge| edge <= bar)
            .min(edges.len() - 1)];
        if next > *bar && next - (bar + 1) >= LEAST_BARS {
            cuts.insert(bar + 1);
            from = bar + 1;
        }
    }
}

/// The order of playing as blocks.
pub(super) fn sequence(blocks: &[Block], order: &[usize]) -> Vec<usize> {
    let first: HashMap<usize, usize> = blocks
        .iter()
        .enumerate()
        .map(|(index, block)| (block.bars[0], index))
        .collect();
    order
        .iter()
        .filter_map(|bar| first.get(bar).copied())
        .collect()
}
