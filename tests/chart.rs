//! Charts through the public API: the bar syntax, the form, laps and lines, and what is refused.

use underfoot::chart::{Chart, Form, written_lines};
use underfoot::fault::Source;

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
