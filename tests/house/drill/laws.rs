//! Laws of drills: whatever the stage, the tune, the pass and the seed.

use super::changes::{Change, TEMPO, changes, laid_out, laid_out_at, stage, told, views};
use super::sets::shipped;
use crate::support::demo::{DRILLS, read as demo};
use proptest::prelude::*;
use underfoot::drill::{
    Drill, KeyRange, LayOut, Order, Place, Stage, StringRule, TargetNote, lay_out,
};
use underfoot::fault::Source;
use underfoot::fretboard::{Neck, Tuning, places_of, shifts, way_through};
use underfoot::time::{PPQ, Tick, UsPerQuarter};

/// Stages of all kinds, from the drills that ship.
fn any_stage() -> impl Strategy<Value = Stage> {
    let stages: Vec<Stage> = shipped()
        .into_iter()
        .flat_map(|(_, drill)| drill.stages)
        .collect();
    prop::sample::select(stages)
}

fn any_changes() -> impl Strategy<Value = Vec<Change>> {
    let qualities = [
        "maj7", "m7", "7", "6", "m6", "m7b5", "7sus", "dim7", "7alt", "7b9",
    ];
    let chord = (0u8..12, prop::sample::select(qualities.to_vec()), 1i64..=8);
    prop::collection::vec(chord, 1..12).prop_map(|chords| {
        let roots = [
            "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
        ];
        let words: Vec<String> = chords
            .into_iter()
            .map(|(root, quality, beats)| format!("{}{quality}:{beats}", roots[usize::from(root)]))
            .collect();
        changes("4/4", &words.join(" "))
    })
}

proptest! {
    #[test]
    fn every_note_fits_its_chord_or_is_a_push(stage in prop_oneof![any_stage(), made_up_stage()], tune in any_changes(), pass in 0u32..20, seed: u64) {
        let sets = laid_out(&stage, &tune, pass, seed);
        prop_assert_eq!(sets.len(), tune.len());
        let mut last = Tick(i64::MIN);
        for (set, change) in sets.iter().zip(&tune) {
            let end = change.start + change.len;
            for note in &set.notes {
                prop_assert!(note.at >= change.start || note.place.is_push(), "{:?}", note);
                prop_assert!(note.at >= change.start - Tick(480));
                prop_assert!(note.len.0 > 0 && note.at + note.len <= end, "{:?}", note);
                prop_assert!(note.at >= last, "{:?} overlaps", note);
                prop_assert!((40..=76).contains(&note.midi), "{:?}", note);
                prop_assert_eq!(note.midi % 12, note.pitch.class());
                last = note.at + note.len;
            }
        }
    }

    #[test]
    fn a_transposed_chart_has_transposed_targets(stage in prop_oneof![any_stage(), made_up_stage()], tune in any_changes(), up in 1u8..12, pass in 0u32..8) {
        // Choices by nearness and turns at the edge of the range depend on where the neck ends.
        let fixed = !stage.answer_phrase && stage.figure.iter().all(|note| note.or[0].is_none())
            && stage.order != Order::OnFromTheNearest;
        prop_assume!(fixed);
        let moved: Vec<Change> = tune.iter().map(|change| change.transposed(up)).collect();
        let (here, there) = (laid_out(&stage, &tune, pass, 3), laid_out(&stage, &moved, pass, 3));
        for (a, b) in here.iter().zip(&there) {
            prop_assert_eq!(a.notes.len(), b.notes.len());
            for (a, b) in a.notes.iter().zip(&b.notes) {
                prop_assert_eq!((a.at, a.len, &a.place, a.direction), (b.at, b.len, &b.place, b.direction));
                prop_assert_eq!((a.pitch.class() + up) % 12, b.pitch.class());
            }
        }
    }

    #[test]
    fn above_and_under_hold_against_the_root(tune in any_changes(), third in prop::sample::select(vec!["above", "below"])) {
        let keys = format!("degrees = [\"1\", \"3\"]\nfigure = [\"1\", \"3 {third}\"]");
        for set in laid_out(&stage(&keys), &tune, 0, 0) {
            let [root, third_note] = set.notes.as_slice() else { continue };
            prop_assert_eq!(third_note.midi > root.midi, third == "above");
            prop_assert!(third_note.midi.abs_diff(root.midi) < 12);
        }
    }

    #[test]
    fn every_order_comes_once_before_any_comes_twice(chords in 1usize..9, seed: u64) {
        let stage = stage("degrees = [\"1\", \"2\", \"3\"]\norder = \"every order, a chord\"\nrest_bars = 1");
        let words = vec!["Dm7:4"; chords].join(" ");
        let tune = changes("4/4", &words);
        let orders: Vec<String> = (0..24)
            .flat_map(|pass| laid_out(&stage, &tune, pass, seed))
            .filter(|set| !set.notes.is_empty())
            .map(|set| told(&set).split(' ').map(|word| word[..1].to_string()).collect())
            .collect();
        prop_assert!(orders.len() >= 24);
        for round in orders.chunks_exact(6) {
            let mut distinct = round.to_vec();
            distinct.sort();
            distinct.dedup();
            prop_assert_eq!(distinct.len(), 6, "{:?}", round);
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_notes(stage in prop_oneof![any_stage(), made_up_stage()], tune in any_changes(), pass in 0u32..9, seed: u64) {
        let views = views(&tune);
        let over = LayOut { chords: &views, pass, seed, tempo: TEMPO, range: KeyRange::GUITAR };
        prop_assert_eq!(lay_out(&stage, &over), lay_out(&stage, &over));
    }

    #[test]
    fn no_damage_to_a_drill_makes_the_reader_panic(
        drill in prop::sample::select(DRILLS.to_vec()), at in 0.0..1.0f64, cut in 0usize..30, put in "[\\[\\]{}\"=,.0-9a-z\n]{0,6}",
    ) {
        let mut letters: Vec<char> = demo("drills", drill).chars().collect();
        let from = (at * letters.len() as f64) as usize;
        let to = (from + cut).min(letters.len());
        letters.splice(from..to, put.chars());
        let text: String = letters.into_iter().collect();
        let read = Drill::read(&Source { name: "any.toml", text: &text });
        if let Err(faults) = read {
            prop_assert!(!faults.0.is_empty());
        }
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in "(\\PC|\n){0,200}") {
        let _ = Drill::read(&Source { name: "any.toml", text: &text });
    }
}

/// Stages that nobody wrote, with any key of the language.
fn made_up_stage() -> impl Strategy<Value = Stage> {
    prop_oneof![plain_stage(), turning_stage(), phrased_stage()]
}

/// What goes round and how fast: no note depends on it.
fn around() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "",
        "over = \"A\"",
        "over = [\"A\", \"B\"]",
        "over = \"form\"",
        "over = \"hard spot\"",
        "tempo = { from_per_cent = 60, to_per_cent = 100, step = 10, every = 2 }",
        "tempo = { every = \"ready\" }",
    ])
}

/// Rotations, octaves, strings, a search.
fn turning_stage() -> impl Strategy<Value = Stage> {
    let keys = [
        "figure = [\"1\", \"3 above\"]\nrotate = { sides = [\"above\", \"below\"], octaves = [\"low\", \"high\"], crossed = true }",
        "rotate = { orders = \"every\", places = [[\"1\"], [\"2&\"], [\"before 1\"]], crossed = true }",
        "rotate = { strings = [6, 5, 4, 3], places = [[\"1\"], [\"3\"]] }",
        "rotate = { positions = [2, 5, 9], keys = \"fourths\" }",
        "rotate = [[\"1\"], [\"4&\"], [\"2\"]]",
        "octave = \"low\"",
        "octave = \"high\"",
        "figure = [\"3\"]\nstring = \"every place\"",
        "figure = [\"1\"]\nfind = { places = 5 }",
        "figure = [\"step above 3\", \"semitone below 3\", \"3\"]\nplaces = [\"1\", \"1&\", \"2\"]",
    ];
    let keys = prop::sample::select(keys.to_vec());
    (keys, around()).prop_map(|(keys, around)| {
        // Out of time there is no tempo to rise.
        let around = if keys.contains("find") { "" } else { around };
        stage(&format!(
            "degrees = [\"1\", \"2\", \"3\"]\n{keys}\n{around}"
        ))
    })
}

/// Motifs, rhythms, phrases to answer.
fn phrased_stage() -> impl Strategy<Value = Stage> {
    let degrees = prop::sample::subsequence(vec!["1", "2", "3", "5", "7"], 1..=5).prop_shuffle();
    let motif = prop::collection::vec(
        (
            0usize..5,
            prop::sample::select(vec!["0.5", "1", "1.5", "0.33", "2"]),
        ),
        1..=8,
    );
    let rhythm = prop::sample::subsequence(
        vec!["before 1", "1", "1&", "2", "2&", "3a", "4", "4&"],
        1..=8,
    );
    (degrees, motif, rhythm, 0u8..3, around()).prop_map(|(degrees, motif, rhythm, kind, around)| {
        let keys = match kind {
            0 => {
                let notes = motif
                    .iter()
                    .map(|(note, beats)| format!("{}:{beats}", degrees[note % degrees.len()]));
                format!("motif = \"{}\"", notes.collect::<Vec<String>>().join(" "))
            }
            1 => format!("figure = []\nrhythm = {rhythm:?}"),
            _ => "answer_phrase = true".to_string(),
        };
        stage(&format!("degrees = {degrees:?}\n{keys}\n{around}"))
    })
}

/// Any degrees in any order, at any places, as near to each other as a drill may ask.
fn plain_stage() -> impl Strategy<Value = Stage> {
    let degrees = prop::sample::subsequence(vec!["1", "2", "3", "5", "7"], 1..=4).prop_shuffle();
    let places = [
        r#"["1"]"#,
        r#"["3"]"#,
        r#"["2&"]"#,
        r#"["4&"]"#,
        r#"["before 1"]"#,
        r#"["1", "3"]"#,
        r#"["1", "2&", "3"]"#,
        r#"["before 1", "2&"]"#,
        r#"["1", "1e", "1&"]"#,
        r#"["2", "4a"]"#,
    ];
    let steps = prop::sample::select(vec!["1/4", "1/8", "1/12", "1/16"]);
    let orders = [
        "as written",
        "every order, a chord",
        "every order, a pass",
        "on from the nearest",
    ];
    let each = prop::sample::select(vec!["chord", "bar"]);
    let (places, orders) = (
        prop::sample::select(places.to_vec()),
        prop::sample::select(orders.to_vec()),
    );
    (degrees, places, steps, orders, each).prop_map(|(degrees, places, step, order, each)| {
        stage(&format!(
            "degrees = {degrees:?}\nplaces = {places}\nstep = \"{step}\"\norder = \"{order}\"\neach = \"{each}\""
        ))
    })
}

/// Necks of guitars, basses and seven strings, with a capo, for either hand.
fn any_neck() -> impl Strategy<Value = Neck> {
    let tunings = [
        "E2 A2 D3 G3 B3 E4",
        "D2 A2 D3 F#3 A3 D4",
        "B1 E2 A2 D3 G3 B3 E4",
        "E1 A1 D2 G2",
        "B0 E1 A1 D2 G2",
    ];
    (
        prop::sample::select(tunings.to_vec()),
        0u8..5,
        any::<bool>(),
    )
        .prop_map(|(strings, capo, left_handed)| Neck {
            tuning: Tuning::read(strings.split(' ')).expect("a tuning"),
            capo,
            left_handed,
            ..Neck::default()
        })
}

proptest! {
    /// Whatever the neck: between two shifts all that is fretted lies under one hand, a shift comes only where it must, and none
    /// depends on which hand plays.
    #[test]
    fn a_hand_shifts_only_where_it_must(
        neck in any_neck(), stage in prop_oneof![any_stage(), made_up_stage()], tune in any_changes(), pass in 0u32..8,
    ) {
        let chords = views(&tune);
        let over = LayOut { chords: &chords, pass, seed: 5, tempo: TEMPO, range: neck.range() };
        let mut sets = lay_out(&stage, &over);
        let stage = stage.in_turn(stage.turn_of(pass), 5);
        let places = places_of(&neck, &mut sets, &stage, pass);
        let other = Neck { left_handed: !neck.left_handed, ..neck.clone() };
        prop_assert_eq!(&places, &places_of(&other, &mut sets.clone(), &stage, pass));
        for places in &places {
            let shifts = shifts(places);
            let (mut low, mut high) = (u8::MAX, 0);
            for (place, shift) in places.iter().zip(&shifts) {
                let fret = place.map_or(0, |place| place.fret);
                if let Some(position) = shift {
                    prop_assert!(fret > 0 && fret.max(high) - fret.min(low) > 4, "{:?} {:?}", places, shifts);
                    prop_assert!((*position..=*position + 4).contains(&fret));
                    (low, high) = (u8::MAX, 0);
                }
                if fret > 0 {
                    (low, high) = (low.min(fret), high.max(fret));
                    prop_assert!(high - low <= 4, "{:?} {:?}", places, shifts);
                }
            }
        }
    }
}

/// Arpeggios that run on over the changes.
fn arpeggio() -> impl Strategy<Value = Stage> {
    let degrees = prop::sample::select(vec![
        vec!["1", "3", "5"],
        vec!["1", "3", "5", "7"],
        vec!["3", "5", "7", "1"],
        vec!["1", "2", "3", "5", "7"],
    ]);
    let steps = prop::sample::select(vec!["1/4", "1/8"]);
    (degrees, steps).prop_map(|(degrees, step)| {
        stage(&format!(
            "degrees = {degrees:?}\nstep = \"{step}\"\norder = \"on from the nearest\""
        ))
    })
}

/// The notes of a pass in the order of time.
fn line(stage: &Stage, tune: &[Change], pass: u32, tempo: UsPerQuarter) -> Vec<TargetNote> {
    let sets = laid_out_at(stage, tune, (pass, 5), tempo);
    sets.into_iter().flat_map(|set| set.notes).collect()
}

proptest! {
    /// A call is answered by its own notes, each as much later, and over before its chord is; where there is no room for both
    /// there is neither. A rhythm asks for nothing beyond its chord.
    #[test]
    fn a_call_has_its_answer_and_a_rhythm_its_chord(stage in phrased_stage(), tune in any_changes(), pass in 0u32..8, seed: u64) {
        for (set, change) in laid_out(&stage, &tune, pass, seed).iter().zip(&tune) {
            let end = change.start + change.len;
            prop_assert_eq!(set.call.is_empty(), !stage.answer_phrase || set.notes.is_empty());
            if let (Some(called), Some(answered)) = (set.call.first(), set.notes.first()) {
                let later = answered.at - called.at;
                prop_assert!(called.at == change.start && (2 * PPQ..=4 * PPQ).contains(&later.0), "{:?}", later);
                prop_assert!((2..=4).contains(&set.call.len()));
                for (called, answered) in set.call.iter().zip(&set.notes) {
                    prop_assert_eq!((called.at + later, called.len, called.midi), (answered.at, answered.len, answered.midi));
                    prop_assert!(called.at + called.len <= change.start + later && answered.at + answered.len <= end);
                }
                prop_assert!(change.len.0 >= 4 * PPQ);
            }
            for (place, at) in &set.rhythm {
                prop_assert!(stage.is_open_choice() && *at < end && (*at >= change.start || place.is_push()), "{:?}", place);
            }
        }
    }

    /// 150 ms: common practice, no source. Trade: what does not fit its chord falls on the first beat, which so is written.
    #[test]
    fn notes_are_as_near_as_the_drill_wrote_them_or_as_a_hand_is_at_ease(
        stage in made_up_stage(), tune in any_changes(), pass in 0u32..8,
        qpm in prop::sample::select(vec![40.0, 60.0, 100.0, 160.0, 200.0, 240.0, 280.0]),
    ) {
        let tempo = UsPerQuarter::from_qpm(qpm);
        let now = stage.in_turn(pass, 5);
        let written = |note: &TargetNote| {
            note.place == Place::counted(1, 0) || now.places_in(pass).contains(&note.place)
        };
        for pair in line(&stage, &tune, pass, tempo).windows(2) {
            let gap = pair[1].at - pair[0].at;
            let is_written = written(&pair[0]) && written(&pair[1]);
            let is_at_ease = tempo.ms(gap) >= 150.0;
            prop_assert!(is_written || is_at_ease || gap >= stage.step, "{:?} {:?}", pair, gap);
        }
    }

    /// Trade: a flat second is passing, no long note.
    #[test]
    fn no_flat_second_is_held(stage in prop_oneof![any_stage(), made_up_stage()], tune in any_changes(), pass in 0u32..8) {
        for note in line(&stage, &tune, pass, TEMPO) {
            let is_flat_second = note.degree.semitones().rem_euclid(12) == 1;
            prop_assert!(!is_flat_second || note.len <= Tick(PPQ / 2), "{:?}", note);
        }
    }

    #[test]
    fn an_arpeggio_has_its_root_turns_only_at_the_edge_and_lies_under_one_hand(
        stage in arpeggio(), tune in any_changes(), pass in 0u32..8,
    ) {
        let sets = laid_out(&stage, &tune, pass, 5);
        let places = way_through(&Neck::default(), &sets, StringRule::Free, None);
        for ((set, places), change) in sets.iter().zip(&places).zip(&tune) {
            let root = change.context.root().map(|root| root.class());
            prop_assert!(set.notes.iter().any(|note| Some(note.midi % 12) == root), "{:?}", set);
            let rises: Vec<bool> = set.notes.windows(2).map(|pair| pair[1].midi > pair[0].midi).collect();
            prop_assert!(rises.windows(2).all(|pair| pair[0] == pair[1]), "{:?}", set);
            // Open strings need no finger. A hand lies over four frets and stretches to a fifth.
            let frets = places.iter().flatten().map(|place| place.fret).filter(|fret| *fret > 0);
            let (low, high) = (frets.clone().min().unwrap_or(0), frets.max().unwrap_or(0));
            prop_assert!(high - low <= 4, "{:?} {:?}", set, places);
        }
    }
}
