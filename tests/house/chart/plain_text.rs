//! Changes as musicians type them: many ways to write the same, and what is wrong with the others.

use crate::support::program::{command, root};
use underfoot::chart::{Chart, ChartBar, Feel};
use underfoot::fault::Source;
use underfoot::harmony::Harmony;
use underfoot::time::Meter;

/// Line, column and the beginning of a message.
type Told = (usize, usize, &'static str);

fn read(text: &str) -> Chart {
    let source = Source {
        name: "t.txt",
        text,
    };
    Chart::read_text(&source, "untitled").unwrap_or_else(|faults| panic!("{faults}\n{text}"))
}

/// A bar: its chords, with their beats where there are several.
fn told(bar: &ChartBar) -> String {
    let cells = bar.cells.iter().map(|cell| {
        let name = match &cell.harmony {
            Some(Harmony::Chord(chord)) => chord.text.clone(),
            Some(Harmony::Silence) => "N.C.".to_string(),
            None => "/".to_string(),
        };
        let beats = cell.len.0 as f64 / bar.meter.beat_ticks().0 as f64;
        if bar.cells.len() == 1 {
            name
        } else {
            format!("{name}:{beats}")
        }
    });
    cells.collect::<Vec<_>>().join(" ")
}

/// The bars as they are played.
fn played(chart: &Chart) -> String {
    let mut passes = vec![0; chart.sections.len()];
    let mut bars = Vec::new();
    for index in &chart.form {
        passes[*index] += 1;
        let section = &chart.sections[*index];
        let named = section
            .endings
            .iter()
            .find(|ending| ending.pass == passes[*index]);
        let ending = named.or(section.endings.last());
        let all = section
            .bars
            .iter()
            .chain(ending.into_iter().flat_map(|ending| &ending.bars));
        bars.extend(all.map(told));
    }
    bars.join(" | ")
}

#[test]
fn what_musicians_type_is_read() {
    // Common practice, no source.
    let cases = [
        (
            "| Cm7 | F7 | Bbmaj7 | Ebmaj7 |",
            "Cm7 | F7 | Bbmaj7 | Ebmaj7",
        ),
        ("Cm7 | F7 | Bbmaj7", "Cm7 | F7 | Bbmaj7"),
        ("|Cm7|F7|Bbmaj7|", "Cm7 | F7 | Bbmaj7"),
        ("| Cm7 F7 | Bbmaj7 |", "Cm7:2 F7:2 | Bbmaj7"),
        ("| Dm7, G7 | C |", "Dm7:2 G7:2 | C"),
        ("| C Am, Dm G7 |", "C:1 Am:1 Dm:1 G7:1"),
        ("| Dm7 / / G7 | C |", "Dm7:3 G7:1 | C"),
        ("| Dm7 . G7 . |", "Dm7:2 G7:2"),
        ("| Dm7 - - G7 | C - - - |", "Dm7:3 G7:1 | C"),
        ("| C | % | F | % |", "C | C | F | F"),
        ("| C | / | F | . | - |", "C | C | F | F | F"),
        ("| C |  | F | |", "C | C | F | F"),
        ("| C | ./. | F | simile |", "C | C | F | F"),
        ("|| C | F ||", "C | F"),
        ("| C | F |]", "C | F"),
        ("\u{2016} C | F \u{2016} G |", "C | F | G"),
        ("|: C | F :|", "C | F | C | F"),
        ("||: C | F :||", "C | F | C | F"),
        ("\u{1d106} C | F \u{1d107}", "C | F | C | F"),
        ("|: C | F :| x3", "C | F | C | F | C | F"),
        ("|: C :| (3x)", "C | C | C"),
        ("|: C :| 3 times", "C | C | C"),
        ("C :| F |", "C | C | F"),
        ("|: C | F :|: G | C :|", "C | F | C | F | G | C | G | C"),
        ("|: C |1. F :|2. G |", "C | F | C | G"),
        ("|: C |1 F :|2 G |", "C | F | C | G"),
        ("|: C |[1. F :|[2. G |", "C | F | C | G"),
        ("|: C | 1st F :| 2nd G |", "C | F | C | G"),
        ("|: C |1,3. F :|2,4. G :|", "C | F | C | G | C | F | C | G"),
        ("|: C |1-2. F :|3. G |", "C | F | C | F | C | G"),
        ("|: C |1. F :| G | A7 |", "C | F | C | G | A7"),
        ("A: | C | F |\nB: | G | C |", "C | F | G | C"),
        ("A | C | F |\nB | G | C |", "C | F | G | C"),
        ("A | D | E", "A | D | E"),
        ("[A]\n| C | F |\n[B]\n| G |", "C | F | G"),
        ("(A) | C |\n(B) | G |", "C | G"),
        ("A) C | F\nB) G | C", "C | F | G | C"),
        ("Verse:\nC | F |\nChorus 2:\nG | C |", "C | F | G | C"),
        ("Bridge | C | F |", "C | F"),
        ("Form: AABA\nA: | C |\nB: | F |", "C | C | F | C"),
        ("Form: A, B, A\nA: | C |\nB: | F |", "C | F | C"),
        (
            "Form: Verse, Chorus, Verse\n[Verse] | C |\n[Chorus] | F |",
            "C | F | C",
        ),
        ("A: | C |\nB: | F |\nA", "C | F | C"),
        ("A: | C |\nB: | F |\nA: | C |", "C | F | C"),
        ("A: C | F |: G | Am :| x2", "C | F | G | Am | G | Am"),
        ("Form: A A\nA: |: C | F :|", "C | F | C | F"),
        ("Form: A A\nA: | C |1. F |2. G |", "C | F | C | G"),
        ("| C/E | F/A |", "C/E | F/A"),
        ("| N.C. | C |", "N.C. | C"),
        ("| Dm7(b5) | G7(b9,#11) |", "Dm7(b5) | G7(b9,#11)"),
        (
            "| C-7 | F\u{266f}m7b5 | B\u{266d}7 |",
            "C-7 | F\u{266f}m7b5 | B\u{266d}7",
        ),
        ("| C | F |\r\n| G | C |\r\n", "C | F | G | C"),
        (
            "# by heart\n| C |\n// the bridge is free\n; twice\n| F |",
            "C | F",
        ),
        ("3/4\n| C F G | Am |", "C:1 F:1 G:1 | Am"),
        ("| 3/4 C F G | 4/4 Dm7 G7 |", "C:1 F:1 G:1 | Dm7:2 G7:2"),
        ("\tC  |  F\t|", "C | F"),
    ];
    for (text, expected) in cases {
        assert_eq!(played(&read(text)), expected, "{text}");
    }
}

#[test]
fn headings_are_read_on_their_lines_and_together() {
    let typed = [
        "Small Tune\nKey: G minor\nTime: 3/4\nTempo: 140\nFeel: waltz\n| Gm |",
        "Title: Small Tune\nKey: G minor   Time: 3/4   Tempo: 140\nmedium waltz\n| Gm |",
        "Small Tune\n\nkey = G minor\n3/4\n\u{2669} = 140\nStyle: Jazz Waltz\n| Gm |",
        "Song: Small Tune\nComposer: nobody\nKey: Gm, Meter: 3/4\n140 bpm\nGroove: waltz\n| Gm |",
    ];
    for text in typed {
        let chart = read(text);
        assert_eq!(chart.title, "Small Tune", "{text}");
        assert_eq!(
            chart.key.map(|key| key.to_string()).as_deref(),
            Some("G minor"),
            "{text}"
        );
        assert_eq!(chart.meter, "3/4".parse::<Meter>().unwrap(), "{text}");
        assert_eq!(
            (chart.tempo_qpm, chart.feel),
            (140.0, Feel::Waltz),
            "{text}"
        );
    }
    let bare = read("| C |");
    assert_eq!(
        (bare.title.as_str(), bare.key, bare.meter),
        ("untitled", None, Meter::COMMON)
    );
}

#[test]
fn every_fault_is_told_with_line_and_column() {
    // What is typed; line, column and the beginning of each message.
    let cases: &[(&str, &[Told])] = &[
        ("", &[(1, 1, "there are no bars in it")]),
        ("| Cm7 | H7 |", &[(1, 9, "\"H7\" is no chord symbol")]),
        (
            "| Cm7 |\n  | Fmm |",
            &[(2, 7, "\"Fmm\" is no chord symbol")],
        ),
        (
            "| Dm7 G7 C |",
            &[(1, 3, "3 chords do not share the 4 beats")],
        ),
        (
            "| Dm7 / G7 |",
            &[(
                1,
                3,
                "with slashes a bar has one chord or / a beat: 4 in 4/4, not 3",
            )],
        ),
        ("C F G7", &[(1, 1, "bars are written between | signs")]),
        (
            "| C | F |\nfoo bar baz",
            &[(2, 1, "\"foo bar baz\" is neither bars")],
        ),
        (
            "Kee: C major\n| C |",
            &[(1, 1, "there is no heading \"Kee\"")],
        ),
        ("Key: H minor\n| C |", &[(1, 6, "\"H minor\" is no key")]),
        (
            "Tempo: fast\n| C |",
            &[(1, 8, "the tempo is a number from 30 to 300")],
        ),
        ("Time: 17/3\n| C |", &[(1, 7, "\"17/3\" is no time")]),
        ("Feel: swnig\n| C |", &[(1, 7, "\"swnig\" is no feel")]),
        (
            "Form: A B\nA: | C |",
            &[(1, 9, "there is no section \"B\"")],
        ),
        ("A:\nB: | C |", &[(1, 1, "section \"A\" has no bars")]),
        ("|1. C :|2. F |", &[(1, 2, "an ending follows the bars")]),
        (
            "|: C |1. F :|1. G |",
            &[(1, 14, "there are two endings for pass 1")],
        ),
        (
            "| C | D.C. al Fine |",
            &[(1, 7, "jumps are written as the order")],
        ),
        ("| % | C |", &[(1, 3, "% repeats the bar before")]),
        ("| / / C / |", &[(1, 3, "section \"A\" starts with a /")]),
        ("| C | x0", &[(1, 6, "something is repeated at most")]),
        (
            "Pickup: / / / /\n| C |",
            &[(1, 9, "the pickup has no chord")],
        ),
        (
            "Tempo: fast\n| H | C |\nB: | Dm7 G7 C | Fmm |",
            &[
                (1, 8, "the tempo is a number"),
                (2, 3, "\"H\" is no chord symbol"),
                (3, 6, "3 chords do not share"),
                (3, 19, "\"Fmm\" is no chord symbol"),
            ],
        ),
    ];
    for (text, expected) in cases {
        let source = Source {
            name: "t.txt",
            text,
        };
        let faults = Chart::read_text(&source, "untitled").expect_err(text).0;
        let places: Vec<(usize, usize)> = faults
            .iter()
            .map(|fault| (fault.line, fault.column))
            .collect();
        let wanted: Vec<(usize, usize)> = expected
            .iter()
            .map(|(line, column, _)| (*line, *column))
            .collect();
        assert_eq!(places, wanted, "{text}: {faults:?}");
        for (fault, (_, _, rule)) in faults.iter().zip(*expected) {
            assert!(fault.rule.starts_with(rule), "{text}: {}", fault.rule);
        }
    }
}

#[test]
fn the_charts_that_ship_come_back_from_their_text() {
    let home = tempfile::tempdir().expect("a directory");
    for name in [
        "ferry-at-six",
        "gasworks-corner",
        "nine-lanterns",
        "tram-to-the-salt-pans",
    ] {
        let chart = root(&format!("configs/charts/{name}.toml"));
        let (text, again) = (
            home.path().join("changes.txt"),
            home.path().join("again.toml"),
        );
        let written = command(home.path())
            .arg("export")
            .arg(&chart)
            .arg("--text")
            .arg("-o")
            .arg(&text)
            .output()
            .expect("the program");
        assert!(
            written.status.success(),
            "{}",
            String::from_utf8_lossy(&written.stderr)
        );
        let told = String::from_utf8_lossy(&written.stderr).into_owned();
        let read = command(home.path())
            .arg("import")
            .arg(&text)
            .arg("-o")
            .arg(&again)
            .output()
            .expect("the program");
        assert!(
            read.status.success(),
            "{}",
            String::from_utf8_lossy(&read.stderr)
        );
        let chart_of = |path: &std::path::Path| {
            let text = std::fs::read_to_string(path).expect("a chart");
            Chart::read(&Source { name, text: &text }).expect("a chart without fault")
        };
        let (mut before, after) = (chart_of(&chart), chart_of(&again));
        // What the text cannot say it tells.
        for (there, what) in [
            (before.melody.is_some(), "the melody"),
            (
                before
                    .sections
                    .iter()
                    .flat_map(|s| &s.bars)
                    .flat_map(|b| &b.cells)
                    .any(|c| c.hint.is_some()),
                "hints",
            ),
        ] {
            assert_eq!(there, told.contains(what), "{name}: {told}");
        }
        // A bar in three is parted in the middle.
        if told.contains("between the beats") {
            assert_eq!(name, "nine-lanterns");
            continue;
        }
        before.melody = None;
        for section in std::sync::Arc::make_mut(&mut before.sections) {
            let endings = section
                .endings
                .iter_mut()
                .flat_map(|ending| &mut ending.bars);
            section
                .bars
                .iter_mut()
                .chain(endings)
                .flat_map(|bar| &mut bar.cells)
                .for_each(|cell| cell.hint = None);
        }
        before.habits = after.habits;
        assert_eq!(after, before, "{name}");
    }
}
