//! What turns in a stage: laws that hold for any rotation.

use super::changes::{changes, laid_out, stage, told};
use proptest::prelude::*;
use std::collections::{BTreeSet, HashSet};
use std::sync::Arc;
use underfoot::chart::Chart;
use underfoot::drill::{Drill, Stage, least_cover};
use underfoot::fault::Source;
use underfoot::harmony::Habits;
use underfoot::plan::{Material, Standing};

/// Lists of each kind, of any length that a drill may write (places, orders, strings or positions, octaves, sides, keys).
fn any_rotation() -> impl Strategy<Value = String> {
    let places = ["1", "2", "3", "4", "1&", "2&", "3&", "4&"].map(|place| format!("[\"{place}\"]"));
    let list = |key: &'static str, values: Vec<String>| {
        let count = values.len();
        prop::sample::subsequence(values, 0..=count).prop_map(move |some| match some[..] {
            [] => String::new(),
            _ => format!("{key} = [{}]", some.join(", ")),
        })
    };
    let numbers = |to: u8| {
        (1..=to)
            .map(|number| number.to_string())
            .collect::<Vec<String>>()
    };
    let words = |words: &[&str]| {
        words
            .iter()
            .map(|word| format!("\"{word}\""))
            .collect::<Vec<String>>()
    };
    let keys = prop::sample::select(vec![
        "",
        "",
        "keys = \"fourths\"",
        "keys = [\"C\", \"Eb\", \"A\"]",
    ]);
    let where_it_lies = prop_oneof![list("strings", numbers(6)), list("positions", numbers(9))];
    let orders = prop::sample::select(vec!["", "orders = \"every\""]);
    let parts = (
        list("places", places.to_vec()),
        orders,
        where_it_lies,
        list("octaves", words(&["low", "middle", "high"])),
        list("sides", words(&["above", "below"])),
        keys,
    );
    parts.prop_map(|(places, orders, lies, octaves, sides, keys)| {
        let parts = [
            places,
            orders.to_string(),
            lies,
            octaves,
            sides,
            keys.to_string(),
        ];
        let parts: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        parts.join(", ")
    })
}

/// The stage with this rotation, where a drill may have it.
fn read(rotate: &str) -> Option<Stage> {
    let text = format!(
        "title = 't'\n[[stage]]\nname = 's'\ndegrees = ['1', '2', '3']\nfigure = ['1', '2 above', '3 above']\nrotate = {{ {rotate} }}\n"
    );
    let read = Drill::read(&Source {
        name: "t",
        text: &text,
    });
    read.ok().map(|mut drill| drill.stages.remove(0))
}

fn material(keys: &str) -> Arc<Material> {
    read_material(&format!(
        "degrees = ['1', '3']\nfigure = ['1', '3 above']\n{keys}"
    ))
    .expect("a drill")
}

/// The plain tune with a stage of these keys, where a drill may have them.
fn read_material(keys: &str) -> Option<Arc<Material>> {
    let text = format!(
        "title = 't'\n[[stage]]\nname = 's'\n{keys}\n\
        [[stage]]\nname = 'after'\ndegrees = ['1']\n"
    );
    let drill = Drill::read(&Source {
        name: "t",
        text: &text,
    })
    .ok()?;
    let chart = "title = 'x'\nkey = 'C major'\ntempo = 120\n[[section]]\nname = 'A'\nbars = ['Cmaj7', 'Dm7', 'G7', 'Cmaj7']\n";
    let chart = Chart::read(&Source {
        name: "c",
        text: chart,
    })
    .expect("a chart");
    Some(Arc::new(Material::new(chart, drill, Habits::default())))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(80))]

    #[test]
    fn no_combination_comes_twice_before_all_came(rotate in any_rotation(), seed: u64) {
        let stage = read(&format!("{rotate}, crossed = true"));
        prop_assume!(stage.is_some());
        let stage = stage.unwrap();
        let rotation = stage.rotation.as_ref().unwrap();
        let all: usize = rotation.lists().iter().product();
        prop_assert_eq!(rotation.round_len(), all);
        for round in 0..3u32 {
            let turns = (0..all as u32).map(|turn| rotation.indices(round * all as u32 + turn, seed));
            prop_assert_eq!(turns.collect::<HashSet<_>>().len(), all);
        }
        // The first is what the drill names first.
        prop_assert!(rotation.indices(0, seed).iter().all(|index| *index == 0));
        prop_assert_eq!(rotation.indices(3, seed), rotation.indices(3, seed));
    }

    /// 1.3 times what the two longest lists make necessary: ours.
    #[test]
    fn any_two_values_meet_early(rotate in any_rotation(), seed: u64, round in 0u32..3) {
        let stage = read(&format!("{rotate}, crossed = true"));
        prop_assume!(stage.is_some());
        let stage = stage.unwrap();
        let rotation = stage.rotation.as_ref().unwrap();
        let (lists, cover) = (rotation.lists().to_vec(), rotation.cover_len());
        let least = least_cover(&lists);
        prop_assert!(10 * cover <= 13 * least, "{} passes for {:?}, {} at the least", cover, lists, least);
        let first = round * rotation.round_len() as u32;
        let rows: Vec<Vec<usize>> = (0..cover as u32).map(|turn| rotation.indices(first + turn, seed)).collect();
        for a in 0..lists.len() {
            for b in a + 1..lists.len() {
                let met: HashSet<(usize, usize)> = rows.iter().map(|row| (row[a], row[b])).collect();
                prop_assert_eq!(met.len(), lists[a] * lists[b]);
            }
        }
    }

    #[test]
    fn alone_one_thing_turns_at_a_time(rotate in any_rotation(), seed: u64) {
        let stage = read(&rotate);
        prop_assume!(stage.is_some());
        let stage = stage.unwrap();
        let rotation = stage.rotation.as_ref().unwrap();
        let lists = rotation.lists();
        let each: usize = lists.iter().map(|list| list - 1).sum();
        prop_assert_eq!(rotation.round_len(), 1 + each);
        let rows: Vec<Vec<usize>> = (0..rotation.round_len() as u32).map(|turn| rotation.indices(turn, seed)).collect();
        prop_assert_eq!(rows.iter().collect::<HashSet<_>>().len(), rows.len());
        for row in &rows {
            prop_assert!(row.iter().filter(|index| **index > 0).count() <= 1, "{:?}", row);
        }
    }

    /// What a pass asks for is what its combination says, and every note fits.
    #[test]
    fn a_pass_is_laid_out_as_it_turns(rotate in any_rotation(), turn in 0u32..200, seed: u64, crossed in any::<bool>()) {
        let stage = read(&format!("{rotate}, crossed = {crossed}"));
        prop_assume!(stage.is_some());
        let stage = stage.unwrap();
        let turning = stage.rotation.as_ref().unwrap().turning(turn, seed);
        let tune = changes("4/4", "Cmaj7:8 Dm7:8 G7:8");
        for set in laid_out(&stage, &tune, turn, seed) {
            let root = set.notes.iter().find(|note| note.degree.number == 1).unwrap();
            if let Some(place) = turning.places.as_ref().and_then(|places| places.first()) {
                prop_assert_eq!(&set.notes[0].place, place, "{}", told(&set));
            }
            let is_below = turning.side.is_some_and(|side| side == underfoot::drill::Direction::Below);
            for note in set.notes.iter().filter(|note| note.degree.number != 1) {
                prop_assert_eq!(note.midi < root.midi, is_below, "{}", told(&set));
            }
        }
    }

    /// The same seed turns the same way, worked out anew, take after take.
    #[test]
    fn the_same_seed_turns_the_same_way(rotate in any_rotation(), crossed in any::<bool>(), seed: u64, stops in prop::collection::vec(1u32..9, 1..6)) {
        let keys = format!("rotate = {{ {rotate}, crossed = {crossed} }}\ndegrees = ['1', '2', '3']\nfigure = ['1', '2 above', '3 above']");
        let walk = || {
            let material = read_material(&keys)?;
            let material = Arc::new(Arc::unwrap_or_clone(material).with_seed(seed));
            let (mut here, mut seen) = (Standing::first(), Vec::new());
            for passes in &stops {
                for _ in 0..*passes {
                    let walked = here.walked(&material);
                    seen.push((here.stage_now(&material).into_owned(), here.hand(&material), walked.key()));
                    here = here.next(&material);
                }
                here = here.again(&material);
            }
            Some(seen)
        };
        let (once, again) = (walk(), walk());
        prop_assume!(once.is_some());
        prop_assert_eq!(once, again);
    }

    /// Takes that stop anywhere, and restarts between them: nothing is left out, nothing comes before its time.
    #[test]
    fn a_restart_goes_on_where_it_was(
        stops in prop::collection::vec((1u32..9, any::<bool>()), 1..12), keys in prop::sample::select(vec![
            "rotate = [[\"1\"], [\"2\"], [\"3\"]]",
            "rotate = { strings = [6, 5, 4], sides = [\"above\", \"below\"], crossed = true }",
            "order = \"every order, a pass\"",
        ]),
    ) {
        let material = material(&format!("{keys}\ncycle = {{ listen = 0, play = 3, breathe_bars = 1 }}"));
        let mut here = Standing::first();
        let mut next = 0;
        for (passes, restarts) in stops {
            // The pass that was stopped comes again.
            for _ in 0..passes {
                if !here.breathing {
                    prop_assert_eq!(here.turn(&material), next);
                    next += 1;
                }
                here = here.next(&material);
            }
            here = here.again(&material);
            if restarts {
                let kept = here.turns_by_name(&material);
                here = Standing::first().with_turns(&kept, &material);
            }
        }
    }
}

/// Where each pass of a stage lies, as the drill's words have it.
#[test]
fn octaves_strings_sides_and_orders_turn() {
    #[rustfmt::skip]
    let cases = [
        ("degrees = ['1']\nrotate = { octaves = ['low', 'high'] }",                                   "C3@0 | C5@0 | C3@0"),
        ("degrees = ['1', '2', '3']\nmotif = '1:1 3:0.5 2:1.5'", "C3@0 E3@1 D3@1.5 | C3@0 E3@1 D3@1.5 | C3@0 E3@1 D3@1.5"),
        ("degrees = ['1']\noctave = 'high'",                                                           "C5@0 | C5@0 | C5@0"),
        ("degrees = ['1', '3']\nfigure = ['1', '3 above']\nplaces = ['1', '3']\nrotate = { sides = ['below', 'above'] }", "C3@0 E2@2 | C3@0 E3@2 | C3@0 E2@2"),
        ("degrees = ['1', '3']\nfigure = ['1', '3 above']\nplaces = ['1', '3']\nrotate = { orders = 'every' }", "C3@0 E3@2 | E3@0 C3@2 | C3@0 E3@2"),
        ("degrees = ['1']\nrotate = { places = [['1'], ['2&']], octaves = ['high', 'low'] }",        "C5@0 | C5@1.5 | C3@0"),
    ];
    let tune = changes("4/4", "Cmaj7:4");
    let mut wrong = Vec::new();
    for (keys, expected) in cases {
        let stage = stage(keys);
        let told: Vec<String> = (0..3)
            .map(|pass| told(&laid_out(&stage, &tune, pass, 1)[0]))
            .collect();
        if told.join(" | ") != expected {
            wrong.push(format!("{keys}: {}", told.join(" | ")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Each place of twelve frets once, in as many passes, on any instrument.
#[test]
fn every_place_comes_once() {
    let stage = stage("degrees = ['1']\nstring = 'every place'");
    let tune = changes("4/4", "Cmaj7:4 E7:4 Dm7:4");
    for strings in [
        "E2 A2 D3 G3 B3 E4",
        "E1 A1 D2 G2",
        "B1 E2 A2 D3 G3 B3 E4",
        "D2 A2 D3 F#3 A3 D4",
    ] {
        let tuning = underfoot::fretboard::Tuning::read(strings.split(' ')).unwrap();
        let neck = underfoot::fretboard::Neck {
            tuning,
            ..Default::default()
        };
        for (chord, class) in [(0, 0), (1, 4), (2, 2)] {
            let all = underfoot::fretboard::places_in_reach(&neck, class);
            let visited = (0..all.len() as u32).map(|turn| {
                let mut sets = laid_out(&stage, &tune, turn, 1);
                let places = underfoot::fretboard::places_of(&neck, &mut sets, &stage, turn);
                let place = places[chord][0].unwrap();
                assert_eq!(sets[chord].notes[0].midi, place.midi);
                (place.string, place.fret)
            });
            let visited: BTreeSet<(u8, u8)> = visited.collect();
            let all: BTreeSet<(u8, u8)> =
                all.iter().map(|place| (place.string, place.fret)).collect();
            assert_eq!(visited, all, "{strings}");
        }
    }
}
