//! Every order of a figure, each once before any comes twice.

use super::figure::FigureNote;

/// A small generator of numbers from a seed: the same seed gives the same numbers on every machine
/// (SplitMix64; G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators",
/// OOPSLA 2014).
#[derive(Debug, Clone)]
pub(super) struct Numbers(u64);

impl Numbers {
    /// The numbers of a seed.
    pub fn new(seed: u64) -> Numbers {
        Numbers(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below `limit`.
    pub fn below(&mut self, limit: usize) -> usize {
        ((u128::from(self.next()) * limit as u128) >> 64) as usize
    }
}

/// All distinct orders of a figure.
#[derive(Debug, Clone)]
pub(super) struct Orders {
    distinct: Vec<Vec<FigureNote>>,
    seed: u64,
}

impl Orders {
    /// The orders of `figure`; the first is the figure as written.
    pub fn of(figure: &[FigureNote], seed: u64) -> Orders {
        let mut distinct = Vec::new();
        let mut left = figure.to_vec();
        grow(&mut Vec::new(), &mut left, &mut distinct);
        Orders { distinct, seed }
    }

    /// All of them, the figure as written first.
    pub fn all(&self) -> &[Vec<FigureNote>] {
        &self.distinct
    }

    /// The order to play as number `index` (from 0): the figure as written first, then the others by
    /// chance; after all of them a new round in a new order, which never begins with the last one played.
    pub fn at(&self, index: u64) -> &[FigureNote] {
        let count = self.distinct.len() as u64;
        let round = self.round(index / count);
        &self.distinct[round[(index % count) as usize]]
    }

    fn round(&self, round: u64) -> Vec<usize> {
        let mut turn = self.shuffled(round);
        // With two orders they alternate; from three on the last of a round is never touched below.
        if round > 0 && turn.len() > 2 && self.shuffled(round - 1).last() == turn.first() {
            turn.swap(0, 1);
        }
        turn
    }

    fn shuffled(&self, round: u64) -> Vec<usize> {
        let mut turn: Vec<usize> = (0..self.distinct.len()).collect();
        let fixed = if round == 0 { 1 } else { 0 };
        if turn.len() > 2 {
            let mut numbers = Numbers(self.seed ^ round.wrapping_mul(0xd134_2543_de82_ef95));
            for end in (fixed + 1..turn.len()).rev() {
                turn.swap(end, fixed + numbers.below(end + 1 - fixed));
            }
        }
        turn
    }
}

/// Extends `taken` by each distinct note of `left` in turn.
fn grow(taken: &mut Vec<FigureNote>, left: &mut Vec<FigureNote>, found: &mut Vec<Vec<FigureNote>>) {
    if left.is_empty() {
        found.push(taken.clone());
        return;
    }
    for index in 0..left.len() {
        if left[..index].contains(&left[index]) {
            continue;
        }
        let note = left.remove(index);
        taken.push(note);
        grow(taken, left, found);
        taken.pop();
        left.insert(index, note);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn figure(text: &str) -> Vec<FigureNote> {
        text.split(' ').map(|word| word.parse().unwrap()).collect()
    }

    fn text(order: &[FigureNote]) -> String {
        let words: Vec<String> = order.iter().map(|note| note.degree.to_string()).collect();
        words.join(" ")
    }

    #[test]
    fn three_notes_have_six_orders_and_the_first_is_as_written() {
        let orders = Orders::of(&figure("1 2 3"), 7);
        assert_eq!(text(orders.at(0)), "1 2 3");
        let mut all: Vec<String> = (0..6).map(|index| text(orders.at(index))).collect();
        all.sort();
        assert_eq!(all, ["1 2 3", "1 3 2", "2 1 3", "2 3 1", "3 1 2", "3 2 1"]);
    }

    #[test]
    fn a_note_that_comes_twice_gives_fewer_orders() {
        assert_eq!(Orders::of(&figure("1 3 1"), 0).distinct.len(), 3);
    }

    proptest! {
        #[test]
        fn every_order_once_before_any_twice(notes in 1usize..=5, seed: u64, round in 0u64..50) {
            let words = ["1", "2", "3", "5", "7"][..notes].join(" ");
            let orders = Orders::of(&figure(&words), seed);
            let count: u64 = (1..=notes as u64).product();
            let mut seen: Vec<String> =
                (0..count).map(|index| text(orders.at(round * count + index))).collect();
            seen.sort();
            seen.dedup();
            prop_assert_eq!(seen.len() as u64, count);
            if notes > 1 && round > 0 {
                prop_assert_ne!(orders.at(round * count - 1), orders.at(round * count));
            }
        }
    }
}
