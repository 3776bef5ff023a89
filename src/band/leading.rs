//! Voice leading: one voicing for every chord, so that the whole loop, its seam included, moves least.

use super::voicing::Voicing;
use std::collections::HashMap;
use std::rc::Rc;

/// Chooses a voicing for each chord of a loop; `None` where a chord has none (it is silent; the voices go on
/// from the chord before it). The choice is the cheapest closed way round: every start is tried. A top voice that stays costs
/// `restless`.
pub(super) fn lead(choices: &[Vec<Voicing>], restless: f64) -> Vec<Option<usize>> {
    Steps::of(choices, restless).lead(choices)
}

/// What the steps of a loop cost, whatever its voicings cost by themselves.
pub(super) struct Steps {
    /// The chords that sound.
    sounding: Vec<usize>,
    /// From each of them to the next, for every voicing here all there. A tune has few changes, and often: what the same
    /// voicings lie apart is kept once.
    costs: Vec<Rc<[f64]>>,
}

impl Steps {
    pub(super) fn of(choices: &[Vec<Voicing>], restless: f64) -> Steps {
        let sounds = |i: &usize| !choices[*i].is_empty();
        let sounding: Vec<usize> = (0..choices.len()).filter(sounds).collect();
        let mut kinds: HashMap<Vec<&[u8]>, usize> = HashMap::new();
        let kind = |index: &usize| {
            let keys = choices[*index]
                .iter()
                .map(|voicing| voicing.keys.as_slice());
            let new = kinds.len();
            *kinds.entry(keys.collect()).or_insert(new)
        };
        let kinds: Vec<usize> = sounding.iter().map(kind).collect();
        let mut known: HashMap<(usize, usize), Rc<[f64]>> = HashMap::new();
        let costs = (0..sounding.len()).map(|here| {
            let there = (here + 1) % sounding.len();
            let made = || {
                let [from, to] = [here, there].map(|at| choices[sounding[at]].as_slice());
                step_costs(from, to, restless).into()
            };
            let costs = known.entry((kinds[here], kinds[there]));
            Rc::clone(costs.or_insert_with(made))
        });
        Steps {
            costs: costs.collect(),
            sounding,
        }
    }

    /// The cheapest way for the voicings that it was made of, whose own costs may be others by now.
    pub(super) fn lead(&self, choices: &[Vec<Voicing>]) -> Vec<Option<usize>> {
        let mut chosen = vec![None; choices.len()];
        let sounding = self.sounding.iter();
        let layers: Vec<&[Voicing]> = sounding.map(|i| choices[*i].as_slice()).collect();
        let Some(first) = layers.first() else {
            return chosen;
        };
        let best = (0..first.len())
            .map(|start| way_round(&layers, &self.costs, start))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, way)) = best {
            for (index, choice) in self.sounding.iter().zip(way) {
                chosen[*index] = Some(choice);
            }
        }
        chosen
    }
}

/// The voicing of `choices` nearest to `from`.
pub(super) fn nearest<'a>(from: Option<&Voicing>, choices: &'a [Voicing]) -> Option<&'a Voicing> {
    let cost = |choice: &Voicing| choice.cost + from.map_or(0.0, |from| motion(from, choice));
    choices.iter().min_by(|a, b| cost(a).total_cmp(&cost(b)))
}

/// The cheapest closed way through the layers that begins (and so ends) at `start`.
fn way_round(layers: &[&[Voicing]], steps: &[Rc<[f64]>], start: usize) -> (f64, Vec<usize>) {
    let mut costs = vec![f64::INFINITY; layers[0].len()];
    costs[start] = layers[0][start].cost;
    let mut came_from: Vec<Vec<usize>> = Vec::with_capacity(layers.len());
    for i in 1..layers.len() {
        let width = layers[i].len();
        let mut next = vec![f64::INFINITY; width];
        let mut from = vec![0; width];
        for (there, voicing) in layers[i].iter().enumerate() {
            for (here, so_far) in costs.iter().enumerate() {
                let cost = so_far + steps[i - 1][here * width + there] + voicing.cost;
                if cost < next[there] {
                    (next[there], from[there]) = (cost, here);
                }
            }
        }
        costs = next;
        came_from.push(from);
    }
    let seam = &steps[layers.len() - 1];
    let width = layers[0].len();
    let closed = |last: usize| costs[last] + seam[last * width + start];
    let end = (0..costs.len())
        .min_by(|a, b| closed(*a).total_cmp(&closed(*b)))
        .unwrap_or(start);
    let mut way = vec![end];
    for from in came_from.iter().rev() {
        way.push(from[way[way.len() - 1]]);
    }
    way.reverse();
    (closed(end), way)
}

fn step_costs(here: &[Voicing], there: &[Voicing], restless: f64) -> Vec<f64> {
    let stays = |a: &Voicing, b: &Voicing| a.keys.last() == b.keys.last();
    let cost = |a: &Voicing, b: &Voicing| motion(a, b) + if stays(a, b) { restless } else { 0.0 };
    here.iter()
        .flat_map(|a| there.iter().map(move |b| cost(a, b)))
        .collect()
}

/// How much it costs to go from one voicing to the next: the ear follows the top voice, so it weighs most,
/// and beyond a minor third, then beyond a fourth, it is taken only when nothing else is left.
fn motion(from: &Voicing, to: &Voicing) -> f64 {
    let top = |voicing: &Voicing| i32::from(voicing.keys.last().copied().unwrap_or(0));
    let leap = f64::from((top(from) - top(to)).abs());
    let far = match leap as i32 {
        0..=2 => 0.0,
        3 => 3.0,
        4 | 5 => 80.0 * (leap - 3.0),
        _ => 2000.0 * (leap - 5.0),
    };
    leap + far + 0.25 * (inner(from, to) + inner(to, from)) / 2.0
}

/// How far each voice of `from` is from the nearest voice of `to`, in all.
fn inner(from: &Voicing, to: &Voicing) -> f64 {
    let nearest = |key: u8| to.keys.iter().map(|other| key.abs_diff(*other)).min();
    from.keys
        .iter()
        .filter_map(|key| nearest(*key))
        .map(f64::from)
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn total(choices: &[Vec<Voicing>], way: &[usize]) -> f64 {
        let at = |i: usize| &choices[i % way.len()][way[i % way.len()]];
        (0..way.len())
            .map(|i| at(i).cost + motion(at(i), at(i + 1)))
            .sum()
    }

    /// The cheapest of every way there is.
    fn by_trying_all(choices: &[Vec<Voicing>]) -> f64 {
        let mut ways = vec![Vec::new()];
        for layer in choices {
            let longer = |way: &Vec<usize>| {
                let way = way.clone();
                (0..layer.len()).map(move |choice| [way.clone(), vec![choice]].concat())
            };
            ways = ways.iter().flat_map(longer).collect();
        }
        ways.iter()
            .map(|way| total(choices, way))
            .fold(f64::INFINITY, f64::min)
    }

    fn voicing() -> impl Strategy<Value = Voicing> {
        (prop::collection::btree_set(50u8..=70, 1..5), 0u8..4).prop_map(|(keys, cost)| Voicing {
            keys: keys.into_iter().collect(),
            cost: f64::from(cost),
        })
    }

    proptest! {
        #[test]
        fn no_way_round_is_cheaper_than_the_one_chosen(
            choices in prop::collection::vec(prop::collection::vec(voicing(), 1..5), 1..6)
        ) {
            let way: Vec<usize> = lead(&choices, 0.0).into_iter().flatten().collect();
            prop_assert_eq!(way.len(), choices.len());
            let (chosen, best) = (total(&choices, &way), by_trying_all(&choices));
            prop_assert!((chosen - best).abs() < 1e-6, "{chosen} {best}");
        }
    }

    #[test]
    fn silence_is_passed_over() {
        let voicing = |top| Voicing {
            keys: vec![52, 55, top],
            cost: 0.0,
        };
        let choices = [
            vec![voicing(60), voicing(65)],
            vec![],
            vec![voicing(66), voicing(70)],
        ];
        assert_eq!(lead(&choices, 0.0), [Some(1), None, Some(0)]);
        assert_eq!(lead(&[vec![], vec![]], 0.0), [None, None]);
        assert_eq!(lead(&[], 0.0), []);
    }
}
