//! The cheapest line of single notes, by dynamic programming over pairs of neighbouring notes.

/// Keys a note may take, with what each costs by itself. Never empty, and at most 256.
pub(super) type Layer = Vec<(u8, f64)>;

/// What a line costs besides.
pub(super) trait Prices {
    /// The `i`th note as such.
    fn alone(&self, i: usize, key: u8) -> f64;
    /// From the `i`th note, `key`, to the next, having come from `was`.
    fn step(&self, i: usize, was: Option<u8>, key: u8, to: u8) -> f64;
    /// That the line ends with the `i`th note, `key`, having come from `was`.
    fn end(&self, i: usize, was: Option<u8>, key: u8) -> f64;
}

/// For each pair of places in two neighbouring layers a number.
struct Pairs<T> {
    cells: Vec<T>,
    /// How many places the second layer has.
    width: usize,
}

impl<T: Copy> Pairs<T> {
    fn new(cell: T, (first, second): (usize, usize)) -> Pairs<T> {
        Pairs {
            cells: vec![cell; first * second],
            width: second,
        }
    }

    fn at(&self, first: usize, second: usize) -> T {
        self.cells[first * self.width + second]
    }

    fn set(&mut self, first: usize, second: usize, cell: T) {
        self.cells[first * self.width + second] = cell;
    }

    fn first_places(&self) -> usize {
        self.cells.len() / self.width
    }
}

/// One key for each layer, so that the whole costs least.
pub(super) fn cheapest(layers: &[Layer], prices: &impl Prices) -> Vec<u8> {
    let Some(first) = layers.first() else {
        return Vec::new();
    };
    let start = |(key, cost): &(u8, f64)| cost + prices.alone(0, *key);
    // By the place before and the place here; the first note has one place before it, which is none.
    let mut costs = Pairs {
        cells: first.iter().map(start).collect(),
        width: first.len(),
    };
    // A whole song's worth of them: a byte each.
    let mut came_from: Vec<Pairs<u8>> = Vec::with_capacity(layers.len());
    for i in 1..layers.len() {
        let (next, from) = forward(layers, i, &costs, prices);
        costs = next;
        came_from.push(from);
    }
    back(layers, &costs, &came_from, prices)
}

/// The key of a place of the layer before the `i`th.
fn before(layers: &[Layer], i: usize, place: usize) -> Option<u8> {
    i.checked_sub(1).map(|i| layers[i][place].0)
}

/// The costs of all pairs that end in the `i`th layer, and by which place before each came.
fn forward(
    layers: &[Layer],
    i: usize,
    costs: &Pairs<f64>,
    prices: &impl Prices,
) -> (Pairs<f64>, Pairs<u8>) {
    let (here, there) = (&layers[i - 1], &layers[i]);
    let places = (here.len(), there.len());
    let (mut next, mut from) = (Pairs::new(f64::INFINITY, places), Pairs::new(0, places));
    for (h, (key, _)) in here.iter().enumerate() {
        for (t, (to, cost)) in there.iter().enumerate() {
            let own = cost + prices.alone(i, *to);
            for b in 0..costs.first_places() {
                let was = before(layers, i - 1, b);
                let sum = costs.at(b, h) + own + prices.step(i - 1, was, *key, *to);
                if sum < next.at(h, t) {
                    next.set(h, t, sum);
                    from.set(h, t, b as u8);
                }
            }
        }
    }
    (next, from)
}

/// The keys of the cheapest line, found from its end.
fn back(
    layers: &[Layer],
    costs: &Pairs<f64>,
    came_from: &[Pairs<u8>],
    prices: &impl Prices,
) -> Vec<u8> {
    let last = layers.len() - 1;
    let end = |(b, h): (usize, usize)| {
        costs.at(b, h) + prices.end(last, before(layers, last, b), layers[last][h].0)
    };
    let ends = (0..costs.first_places()).flat_map(|b| (0..layers[last].len()).map(move |h| (b, h)));
    let best = ends.min_by(|x, y| end(*x).total_cmp(&end(*y)));
    let (mut was, mut here) = best.unwrap_or((0, 0));
    let mut keys = vec![layers[last][here].0];
    for i in (1..layers.len()).rev() {
        keys.push(layers[i - 1][was].0);
        (was, here) = (came_from[i - 1].at(was, here).into(), was);
    }
    keys.reverse();
    keys
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Prices without rhyme or reason, the same each time they are asked.
    struct Odd(u64);

    impl Odd {
        fn price(&self, of: &[u64]) -> f64 {
            10.0 * super::super::choice::fraction(self.0, of)
        }
    }

    impl Prices for Odd {
        fn alone(&self, i: usize, key: u8) -> f64 {
            self.price(&[0, i as u64, key.into()])
        }
        fn step(&self, i: usize, was: Option<u8>, key: u8, to: u8) -> f64 {
            self.price(&[
                1,
                i as u64,
                was.unwrap_or(200).into(),
                key.into(),
                to.into(),
            ])
        }
        fn end(&self, i: usize, was: Option<u8>, key: u8) -> f64 {
            self.price(&[2, i as u64, was.unwrap_or(200).into(), key.into()])
        }
    }

    fn total(line: &[(u8, f64)], prices: &Odd) -> f64 {
        let was = |i: usize| i.checked_sub(1).map(|i| line[i].0);
        let steps = (0..line.len() - 1).map(|i| prices.step(i, was(i), line[i].0, line[i + 1].0));
        let alone = line
            .iter()
            .enumerate()
            .map(|(i, (key, cost))| cost + prices.alone(i, *key));
        let last = line.len() - 1;
        steps.sum::<f64>() + alone.sum::<f64>() + prices.end(last, was(last), line[last].0)
    }

    proptest! {
        #[test]
        fn no_line_is_cheaper_than_the_one_found(
            layers in prop::collection::vec(prop::collection::btree_map(0u8..12, 0u8..5, 1..5), 1..6),
            seed: u64,
        ) {
            let layers: Vec<Layer> = layers
                .into_iter()
                .map(|layer| layer.into_iter().map(|(key, cost)| (key, cost.into())).collect())
                .collect();
            let mut all: Vec<Layer> = vec![Vec::new()];
            for layer in &layers {
                let longer = |line: &Layer| {
                    let line = line.clone();
                    layer.iter().map(move |note| [line.clone(), vec![*note]].concat())
                };
                all = all.iter().flat_map(longer).collect();
            }
            let prices = Odd(seed);
            let best = all
                .iter()
                .min_by(|a, b| total(a, &prices).total_cmp(&total(b, &prices)))
                .unwrap();
            let keys: Vec<u8> = best.iter().map(|(key, _)| *key).collect();
            prop_assert_eq!(cheapest(&layers, &prices), keys);
        }
    }
}
