//! Laws of charts, whatever is written in them: forms, laps and lines have no gap, and no text brings the reader down.

use proptest::prelude::*;
use underfoot::chart::{Analysis, Chart, Form, Lap, form_lines, written_lines};
use underfoot::fault::Source;
use underfoot::harmony::Habits;
use underfoot::time::Tick;

/// A bar of 4/4 as a player may write it.
fn any_bar() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("\"C\"".to_string()),
        Just("\"Dm7 G7\"".to_string()),
        Just("\"/ / A7 /\"".to_string()),
        Just("\"/ / / /\"".to_string()),
        Just("\"N.C. / / C\"".to_string()),
        Just("[[\"Am7\", 1.333], [\"Bb7\", 2.667]]".to_string()),
        Just("\"C Am Dm G7\"".to_string()),
    ]
}

/// Some bars, the first without a chord from elsewhere so that `%` may follow anywhere.
fn any_bars(most: usize) -> impl Strategy<Value = String> {
    let rest = prop::collection::vec(
        prop_oneof![4 => any_bar(), 1 => Just("\"%\"".to_string())],
        0..most,
    );
    (prop_oneof![Just("\"C\""), Just("\"Dm7 G7\"")], rest)
        .prop_map(|(first, rest)| [vec![first.to_string()], rest].concat().join(", "))
}

/// A chart of up to three sections with endings, a change of time and a form.
fn any_chart() -> impl Strategy<Value = String> {
    let section = (
        any_bars(5),
        prop::collection::vec(any_bars(3), 0..3),
        any::<bool>(),
    );
    let sections = prop::collection::vec(section, 1..4);
    (
        sections,
        prop::collection::vec(0..3usize, 1..7),
        any::<bool>(),
    )
        .prop_map(|(sections, form, pickup)| {
            let names: Vec<String> = form
                .iter()
                .map(|item| format!("\"S{}\"", item % sections.len()))
                .collect();
            let mut text = format!("title = \"t\"\nform = [{}]\n", names.join(", "));
            if pickup {
                text += "pickup = \"/ / G7 /\"\n";
            }
            for (index, (bars, endings, change)) in sections.iter().enumerate() {
                text += &format!("[[section]]\nname = \"S{index}\"\nbars = [{bars}]\n");
                for (pass, bars) in (1..).zip(endings) {
                    text += &format!("[[section.ending]]\npass = {pass}\nbars = [{bars}]\n");
                }
                if *change {
                    text += "[[section.change]]\nbar = 1\ntime = \"4/8\"\nkey = \"2 flats\"\n";
                }
            }
            text
        })
}

/// Chords that follow one another without gap from `start` to `end`.
fn assert_gapless(spans: impl Iterator<Item = (Tick, Tick)>, start: Tick, end: Tick) {
    let reached = spans.fold(start, |at, (from, len)| {
        assert_eq!(from, at);
        assert!(len > Tick(0));
        from + len
    });
    assert_eq!(reached, end);
}

fn assert_lap(form: &Form, lap: &Lap, bars: &[usize]) {
    assert_gapless(
        lap.chords.iter().map(|chord| (chord.start, chord.len)),
        Tick(0),
        lap.len,
    );
    assert_gapless(
        lap.bars
            .iter()
            .map(|bar| (bar.start, bar.meter.bar_ticks())),
        Tick(0),
        lap.len,
    );
    let played: Vec<usize> = lap.bars.iter().map(|bar| bar.form_bar).collect();
    assert_eq!(played, bars);
    for chord in &lap.chords {
        let bar = &lap.bars[chord.bar];
        assert!(bar.start <= chord.start && chord.start < bar.start + bar.meter.bar_ticks());
        let inside = chord.start - bar.start + form.bars[bar.form_bar].start;
        assert_eq!(form.chord_at(inside), Some(chord.form_chord));
    }
}

/// The length of the form, without the pickup.
fn length(form: &Form) -> Tick {
    form.bars.last().map_or(Tick(0), |bar| bar.end())
}

proptest! {
    #[test]
    fn a_chart_comes_back_from_its_text_where_that_can_say_it(text in any_chart()) {
        let chart = Chart::read(&Source { name: "t.toml", text: &text }).map_err(|faults| TestCaseError::fail(faults.to_string()))?;
        let (typed, left_out) = chart.to_text();
        if left_out.is_empty() {
            let again = Chart::read_text(&Source { name: "t.txt", text: &typed }, "");
            let again = again.map_err(|faults| TestCaseError::fail(format!("{faults}\n{typed}")))?;
            prop_assert_eq!(again, chart, "{}", typed);
        } else {
            // Thirds of beats, and sections that the form leaves out, are all that these have.
            prop_assert!(typed.contains('|'));
        }
    }
}

proptest! {
    #[test]
    fn forms_laps_and_lines_have_no_gap(text in any_chart(), picks in prop::collection::vec(any::<prop::sample::Index>(), 0..8)) {
        let chart = Chart::read(&Source { name: "t.toml", text: &text }).map_err(|faults| TestCaseError::fail(faults.to_string()))?;
        let form = Form::unroll(&chart);
        assert_eq!(form.bars.len(), Form::count_bars(&chart));
        assert_gapless(form.chords.iter().map(|chord| (chord.timed.start, chord.timed.len)), Tick(0), length(&form));
        for chord in &form.chords {
            let bar = &form.bars[chord.form_bar];
            let place = bar.start + Tick::from_quarters((chord.beat - 1.0) * bar.meter.beat_ticks().quarters());
            assert_eq!(place, chord.timed.start);
        }

        let all: Vec<usize> = (0..form.bars.len()).collect();
        let lap = form.lap(&all);
        assert_lap(&form, &lap, &all);
        let spans: Vec<_> = lap.chords.iter().map(|chord| (chord.form_chord, chord.start, chord.len)).collect();
        let chords: Vec<_> = form.chords.iter().enumerate().map(|(index, chord)| (index, chord.timed.start, chord.timed.len)).collect();
        assert_eq!(spans, chords);

        let some: Vec<usize> = picks.iter().map(|pick| pick.index(all.len())).collect();
        assert_lap(&form, &form.lap(&some), &some);

        let start = chart.pickup.as_ref().map_or(Tick(0), |_| Tick::from_quarters(-2.0));
        let lines = form_lines(&chart, &form);
        assert_gapless(lines.iter().map(|line| (line.at, line.len)), start, length(&form));
        let written = written_lines(&chart, &form);
        let end = written.last().map_or(Tick(0), |line| line.at + line.len);
        assert_gapless(written.iter().map(|line| (line.at, line.len)), start, end);
        for line in &written {
            if let Some(index) = line.form_chord {
                assert_eq!(form.chords[index].timed.harmony, line.harmony);
            }
        }

        let analysis = Analysis::of(&form, &Habits::default());
        for lines in [lines, written] {
            let contexts = analysis.of_lines(&chart, &lines, &Habits::default());
            let seen: Vec<_> = contexts.iter().map(|one| (one.start, one.len, &one.harmony)).collect();
            let wanted: Vec<_> = lines.iter().map(|line| (line.at, line.len, &line.harmony)).collect();
            assert_eq!(seen, wanted);
        }
    }

    #[test]
    fn no_text_brings_the_reader_down(text in any_chart(), at in any::<prop::sample::Index>(), put in ".{0,6}", cut in 0..12usize) {
        let at = at.index(text.len());
        let end = (at + cut).min(text.len());
        let spoilt = format!("{}{put}{}", &text[..at], &text[end..]);
        for text in [spoilt, put] {
            if let Ok(chart) = Chart::read(&Source { name: "t.toml", text: &text }) {
                let form = Form::unroll(&chart);
                assert_gapless(form.chords.iter().map(|chord| (chord.timed.start, chord.timed.len)), Tick(0), length(&form));
            }
        }
    }
}
