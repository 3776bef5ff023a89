//! Charts written as chart files: what is read again is the same chart, to the tick.

use proptest::prelude::*;
use underfoot::chart::{
    Cell, Chart, ChartBar, Ending, Feel, Form, Hint, Melody, MelodyNote, Section,
};
use underfoot::fault::Source;
use underfoot::harmony::{
    AfterHalfDiminished, DominantToMinor, HabitChoices, Harmony, KeyDeclaration, MinorTonic,
    MinorTwo, ScaleName, School, ThreeChord,
};
use underfoot::time::{Meter, Tick};

fn read(text: &str) -> Chart {
    let source = Source {
        name: "again.toml",
        text,
    };
    Chart::read(&source).unwrap_or_else(|faults| panic!("{faults}\n{text}"))
}

const SYMBOLS: [&str; 10] = [
    "C",
    "F#m7b5/E",
    "Bb13(#11)",
    "Ebmaj7",
    "D7 b9",
    "N.C.",
    "G7(b9, b13)",
    "Absus4",
    "E♭Δ",
    "C6/9",
];
const KEYS: [&str; 5] = [
    "C major",
    "G minor",
    "3 flats",
    "no sharps or flats",
    "F# major",
];
const METERS: [&str; 8] = ["4/4", "3/4", "2/2", "5/4", "6/8", "12/8", "7/16", "1/4"];

/// A bar before it knows its meter and key: changes, where chords start (as parts of the bar), what they are.
#[derive(Debug, Clone)]
struct RawBar {
    key: Option<usize>,
    meter: Option<usize>,
    starts: Vec<(u16, usize, bool)>,
    goes_on: bool,
    melody: Vec<(u16, u8, bool, bool)>,
}

fn raw_bar() -> impl Strategy<Value = RawBar> {
    (
        proptest::option::weighted(0.2, 0..KEYS.len()),
        proptest::option::weighted(0.2, 0..METERS.len()),
        proptest::collection::vec(
            (0u16..48, 0..SYMBOLS.len(), proptest::bool::weighted(0.1)),
            1..6,
        ),
        proptest::bool::weighted(0.3),
        proptest::collection::vec((0u16..960, 40u8..90, any::<bool>(), any::<bool>()), 0..6),
    )
        .prop_map(|(key, meter, starts, goes_on, melody)| RawBar {
            key,
            meter,
            starts,
            goes_on,
            melody,
        })
}

type State = (Option<KeyDeclaration>, Meter);

/// Makes the bar. Chords stand on fortyeighths of the bar, half of them on its beats.
fn bar(raw: &RawBar, state: &mut State, first: bool) -> (ChartBar, Vec<MelodyNote>) {
    if let Some(key) = raw.key {
        state.0 = Some(KEYS[key].parse().unwrap());
    }
    if let Some(meter) = raw.meter {
        state.1 = METERS[meter].parse().unwrap();
    }
    let meter = state.1;
    let (whole, beat) = (meter.bar_ticks().0, meter.beat_ticks().0);
    let mut starts: Vec<(i64, usize, bool)> = raw
        .starts
        .iter()
        .map(|(at, symbol, hint)| {
            let at = whole * i64::from(*at) / 48;
            let at = if symbol % 2 == 0 {
                at / beat * beat
            } else {
                at
            };
            (at, *symbol, *hint)
        })
        .collect();
    starts.sort_unstable();
    starts.dedup_by_key(|one| one.0);
    let goes_on = raw.goes_on && !first;
    if !goes_on {
        starts[0].0 = 0;
    }
    let mut cells = Vec::new();
    if starts[0].0 > 0 {
        cells.push((0, None, false));
    }
    cells.extend(starts.iter().map(|one| (one.0, Some(one.1), one.2)));
    if goes_on && raw.starts.len() == 1 {
        cells = vec![(0, None, false)];
    }
    let ends: Vec<i64> = cells
        .iter()
        .skip(1)
        .map(|one| one.0)
        .chain([whole])
        .collect();
    let cells = cells
        .into_iter()
        .zip(ends)
        .map(|((at, symbol, hint), end)| {
            let harmony: Option<Harmony> = symbol.map(|symbol| SYMBOLS[symbol].parse().unwrap());
            let chord = matches!(harmony, Some(Harmony::Chord(_)));
            Cell {
                at: Tick(at),
                len: Tick(end - at),
                harmony,
                hint: (hint && chord).then(|| Hint {
                    scale: Some(ScaleName::Dorian),
                    note: Some("say \"so\"\\".to_string()),
                }),
                unread: None,
            }
        });
    let chart_bar = ChartBar {
        meter,
        key: state.0,
        cells: cells.collect(),
    };
    (chart_bar, melody(raw, whole))
}

/// Notes one after the other, with or without rests between them.
fn melody(raw: &RawBar, whole: i64) -> Vec<MelodyNote> {
    let mut starts: Vec<_> = raw
        .melody
        .iter()
        .map(|one| (whole * i64::from(one.0) / 960, one))
        .collect();
    starts.sort_by_key(|one| one.0);
    starts.dedup_by_key(|one| one.0);
    let ends: Vec<i64> = starts
        .iter()
        .skip(1)
        .map(|one| one.0)
        .chain([whole])
        .collect();
    let notes = starts
        .iter()
        .zip(ends)
        .map(|((at, (_, key, full, tied)), end)| {
            let len = if *full { end - at } else { (end - at + 1) / 2 };
            let names = [
                "C", "Db", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B",
            ];
            MelodyNote {
                at: Tick(*at),
                len: Tick(len),
                pitch: names[usize::from(*key % 12)].parse().unwrap(),
                octave: (*key / 12) as i8 - 1,
                tied: *tied,
            }
        });
    notes.collect()
}

type RawSection = (Vec<RawBar>, Vec<Vec<RawBar>>);

fn raw_section() -> impl Strategy<Value = RawSection> {
    let endings = proptest::collection::vec(proptest::collection::vec(raw_bar(), 1..3), 0..3);
    (proptest::collection::vec(raw_bar(), 1..6), endings)
}

/// Every value of every habit, and none, for some number.
fn habits(number: usize) -> HabitChoices {
    fn one<T: Copy>(values: &[T], number: usize) -> Option<T> {
        values.get(number % (values.len() + 1)).copied()
    }
    use AfterHalfDiminished::{Always, AwayFromHome, Never};
    use MinorTonic::{NaturalSixth, NaturalSixthAlways, Signature};
    let dominants = [DominantToMinor::PhrygianDominant, DominantToMinor::Altered];
    let threes = [
        ThreeChord::Phrygian,
        ThreeChord::PassingTonic,
        ThreeChord::Aeolian,
    ];
    HabitChoices {
        school: one(&School::ALL, number / 2),
        flat_nine_to_two: one(&[true, false], number),
        flat_nine_to_four: one(&[true, false], number / 5),
        flat_nine_to_dominant: one(&[true, false], number / 7),
        flat_two_rising: one(&[true, false], number / 11),
        natural_two_on_six: one(&[true, false], number / 17),
        minor_two: one(&[MinorTwo::Flat, MinorTwo::Natural], number / 13),
        flat_nine_after_half_diminished: one(&[AwayFromHome, Always, Never], number / 3),
        three_chord: one(&threes, number / 12),
        minor_tonic: one(&[NaturalSixth, NaturalSixthAlways, Signature], number / 36),
        dominant_to_minor: one(&dominants, number / 144),
    }
}

fn chart() -> impl Strategy<Value = Chart> {
    (
        proptest::collection::vec(raw_section(), 1..4),
        proptest::option::of(0..KEYS.len()),
        0..METERS.len(),
        3000u32..30_000,
        proptest::collection::vec(0usize..100, 0..6),
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(raw, key, meter, tempo, form, pickup, with_melody)| {
            let home: State = (
                key.map(|key| KEYS[key].parse().unwrap()),
                METERS[meter].parse().unwrap(),
            );
            let mut sections = Vec::new();
            let mut tunes = Vec::new();
            for (index, (body, endings)) in raw.iter().enumerate() {
                let (section, tune) = section(index, body, endings, home);
                sections.push(section);
                tunes.push(tune);
            }
            let whole = home.1.bar_ticks();
            let form: Vec<usize> = match form.is_empty() {
                true => (0..sections.len()).collect(),
                false => form.iter().map(|one| one % sections.len()).collect(),
            };
            let pickup = pickup.then(|| ChartBar {
                meter: home.1,
                key: home.0,
                cells: vec![Cell {
                    at: Tick(0),
                    len: whole,
                    harmony: Some("A7".parse().unwrap()),
                    hint: None,
                    unread: None,
                }],
            });
            let melody = Melody {
                pickup: Vec::new(),
                sections: tunes,
            };
            Chart {
                title: "Tune \"one\"\\ \t ♭".to_string(),
                key: home.0,
                meter: home.1,
                tempo_qpm: f64::from(tempo) / 100.0,
                feel: Feel::Bossa,
                habits: habits(tempo as usize),
                form,
                intro: Vec::new(),
                last_time: None,
                pickup,
                sections: sections.into(),
                melody: (with_melody && !melody.is_empty()).then_some(melody),
            }
        })
}

fn section(
    index: usize,
    body: &[RawBar],
    endings: &[Vec<RawBar>],
    home: State,
) -> (Section, Vec<Vec<MelodyNote>>) {
    let mut state = home;
    let mut tune = Vec::new();
    let mut make = |raw: &[RawBar], state: &mut State, opens: bool| -> Vec<ChartBar> {
        let bars = raw.iter().enumerate().map(|(at, one)| {
            let (bar, notes) = bar(one, state, opens && at == 0);
            tune.push(notes);
            bar
        });
        bars.collect()
    };
    let bars = make(body, &mut state, true);
    let endings = (1..)
        .zip(endings)
        .map(|(pass, raw)| Ending {
            pass,
            bars: make(raw, &mut state.clone(), false),
        })
        .collect();
    if tune.iter().all(Vec::is_empty) {
        tune.clear();
    }
    let name = format!("Part {}", index + 1);
    (
        Section {
            vamp: false,
            name,
            bars,
            endings,
        },
        tune,
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn any_chart_is_read_again_as_it_was(chart in chart()) {
        let again = read(&chart.to_toml());
        prop_assert_eq!(&again, &chart);
        prop_assert_eq!(Form::unroll(&again), Form::unroll(&chart));
    }

    #[test]
    fn any_chart_goes_out_as_musicxml_and_comes_back(chart in chart()) {
        let score = underfoot::sheet::to_musicxml(&chart);
        let Ok(back) = underfoot::sheet::from_musicxml(score.as_bytes(), "t") else {
            // Silence alone makes no chart.
            let silent = Form::unroll(&chart).chords.iter().all(|one| one.timed.harmony == Harmony::Silence);
            prop_assert!(silent && chart.pickup.is_none(), "{score}");
            return Ok(());
        };
        let of = |chart: &Chart| -> Vec<(Tick, Tick, String)> {
            let form = Form::unroll(chart);
            let chords = form.chords.iter();
            chords.map(|one| (one.timed.start, one.timed.len, one.timed.harmony.to_string())).collect()
        };
        prop_assert_eq!(of(&back.chart), of(&chart));
        let bars = |chart: &Chart| -> Vec<Meter> {
            Form::unroll(chart).bars.iter().map(|bar| bar.meter).collect()
        };
        prop_assert_eq!(bars(&back.chart), bars(&chart));
    }
}

#[test]
fn the_charts_of_the_house_are_read_again_as_they_were() {
    for folder in ["configs/charts", "tests/fixtures/charts"] {
        #[expect(clippy::disallowed_methods, reason = "tests read their fixtures")]
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let text = std::fs::read_to_string(&path).unwrap();
            let chart = read(&text);
            assert_eq!(read(&chart.to_toml()), chart, "{}", path.display());
        }
    }
}

#[test]
fn bars_are_written_in_their_plainest_form() {
    let bars = [
        r#""Gm6""#,
        r#""Abmaj7 Gm6""#,
        r#""Ebmaj7 / / D7#9""#,
        r#""/ / / /""#,
        r#""/ / D7 /""#,
        r#""C Am Dm G7""#,
        r#"[["Gm6", 2.5], ["F7", 1.5]]"#,
        r#"[["C", 1.333], ["D", 1.333], ["E", 1.333]]"#,
        r#"[["/", 0.5], ["D7", 3.5]]"#,
        r#""N.C.""#,
    ];
    let text =
        |bars: &str| format!("title = \"t\"\n[[section]]\nname = \"A\"\nbars = [\n{bars}\n]\n");
    let chart = read(&text(&bars.join(",\n")));
    let written = chart.to_toml();
    for bar in bars {
        assert!(written.contains(bar), "{bar}\n{written}");
    }
}

#[test]
fn melodies_that_cannot_be_read_are_told_at_their_place() {
    let chart = |melody: &str| {
        let text = format!(
            "title = \"t\"\n[[section]]\nname = \"A\"\nbars = [\"C\", \"G7\"]\n[melody]\n[[melody.section]]\n{melody}"
        );
        let source = Source {
            name: "t.toml",
            text: &text,
        };
        match Chart::read(&source) {
            Ok(chart) => chart
                .melody
                .map_or(0, |one| one.sections[0].len())
                .to_string(),
            Err(faults) => faults.to_string(),
        }
    };
    let cases = [
        ("name = \"A\"\nbars = [\"G4:4\", \"-:2 F#4:2~\"]", "2"),
        (
            "name = \"A\"\nbars = [\"G4:4\"]",
            "t.toml:8:8: the melody has 1 bars, section \"A\" with its endings has 2",
        ),
        (
            "name = \"B\"\nbars = [\"G4:4\", \"-:4\"]",
            "t.toml:7:8: there is no section \"B\"",
        ),
        (
            "name = \"A\"\nbars = [\"G4:3\", \"-:4\"]",
            "t.toml:8:9: the notes last 3 beats, but a bar of 4/4 has 4",
        ),
        (
            "name = \"A\"\nbars = [\"G4:2 H4:2\", \"-:4\"]",
            "t.toml:8:15: \"H4:2\" is no note",
        ),
        (
            "name = \"A\"\nbars = [\"\", \"-:4\"]",
            "t.toml:8:9: a bar of melody has 1 to 256 notes",
        ),
        (
            "name = \"A\"\nbarz = [\"-:4\"]",
            "t.toml:6:1: the key \"bars\" is missing",
        ),
    ];
    for (melody, wanted) in cases {
        let told = chart(melody);
        assert!(told.starts_with(wanted), "{melody}\n{told}");
    }
}

#[test]
fn the_melody_moves_with_the_chart() {
    let text = "title = \"t\"\nkey = \"C major\"\n[[section]]\nname = \"A\"\nbars = [\"C\"]\n[melody]\n\
                [[melody.section]]\nname = \"A\"\nbars = [\"C4:1 E4:1 B4:1 Bb3:1\"]\n";
    let chart = read(text);
    let cases = [
        ("D major", "D4 F#4 C#5 C4"),
        ("Bb major", "Bb3 D4 A4 Ab3"),
        ("G major", "G3 B3 F#4 F3"),
        ("F major", "F4 A4 E5 Eb4"),
    ];
    for (key, wanted) in cases {
        let moved = chart.transposed(key.parse().unwrap());
        let notes = &moved.melody.unwrap().sections[0][0];
        let names: Vec<String> = notes
            .iter()
            .map(|note| format!("{}{}", note.pitch, note.octave))
            .collect();
        assert_eq!(names.join(" "), wanted, "{key}");
    }
}
