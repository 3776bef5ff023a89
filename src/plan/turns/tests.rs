use crate::plan::turns::*;
use proptest::prelude::*;

/// A row of units from tick 0 on: the length of each in beats of 960 ticks and its places in beats from its start.
fn row(units: &[(f64, &[f64])]) -> Vec<Unit> {
    let tick = |beats: f64| Tick((beats * 960.0).round() as i64);
    let mut start = 0.0;
    let unit = |(index, (beats, places)): (usize, &(f64, &[f64]))| {
        let from = start;
        start += beats;
        Unit {
            first: index,
            after: index + 1,
            start: tick(from),
            last_start: tick(from),
            end: tick(start),
            places: places.iter().map(|place| tick(from + place)).collect(),
            is_breath: false,
        }
    };
    units.iter().enumerate().map(unit).collect()
}

fn turns(units: &[Unit], qpm: f64) -> Vec<PageTurn> {
    let end = units.last().map_or(0, |unit| unit.end.0);
    let counts: Vec<Tick> = (0..=end / 960).map(|beat| Tick(beat * 960)).collect();
    super::turns(units, &counts, &|tick: Tick| {
        tick.quarters() * 60_000.0 / qpm
    })
}

/// The beats on which the page turns to another pair of units.
fn beats(units: &[Unit], qpm: f64) -> Vec<f64> {
    let mut turns = turns(units, qpm);
    turns.dedup_by_key(|turn| turn.unit);
    turns.iter().map(|turn| turn.at.quarters()).collect()
}

// Common practice, no source: the rules at the head of the module.
#[test]
fn the_page_turns_where_the_eye_can_spare_it() {
    let (none, one, late): (&[f64], &[f64], &[f64]) = (&[], &[0.0], &[3.0]);
    let run: &[f64] = &[1.0, 1.5, 2.0];
    let full: &[f64] = &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5];
    // Name, quarters a minute, units (length and places), where the page turns.
    type Case<'a> = (&'a str, f64, &'a [(f64, &'a [f64])], [f64; 3]);
    let cases: &[Case<'_>] = &[
        // From the change on the eye is on the new chord: a place there moves the turn to the next beat.
        ("on one", 120.0, &[(4.0, one); 4], [0.0, 5.0, 9.0]),
        ("nothing to play", 120.0, &[(4.0, none); 4], [0.0, 4.0, 8.0]),
        ("late places", 120.0, &[(4.0, late); 4], [0.0, 4.0, 8.0]),
        // No beat is clear of places between the last of one chord and the time the next set is due; the
        // middle of a beat is.
        (
            "between two runs",
            100.0,
            &[(3.0, run), (3.0, full), (3.0, run), (3.0, run)],
            [0.0, 2.5, 6.0],
        ),
    ];
    for (name, qpm, units, expected) in cases {
        assert_eq!(beats(&row(units), *qpm)[..3], *expected, "{name}");
    }
}

proptest! {
    /// Where units are as long as a set must stand ahead, no set is late, whatever is to be played; no chord leaves
    /// the page before it has begun, and no page is overtaken by the next.
    #[test]
    fn no_set_is_late_and_none_leaves_before_it_sounds(
        qpm in 40.0f64..280.0,
        chords in prop::collection::vec((0u32..4, prop::collection::vec(0u32..16, 0..8)), 3..12),
    ) {
        let beat_ms = 60_000.0 / qpm;
        let least = (1200.0 / beat_ms).ceil().max(2.0);
        let lens: Vec<f64> = chords.iter().map(|(more, _)| least + f64::from(*more)).collect();
        let places: Vec<Vec<f64>> = chords
            .iter()
            .zip(&lens)
            .map(|((_, eighths), len)| {
                eighths.iter().map(|at| f64::from(*at) / 2.0).filter(|at| at < len).collect()
            })
            .collect();
        let described: Vec<(f64, &[f64])> = lens.iter().copied().zip(places.iter().map(Vec::as_slice)).collect();
        let units = row(&described);
        let turns = turns(&units, qpm);
        let ms = |tick: Tick| tick.quarters() * beat_ms;
        for (index, unit) in units.iter().enumerate().skip(2) {
            let entry = turns.iter().find(|turn| turn.unit + 1 >= index).expect("it comes onto the page");
            let ahead_ms = ms(unit.start) - ms(entry.at);
            prop_assert!(ahead_ms > 1200f64.max(2.0 * beat_ms) - 1e-6, "{} is {} ms ahead", index, ahead_ms);
            prop_assert!(entry.at > units[index - 2].start, "{} leaves before it sounds", index - 2);
        }
        for pair in turns.windows(2) {
            prop_assert!(pair[0].at < pair[1].at, "{:?}", pair);
        }
    }

    /// Units of any length, places anywhere: every unit gets its turn, in order.
    #[test]
    fn turns_come_in_order_whatever_the_units(
        qpm in 30.0f64..300.0,
        chords in prop::collection::vec((1u32..9, prop::collection::vec(0u32..8, 0..4)), 1..12),
    ) {
        let eighths = |at: u32| f64::from(at) / 2.0;
        let places: Vec<Vec<f64>> = chords
            .iter()
            .map(|(_, places)| places.iter().copied().map(eighths).collect())
            .collect();
        let lens = chords.iter().map(|(len, _)| eighths(*len));
        let described: Vec<(f64, &[f64])> = lens.zip(places.iter().map(Vec::as_slice)).collect();
        let units = row(&described);
        let turns = turns(&units, qpm);
        prop_assert!(turns.windows(2).all(|pair| pair[0].at <= pair[1].at), "{:?}", turns);
        prop_assert!((0..units.len()).all(|unit| turns.iter().any(|turn| turn.unit == unit)));
    }
}
