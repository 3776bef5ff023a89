//! Charts through the public API: the bar syntax, the form, laps and lines, and what is refused.

use underfoot::chart::{Chart, Form, WrittenChord, form_lines, written_lines};
use underfoot::fault::Source;
use underfoot::harmony::{Harmony, Key, KeyDeclaration};
use underfoot::time::Tick;

/// A chart of one section with the given bars, in the given time.
fn one_section(time: &str, bars: &str) -> Result<Chart, String> {
    let text =
        format!("title = \"t\"\ntime = \"{time}\"\n[[section]]\nname = \"A\"\nbars = [{bars}]\n");
    let source = Source {
        name: "t.toml",
        text: &text,
    };
    Chart::read(&source).map_err(|faults| faults.to_string())
}

/// The lines of a chart as `bar.beat symbol xbeats`.
fn picture(chart: &Chart) -> String {
    let lines = written_lines(chart, &Form::unroll(chart));
    let parts: Vec<String> = lines
        .iter()
        .map(|line| {
            format!(
                "{}.{} {} x{}",
                line.bar,
                line.beat,
                line.symbol(),
                line.beats
            )
        })
        .collect();
    parts.join(", ")
}

#[test]
fn bars_are_read_as_they_are_written() {
    // time, bars, lines as bar.beat symbol xbeats
    let cases = [
        ("4/4", r#""Gm6""#, "1.1 Gm6 x4"),
        ("4/4", r#""Abmaj7 Gm6""#, "1.1 Abmaj7 x2, 1.3 Gm6 x2"),
        ("4/4", r#""Ebmaj7 / D7#9 /""#, "1.1 Ebmaj7 x2, 1.3 D7#9 x2"),
        ("4/4", r#""Dbmaj7 / / C7""#, "1.1 Dbmaj7 x3, 1.4 C7 x1"),
        (
            "4/4",
            r#""C Am Dm G7""#,
            "1.1 C x1, 1.2 Am x1, 1.3 Dm x1, 1.4 G7 x1",
        ),
        (
            "4/4",
            r#"[["Gm6", 2.5], ["F7", 1.5]]"#,
            "1.1 Gm6 x2.5, 1.3.5 F7 x1.5",
        ),
        ("4/4", r#""C", "%""#, "1.1 C x4, 2.1 C x4"),
        ("4/4", r#""C", "/ / D7 /""#, "1.1 C x6, 2.3 D7 x2"),
        ("4/4", r#""C", "/ / / /""#, "1.1 C x8"),
        ("4/4", r#""C", "/ / / /", "%""#, "1.1 C x12"),
        (
            "4/4",
            r#""C", "/ / D7 /", "%""#,
            "1.1 C x6, 2.3 D7 x2, 3.1 C x2, 3.3 D7 x2",
        ),
        (
            "4/4",
            r#""C", [["/", 0.5], ["D7", 3.5]]"#,
            "1.1 C x4.5, 2.1.5 D7 x3.5",
        ),
        ("4/4", r#""C", "C""#, "1.1 C x4, 2.1 C x4"),
        ("4/4", r#""C C / /""#, "1.1 C x1, 1.2 C x3"),
        ("4/4", r#""N.C. G7""#, "1.1 N.C. x2, 1.3 G7 x2"),
        ("4/4", r#""no chord""#, "1.1 N.C. x4"),
        ("4/4", r#""C", "/ / N.C. /""#, "1.1 C x6, 2.3 N.C. x2"),
        ("3/4", r#""C D E""#, "1.1 C x1, 1.2 D x1, 1.3 E x1"),
        ("3/4", r#""C / E""#, "1.1 C x2, 1.3 E x1"),
        ("6/8", r#""C D""#, "1.1 C x3, 1.4 D x3"),
        ("6/8", r#""C / / / D /""#, "1.1 C x4, 1.5 D x2"),
        ("12/8", r#""C D""#, "1.1 C x6, 1.7 D x6"),
        ("2/2", r#""C D""#, "1.1 C x1, 1.2 D x1"),
        ("5/4", r#""C / / D /""#, "1.1 C x3, 1.4 D x2"),
    ];
    for (time, bars, lines) in cases {
        let chart = one_section(time, bars).unwrap_or_else(|faults| panic!("{bars}: {faults}"));
        assert_eq!(picture(&chart), lines, "{time} {bars}");
    }
}

/// Every file of a folder of the project with its name, in the order of names.
#[expect(clippy::disallowed_methods, reason = "tests read their fixtures")]
fn files(folder: &str, extension: &str) -> Vec<(String, String)> {
    let mut found: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|found| found == extension))
        .map(|path| {
            let name = path.file_stem().unwrap().to_str().unwrap().to_string();
            (name, std::fs::read_to_string(&path).unwrap())
        })
        .collect();
    found.sort();
    found
}

#[test]
fn broken_charts_are_refused_with_every_fault_at_its_place() {
    let broken = "tests/fixtures/broken/charts";
    let (charts, wanted) = (files(broken, "toml"), files(broken, "txt"));
    let names = |files: &[(String, String)]| -> Vec<String> {
        files.iter().map(|file| file.0.clone()).collect()
    };
    for ((name, text), (_, wanted)) in charts.iter().zip(&wanted) {
        let source = Source {
            name: &format!("{name}.toml"),
            text,
        };
        let told = Chart::read(&source).expect_err(name).to_string();
        assert_eq!(told.trim_end(), wanted.trim_end(), "{name}");
    }
    assert_eq!(names(&charts), names(&wanted));
    assert!(charts.len() >= 10);
}

#[test]
fn hostile_charts_are_refused_before_they_grow() {
    let section =
        |bars: &str| format!("title = \"t\"\n[[section]]\nname = \"A\"\nbars = [\"C\"{bars}]\n");
    let many = |text: &str, count: usize| text.repeat(count);
    let cases = [
        (
            many("#", (1 << 20) + 1),
            "the file has 1048577 bytes, a chart at most 1048576",
        ),
        (
            section(&many(", \"%\"", 10_000)),
            "a chart has at most 10000 bars",
        ),
        (
            format!(
                "form = [{}]\n{}",
                many("\"A\",", 500),
                section(&many(", \"%\"", 20))
            ),
            "the form plays 10500 bars, but 10000 is the most",
        ),
        (
            format!("form = [{}]\n{}", many("\"A\",", 501), section("")),
            "the form has 501 sections, but 500 is the most",
        ),
        (
            format!("title = \"t\"\n{}", many("[[section]]\n", 201)),
            "a chart has at most 200 sections",
        ),
        (
            section(&format!(", \"{}\"", many("C ", 33))),
            "a bar has at most 32 chords, not 33",
        ),
        (format!("a = {}", many("[", 100_000)), "not TOML"),
        (format!("{} = 1", many("a.", 100_000)), "not TOML"),
    ];
    for (text, told) in cases {
        let faults = Chart::read(&Source {
            name: "t.toml",
            text: &text,
        })
        .unwrap_err();
        let rules: Vec<&str> = faults.0.iter().map(|fault| fault.rule.as_str()).collect();
        assert!(
            rules.iter().any(|rule| rule.contains(told)),
            "{told}: {rules:?}"
        );
    }
    let endless = section(&many(", \"Hm\"", 9_999));
    let faults = Chart::read(&Source {
        name: "t.toml",
        text: &endless,
    })
    .unwrap_err();
    assert_eq!(faults.0.len(), 200);
}

/// The chart of a file of the project.
#[expect(clippy::disallowed_methods, reason = "tests read their fixtures")]
fn chart_of(path: &str) -> Chart {
    let text = std::fs::read_to_string(path).unwrap();
    Chart::read(&Source {
        name: path,
        text: &text,
    })
    .unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn every_demo_chart_is_read_and_has_the_form_it_claims() {
    // file, bars of the form, length in quarters
    let cases = [
        ("ferry-at-six", 32, 128.0),
        ("gasworks-corner", 12, 48.0),
        ("nine-lanterns", 32, 96.0),
        ("tram-to-the-salt-pans", 32, 128.0),
    ];
    for ((name, bars, quarters), (file, text)) in
        cases.into_iter().zip(files("configs/charts", "toml"))
    {
        assert_eq!(name, file);
        let chart = Chart::read(&Source {
            name: &file,
            text: &text,
        })
        .unwrap_or_else(|faults| panic!("{faults}"));
        let form = Form::unroll(&chart);
        assert_eq!(
            (form.bars.len(), form.bars.last().unwrap().end().quarters()),
            (bars, quarters),
            "{name}"
        );
    }
    assert_eq!(files("configs/charts", "toml").len(), cases.len());
}

/// A lap as `symbol xquarters`, bars of the form in brackets before it.
fn lap_picture(form: &Form, bars: &[usize]) -> String {
    let lap = form.lap(bars);
    let chords: Vec<String> = lap
        .chords
        .iter()
        .map(|chord| {
            let harmony = &form.chords[chord.form_chord].timed.harmony;
            let symbol = match harmony {
                Harmony::Chord(symbol) => symbol.text.as_str(),
                Harmony::Silence => "N.C.",
            };
            format!(
                "{}: {symbol} x{}",
                chord.start.quarters(),
                chord.len.quarters()
            )
        })
        .collect();
    chords.join(", ")
}

#[test]
fn chords_go_on_over_bar_lines_sections_and_out_of_the_pickup() {
    let chart = chart_of("tests/fixtures/charts/pickup.toml");
    let form = Form::unroll(&chart);
    let (bar, chords) = form.pickup.as_ref().unwrap();
    assert_eq!((bar.start, bar.bar), (Tick::from_quarters(-4.0), 0));
    assert_eq!(
        (chords[0].timed.start, chords[0].beat),
        (Tick::from_quarters(-2.0), 3.0)
    );
    let all: Vec<usize> = (0..form.bars.len()).collect();
    assert_eq!(
        lap_picture(&form, &all[..9]),
        "0: A7 x2, 2: Dm7 x2, 4: Gm7 x2, 6: C7 x2, 8: Fmaj7 x7, 15: Bb7 x1, 16: A7 x3, 19: N.C. x5, \
         24: Dm7 x2, 26: Gm7 x2, 28: C7 x4, 32: A7 x2"
    );
    // Sections A B A A A: the endings of passes 1, 2, 3 and again 3, numbered on through the section.
    let numbers: Vec<String> = form
        .bars
        .iter()
        .map(|bar| format!("{}{}", form.section_names[bar.section], bar.bar))
        .collect();
    assert_eq!(
        numbers.join(" "),
        "A1 A2 A3 B1 B2 B3 A1 A2 A4 A5 A1 A2 A6 A7 A8 A1 A2 A6 A7 A8"
    );
    let keys: Vec<_> = form.bars[3..7]
        .iter()
        .map(|bar| (bar.meter.to_string(), bar.key == chart.key))
        .collect();
    assert_eq!(
        keys,
        [("4/4", true), ("3/4", false), ("3/4", false), ("4/4", true)]
            .map(|(meter, home)| (meter.to_string(), home))
    );
}

#[test]
fn a_lap_cuts_chords_at_its_seams() {
    let form = Form::unroll(&chart_of("tests/fixtures/charts/pickup.toml"));
    let cases: [(&[usize], &str); 6] = [
        (&[2], "0: Fmaj7 x4"),
        (&[3], "0: Fmaj7 x3, 3: Bb7 x1"),
        (&[2, 3], "0: Fmaj7 x7, 7: Bb7 x1"),
        (&[3, 2], "0: Fmaj7 x3, 3: Bb7 x1, 4: Fmaj7 x4"),
        (&[2, 2], "0: Fmaj7 x4, 4: Fmaj7 x4"),
        (&[], ""),
    ];
    for (bars, picture) in cases {
        assert_eq!(lap_picture(&form, bars), picture, "{bars:?}");
    }
}

#[test]
fn lines_are_one_a_written_chord() {
    let chart = chart_of("tests/fixtures/charts/pickup.toml");
    let form = Form::unroll(&chart);
    let show = |lines: Vec<WrittenChord>| -> Vec<String> {
        lines
            .iter()
            .map(|line| {
                let section = &chart.sections[line.section].name;
                let in_form = line
                    .bar_in_form
                    .map_or("-".to_string(), |bar| bar.to_string());
                let same = line
                    .form_chord
                    .map_or("-".to_string(), |chord| chord.to_string());
                format!(
                    "{section}{} {in_form} {}.{} {}: {}x{} {same}",
                    line.bar,
                    line.at.quarters(),
                    line.beat,
                    line.symbol(),
                    line.beats,
                    line.len.quarters()
                )
            })
            .collect()
    };
    // section and bar, bar in form, quarters.beat symbol: beats x quarters, chord of the form
    assert_eq!(
        show(written_lines(&chart, &form)),
        [
            "A0 - -2.3 A7: 4x4 -",
            "A1 - 2.3 Dm7: 2x2 1",
            "A2 - 4.1 Gm7: 2x2 2",
            "A2 - 6.3 C7: 2x2 3",
            "A3 - 8.1 Fmaj7: 4x4 4",
            "A4 - 12.1 C7: 2x2 10",
            "A4 - 14.3 A7: 2x2 11",
            "A5 - 16.1 Dm6: 4x4 12",
            "A6 - 20.1 A7: 4x4 16",
            "A7 - 24.1 A7: 4x4 17",
            "A8 - 28.1 Dm6: 4x4 18",
            "B1 - 32.1 Fmaj7: 3x3 4",
            "B1 - 35.4 Bb7: 1x1 5",
            "B2 - 36.1 A7: 3x3 6",
            "B3 - 39.1 N.C.: 3x3 7",
        ]
    );
    assert_eq!(
        show(form_lines(&chart, &form))[..13],
        [
            "A0 0 -2.3 A7: 4x4 -",
            "A1 1 2.3 Dm7: 2x2 1",
            "A2 2 4.1 Gm7: 2x2 2",
            "A2 2 6.3 C7: 2x2 3",
            "A3 3 8.1 Fmaj7: 7x7 4",
            "B1 4 15.4 Bb7: 1x1 5",
            "B2 5 16.1 A7: 3x3 6",
            "B3 6 19.1 N.C.: 5x5 7",
            "A1 7 24.3 Dm7: 2x2 8",
            "A2 8 26.1 Gm7: 2x2 9",
            "A2 8 28.3 C7: 4x4 10",
            "A4 9 32.3 A7: 2x2 11",
            "A5 10 34.1 Dm6: 6x6 12",
        ]
    );
}

#[test]
fn the_form_is_walked_by_items_and_sections() {
    let form = Form::unroll(&chart_of("configs/charts/ferry-at-six.toml"));
    assert_eq!(form.items(), 4);
    assert_eq!(
        [
            form.first_item_of(0),
            form.first_item_of(1),
            form.first_item_of(2)
        ],
        [Some(0), Some(2), None]
    );
    assert_eq!(form.item_bars(0), (0..8).collect::<Vec<_>>());
    assert_eq!(form.item_bars(3), (24..32).collect::<Vec<_>>());
    assert_eq!(form.item_bars(4), Vec::<usize>::new());
    // item, next item of another section, the one before
    for (item, next, before) in [(0, 2, 2), (1, 2, 2), (2, 3, 1), (3, 2, 2)] {
        assert_eq!(form.next_other_section(item), Some(next), "{item}");
        assert_eq!(form.previous_other_section(item), Some(before), "{item}");
    }
    assert_eq!(form.next_other_section(9), None);
    let one = Form::unroll(&one_section("4/4", r#""C""#).unwrap());
    assert_eq!(one.next_other_section(0), None);
}

#[test]
fn what_the_form_never_plays_is_told() {
    // form, passes of the endings of A, what is told
    let cases: [(&str, &[u32], &[&str]); 6] = [
        (r#""A", "B""#, &[], &[]),
        (
            r#""A", "A""#,
            &[1, 2],
            &["section \"B\" is not in the form"],
        ),
        (
            r#""A", "B""#,
            &[1, 2],
            &["the ending for pass 2 of section \"A\" is not reached: the form plays it once"],
        ),
        (r#""A", "A", "A", "B""#, &[1, 3], &[]),
        // Pass 2 names no ending and takes the last one given.
        (r#""A", "A", "B""#, &[1, 3], &[]),
        (
            r#""A", "A", "B""#,
            &[4, 1, 2],
            &["the ending for pass 4 of section \"A\" is not reached: the form plays it twice"],
        ),
    ];
    for (form, passes, told) in cases {
        let endings: String = passes
            .iter()
            .map(|pass| format!("[[section.ending]]\npass = {pass}\nbars = [\"G7\"]\n"))
            .collect();
        let text = format!(
            "title = \"t\"\nform = [{form}]\n[[section]]\nname = \"A\"\nbars = [\"C\"]\n{endings}\
             [[section]]\nname = \"B\"\nbars = [\"C\"]\n"
        );
        let chart = Chart::read(&Source {
            name: "t.toml",
            text: &text,
        })
        .unwrap();
        assert_eq!(chart.unplayed(), told, "{form} {passes:?}");
    }
    for (name, text) in files("configs/charts", "toml") {
        let chart = Chart::read(&Source {
            name: &name,
            text: &text,
        })
        .unwrap();
        assert_eq!(chart.unplayed(), Vec::<String>::new(), "{name}");
    }
}

/// The symbols of a form in order.
fn symbols(chart: &Chart) -> String {
    let lines = written_lines(chart, &Form::unroll(chart));
    lines
        .iter()
        .map(WrittenChord::symbol)
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn charts_move_to_other_keys_with_plain_spellings() {
    let key = |text: &str| -> Key { text.parse().unwrap() };
    let ferry = chart_of("configs/charts/ferry-at-six.toml");
    let home = ferry.home().unwrap();
    assert_eq!(home, key("G minor"));
    let moved = ferry.transposed(key("Eb minor"));
    assert_eq!(moved.home(), Some(key("Eb minor")));
    assert_eq!(
        symbols(&moved),
        "Ebm6 Cm7b5 Cbmaj7 Fm7b5 Bb7b9 Bbm7b5 Eb7b9 Abm6 Fm7b5 Bb7b9 Fm7b5 Bb7b9 Ebm6 \
         Abm7 Db7 Gbmaj7 Gm7b5 C7b9 Fm6 Gbm7 Cb7 Fbmaj7 Fm7b5 Bb7alt"
    );
    assert_eq!(moved.transposed(home).key, ferry.key);

    // The bridge goes from A major to D sharp, written E flat.
    let tram = chart_of("configs/charts/tram-to-the-salt-pans.toml");
    let moved = tram.transposed(key("B major"));
    assert_eq!(
        symbols(&moved),
        "Bmaj7 Gmaj7 Bmaj7 D#m7b5 G#7b9 C#m7 Em6 D#m7 G#7b9 C#m7 F#7 C#m7 F#7 B6 \
         Fm7 Bb7 Ebmaj7 Gm7 C7b9 Fm7 Abm6 C#m7 F#7sus F#7"
    );
    assert_eq!(tram.transposed(tram.home().unwrap()), tram);
}

#[test]
fn in_every_key_all_chords_move_alike_and_read_back() {
    for (name, text) in files("configs/charts", "toml") {
        let chart = Chart::read(&Source {
            name: &name,
            text: &text,
        })
        .unwrap();
        let home = chart.home().unwrap();
        for fifths in -6..=6 {
            let to = Key::of_signature(fifths, home.mode);
            let way = home.tonic.up_to(to.tonic);
            let moved = Form::unroll(&chart.transposed(to));
            assert_eq!(moved.bars[0].key, Some(KeyDeclaration::Key(to)));
            for (old, new) in Form::unroll(&chart).chords.iter().zip(&moved.chords) {
                let (Harmony::Chord(old), Harmony::Chord(new)) =
                    (&old.timed.harmony, &new.timed.harmony)
                else {
                    panic!("{name} has no silence");
                };
                assert_eq!(
                    old.root.up_to(new.root),
                    way,
                    "{name} {to}: {} {}",
                    old.text,
                    new.text
                );
                assert_eq!(
                    old.bass.up_to(new.bass),
                    way,
                    "{name} {to}: {} {}",
                    old.text,
                    new.text
                );
                assert!(
                    new.root.alter.abs() <= 1 && new.bass.alter.abs() <= 1,
                    "{name} {to}: {}",
                    new.text
                );
                assert_eq!(new.text.parse().as_ref(), Ok(new), "{name} {to}");
            }
        }
    }
}
