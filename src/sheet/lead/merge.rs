//! Sections that come back: the same mark over the same bars is the same section again.
//!
//! A sheet without jumps writes AABA out. Where a mark stands over the bars of a section that stood there before, with one of
//! its endings or a new one, it is that section in another pass.

use super::bars::ReadyBar;
use super::blocks::Block;
use super::road::Bracket;
use super::written::Measure;

/// The blocks and their order, being merged.
struct Merger<'m> {
    measures: &'m [Measure],
    bars: &'m [ReadyBar],
    blocks: &'m mut Vec<Block>,
    brackets: &'m mut Vec<Bracket>,
    sequence: &'m mut Vec<usize>,
}

/// Merges what stands there again.
pub(super) fn merge(
    measures: &[Measure],
    bars: &[ReadyBar],
    blocks: &mut Vec<Block>,
    brackets: &mut Vec<Bracket>,
    sequence: &mut Vec<usize>,
) {
    let count = blocks.len();
    let mut merger = Merger {
        measures,
        bars,
        blocks,
        brackets,
        sequence,
    };
    for block in 0..count {
        let before = (0..block).find(|other| merger.is_again(*other, block));
        if let Some(before) = before {
            merger.take_for(before, block);
        }
    }
}

impl Merger<'_> {
    /// The mark of a block that is no ending.
    fn mark(&self, block: usize) -> Option<&str> {
        let block = &self.blocks[block];
        let first = block.bars.first().filter(|_| block.bracket.is_none())?;
        self.measures[*first].mark.as_deref()
    }

    fn same_bars(&self, one: &[usize], other: &[usize]) -> bool {
        let same = |(one, other): (&usize, &usize)| {
            let (one, other) = (&self.bars[*one], &self.bars[*other]);
            (&one.bar, &one.notes) == (&other.bar, &other.notes)
        };
        one.len() == other.len() && one.iter().zip(other).all(same)
    }

    /// The group of the endings that follow a block.
    fn group_after(&self, block: usize) -> Option<usize> {
        let at = self.sequence.iter().position(|one| *one == block)?;
        let next = *self.sequence.get(at + 1)?;
        Some(self.brackets[self.blocks[next].bracket?].group)
    }

    /// Whether `block` is `before` once more.
    fn is_again(&self, before: usize, block: usize) -> bool {
        if self.mark(before).is_none() || self.mark(before) != self.mark(block) {
            return false;
        }
        let (one, other) = (&self.blocks[before].bars, &self.blocks[block].bars);
        if other.len() < one.len() || !self.same_bars(one, &other[..one.len()]) {
            return false;
        }
        let (group, own) = (self.group_after(before), self.group_after(block));
        match other.len() == one.len() {
            true => group.is_some() == own.is_some(),
            false => group.is_some() && own.is_none(),
        }
    }

    fn take_for(&mut self, before: usize, block: usize) {
        let (group, own) = (self.group_after(before), self.group_after(block));
        let body = self.blocks[before].bars.len();
        let rest = self.blocks[block].bars.split_off(body);
        self.blocks[block].bars.clear();
        let mut instead = vec![before];
        if let Some(group) = group.filter(|_| !rest.is_empty()) {
            instead.push(self.ending(group, rest));
        }
        self.replace(block, &instead);
        if let (Some(group), Some(own)) = (group, own) {
            self.join_endings(group, own);
        }
    }

    /// The block of a group's ending with these bars: one that is there, or a new one.
    fn ending(&mut self, group: usize, bars: Vec<usize>) -> usize {
        if let Some(known) = self.ending_like(group, &bars, self.blocks.len()) {
            return known;
        }
        let (first, last) = (bars[0], bars[bars.len() - 1]);
        self.brackets.push(Bracket {
            first,
            last,
            passes: Vec::new(),
            group,
        });
        self.blocks.push(Block {
            bars,
            bracket: Some(self.brackets.len() - 1),
        });
        self.blocks.len() - 1
    }

    fn ending_like(&self, group: usize, bars: &[usize], except: usize) -> Option<usize> {
        let is_like = |(index, block): &(usize, &Block)| {
            let in_group = block
                .bracket
                .is_some_and(|one| self.brackets[one].group == group);
            *index != except && in_group && self.same_bars(&block.bars, bars)
        };
        let mut blocks = self.blocks.iter().enumerate();
        blocks.find(|one| is_like(one)).map(|(index, _)| index)
    }

    /// The endings of another group are those of this one, or further ones.
    fn join_endings(&mut self, group: usize, other: usize) {
        for index in 0..self.blocks.len() {
            let Some(bracket) = self.blocks[index].bracket else {
                continue;
            };
            if self.brackets[bracket].group != other || group == other {
                continue;
            }
            let bars = self.blocks[index].bars.clone();
            match self.ending_like(group, &bars, index) {
                Some(known) => {
                    self.blocks[index].bars.clear();
                    self.replace(index, &[known]);
                }
                None => self.brackets[bracket].group = group,
            }
        }
    }

    fn replace(&mut self, block: usize, instead: &[usize]) {
        let all = self.sequence.iter().flat_map(|one| match *one == block {
            true => instead.to_vec(),
            false => vec![*one],
        });
        *self.sequence = all.collect();
    }
}
