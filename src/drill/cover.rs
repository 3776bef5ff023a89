//! Every combination of some values once before any comes twice, in an order in which any two values meet early.
//!
//! The first combinations are a pairwise cover: every value of one thing has met every value of every other thing by their end.
//! They are chosen greedily (M. B. Cohen, S. R. Dalal, M. L. Fredman, G. C. Patton, "The AETG system", IEEE Transactions on
//! Software Engineering 23, 1997): of some candidates, each grown value by value, the one that brings the most new pairs.

use super::orders::Numbers;

/// Candidates for each combination; fewer where there are many values, among which a greedy choice is good anyway.
const CANDIDATES: usize = 24;
const FEW_CANDIDATES: usize = 6;
/// From so many pairs of the two longest lists on there are many values.
const MANY_PAIRS: usize = 60;
/// Pairs that all covers together may weigh: of short lists more covers are tried, of which the shortest is taken.
const WEIGHED: usize = 60_000;

/// The least combinations in which any two values of `levels` can meet: each of the two longest lists with each; and of many
/// lists no fewer than as many of two values need (D. J. Kleitman, J. Spencer, "Families of k-independent sets", Discrete
/// Mathematics 6, 1973).
pub fn least(levels: &[usize]) -> usize {
    let mut sorted: Vec<usize> = levels.iter().copied().filter(|level| *level > 1).collect();
    sorted.sort_unstable_by(|a, b| b.cmp(a));
    let of_two = match sorted[..] {
        [] => 1,
        [only] => only,
        [first, second, ..] => first * second,
    };
    let binary = match sorted.len() {
        0..=1 => 1,
        2..=3 => 4,
        4 => 5,
        _ => 6,
    };
    of_two.max(binary)
}

/// All combinations of `levels`, a cover of all pairs first; and how many of them the cover is.
pub(super) fn covering(levels: &[usize]) -> (Vec<Vec<usize>>, usize) {
    let least = least(levels);
    let tries = (WEIGHED / (least * least)).clamp(2, 400) as u64;
    let mut best = cover(levels, 0);
    for seed in 1..tries {
        if best.len() <= least {
            break;
        }
        let other = cover(levels, seed);
        if other.len() < best.len() {
            best = other;
        }
    }
    let count = best.len();
    // Named so that the first combination is the first of each list.
    let first = best.first().cloned().unwrap_or_default();
    let named = best.iter().map(|row| {
        let swapped = row.iter().zip(&first).map(|(value, first)| match *value {
            value if value == *first => 0,
            0 => *first,
            value => value,
        });
        swapped.collect::<Vec<usize>>()
    });
    let mut rows: Vec<Vec<usize>> = named.collect();
    let covered: std::collections::HashSet<Vec<usize>> = rows.iter().cloned().collect();
    rows.extend(all(levels).into_iter().filter(|row| !covered.contains(row)));
    (rows, count)
}

/// Every combination, the last value turning fastest.
pub(super) fn all(levels: &[usize]) -> Vec<Vec<usize>> {
    let mut rows: Vec<Vec<usize>> = vec![Vec::new()];
    for level in levels {
        let longer = |row: &Vec<usize>| {
            let with = |value| row.iter().copied().chain([value]).collect();
            (0..*level).map(with).collect::<Vec<Vec<usize>>>()
        };
        rows = rows.iter().flat_map(longer).collect();
    }
    rows
}

/// The pairs that have not met yet.
struct Open {
    levels: Vec<usize>,
    /// `open[a][b]`: for factors a < b, a flag for each pair of values.
    open: Vec<Vec<Vec<bool>>>,
    left: usize,
}

impl Open {
    fn new(levels: &[usize]) -> Open {
        let pairs = |a: usize| {
            let of = |b: usize| vec![a < b; if a < b { levels[a] * levels[b] } else { 0 }];
            (0..levels.len()).map(of).collect::<Vec<Vec<bool>>>()
        };
        let open: Vec<Vec<Vec<bool>>> = (0..levels.len()).map(pairs).collect();
        let left = open.iter().flatten().map(Vec::len).sum();
        Open {
            levels: levels.to_vec(),
            open,
            left,
        }
    }

    fn is_open(&self, (a, x): (usize, usize), (b, y): (usize, usize)) -> bool {
        let ((a, x), (b, y)) = if a < b {
            ((a, x), (b, y))
        } else {
            ((b, y), (a, x))
        };
        self.open[a][b][x * self.levels[b] + y]
    }

    /// How many new pairs a value brings beside what is chosen.
    fn gain(&self, place: (usize, usize), chosen: &[Option<usize>]) -> usize {
        let others = chosen
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != place.0);
        others
            .filter(|(other, value)| {
                value.is_some_and(|value| self.is_open(place, (*other, value)))
            })
            .count()
    }

    /// How many pairs of a value have not met.
    fn of_value(&self, place: (usize, usize)) -> usize {
        let others = (0..self.levels.len()).filter(|other| *other != place.0);
        others
            .map(|other| {
                (0..self.levels[other])
                    .filter(|value| self.is_open(place, (other, *value)))
                    .count()
            })
            .sum()
    }

    fn meet(&mut self, row: &[usize]) {
        for a in 0..row.len() {
            for b in a + 1..row.len() {
                let flag = &mut self.open[a][b][row[a] * self.levels[b] + row[b]];
                self.left -= usize::from(std::mem::replace(flag, false));
            }
        }
    }
}

/// One greedy cover.
fn cover(levels: &[usize], seed: u64) -> Vec<Vec<usize>> {
    let mut numbers = Numbers::new(seed);
    let mut open = Open::new(levels);
    let mut rows = Vec::new();
    let many = least(levels) >= MANY_PAIRS;
    let candidates = if many { FEW_CANDIDATES } else { CANDIDATES };
    while open.left > 0 {
        let grown = (0..candidates).map(|_| candidate(&open, &mut numbers));
        let gain = |row: &Vec<usize>| {
            let chosen: Vec<Option<usize>> = row.iter().copied().map(Some).collect();
            (0..row.len())
                .map(|place| open.gain((place, row[place]), &chosen))
                .sum::<usize>()
        };
        let grown: Vec<Vec<usize>> = grown.collect();
        let Some(best) = grown.into_iter().max_by_key(gain) else {
            break;
        };
        open.meet(&best);
        rows.push(best);
    }
    if rows.is_empty() {
        rows.push(vec![0; levels.len()]);
    }
    rows
}

/// A combination grown value by value: from the value with the most pairs open, each next one with the most new pairs.
fn candidate(open: &Open, numbers: &mut Numbers) -> Vec<usize> {
    let count = open.levels.len();
    let mut chosen: Vec<Option<usize>> = vec![None; count];
    let mut order: Vec<usize> = (0..count).collect();
    for end in (1..count).rev() {
        order.swap(end, numbers.below(end + 1));
    }
    let places = order
        .iter()
        .flat_map(|place| (0..open.levels[*place]).map(move |value| (*place, value)));
    let seldom = places.max_by_key(|place| (open.of_value(*place), numbers.below(1 << 16)));
    if let Some((place, value)) = seldom {
        chosen[place] = Some(value);
        order.retain(|other| *other != place);
    }
    for place in order {
        let values = 0..open.levels[place];
        let best = values.max_by_key(|value| {
            (
                open.gain((place, *value), &chosen),
                open.of_value((place, *value)),
                numbers.below(1 << 16),
            )
        });
        chosen[place] = best;
    }
    chosen.into_iter().map(|value| value.unwrap_or(0)).collect()
}
