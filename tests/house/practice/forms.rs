//! Forms played through: intros, vamps, endings, codas and the last time, each against the list of bars that a player with the
//! sheet would come to. The lists are written by hand; what the signs mean is common practice, no source.

use crate::support::practice::*;
use underfoot::chart::Chart;
use underfoot::drill::{Drill, GoesRound};
use underfoot::fault::Source;
use underfoot::practice::{Library, Recorded};

/// Sections as words: `A2` has two bars, `V1~` is a vamp, `A1+1:1+2:2` has endings of one and of two bars.
fn sections(words: &str) -> String {
    const CHORDS: [&str; 5] = ["C6", "Dm7", "Em7", "Fmaj7", "G7"];
    let bars = |count: &str| {
        let count: usize = count.parse().expect("a number");
        let bars = CHORDS[..count].iter().map(|chord| format!("'{chord}'"));
        bars.collect::<Vec<_>>().join(", ")
    };
    let mut text = String::new();
    for word in words.split(' ') {
        let mut parts = word.split('+');
        let head = parts.next().expect("a name");
        let vamp = head.ends_with('~');
        let head = head.trim_end_matches('~');
        let (name, count) = head.split_at(1);
        text += &format!(
            "[[section]]\nname = '{name}'\nvamp = {vamp}\nbars = [{}]\n",
            bars(count)
        );
        for part in parts {
            let (pass, count) = part.split_once(':').expect("a pass and its bars");
            text += &format!(
                "[[section.ending]]\npass = {pass}\nbars = [{}]\n",
                bars(count)
            );
        }
    }
    text
}

fn chart_of(head: &str, words: &str) -> Chart {
    let head = head.replace("; ", "\n");
    let text = format!(
        "title = 'Form'\nkey = 'C major'\ntempo = 240\n{head}\n{}",
        sections(words)
    );
    let source = Source {
        name: "form.toml",
        text: &text,
    };
    Chart::read(&source).unwrap_or_else(|faults| panic!("{faults}\n{text}"))
}

/// The bars that sounded: section and number, `n` counted, `.` the take is over.
fn played(room: &Room) -> String {
    let mut words: Vec<String> = Vec::new();
    for record in &room.records {
        match (&record.what, record.bar) {
            (Recorded::Bar, Some(bar)) => words.push(format!("{}{bar}", record.section)),
            (Recorded::Bar, None) => words.push("n".to_string()),
            (Recorded::Take { starts: false }, _) => words.push(".".to_string()),
            _ => {}
        }
    }
    words.join(" ")
}

fn room(chart: Chart) -> Room {
    let mut drill = Drill::just_play();
    drill.stages[0].over = Some(GoesRound::Form);
    let library = Library {
        charts: vec![chart],
        drill,
        set: None,
    };
    Room::new(library, settings(2))
}

#[rustfmt::skip]
const FORMS: &[(&str, &str, &str, &str, &str)] = &[
    ("a chorus goes round", "form = ['A', 'B']", "A2 B1", "23", "A1 A2 B1 A1 A2 B1"),
    ("the third A takes the ending given last", "form = ['A', 'A', 'B', 'A']", "A1+1:1+2:1 B1", "31", "A1 A2 A1 A3 B1 A1 A3 A1"),
    ("endings begin anew in each chorus", "form = ['A', 'A']", "A1+1:1+2:1", "31", "A1 A2 A1 A3 A1 A2 A1 A3"),
    ("an intro comes once", "intro = ['I']; form = ['A']", "I1 A2", "19", "I1 A1 A2 A1 A2"),
    ("the last time without an ending of its own", "form = ['A', 'B']", "A1 B1", "1 last time; 15", "A1 B1 ."),
    ("the last time asked for in the intro: one chorus", "intro = ['I']; form = ['A', 'B']", "I1 A1 B1", "1 last time; 23", "I1 A1 B1 ."),
    ("a coda after the last time", "form = ['A']; [last_time]; coda = ['C']", "A2 C1", "1 last time; 23", "A1 A2 C1 ."),
    ("to the coda from inside", "form = ['A']; [last_time]; to_coda = 1; coda = ['C']", "A3 C1", "1 last time; 19", "A1 C1 ."),
    ("too late for the coda: the next time round", "form = ['A']; [last_time]; to_coda = 1; coda = ['C']", "A3 C1", "5 last time; 31", "A1 A2 A3 A1 C1 ."),
    ("called off before the coda", "form = ['A']; [last_time]; to_coda = 1; coda = ['C']", "A3 C1", "1 last time; 2 stay here; 23", "A1 A2 A3 A1 A2 A3"),
    ("the coda after three choruses", "form = ['A', 'B']; [last_time]; to_coda = 1; coda = ['C']", "A1 B2 C2", "25 last time; 47", "A1 B1 B2 A1 B1 B2 A1 B1 C1 C2 ."),
    ("another form the last time", "form = ['A', 'B']; [last_time]; form = ['A', 'A', 'C']", "A1 B1 C1", "1 last time; 19", "A1 A1 C1 ."),
    ("endings on the way to the coda", "form = ['A', 'A']; [last_time]; to_coda = 1; coda = ['C']", "A1+1:1+2:1 C1", "1 last time; 23", "A1 A2 A1 C1 ."),
    ("a vamp goes round until the foot", "form = ['A', 'V']", "A1 V1~", "19", "A1 V1 V1 V1 V1"),
    ("the foot leaves it, and the form goes on", "form = ['A', 'V', 'B']", "A1 V1~ B1", "9 next section; 23", "A1 V1 V1 B1 A1 V1"),
    ("an intro vamp", "intro = ['V']; form = ['A']", "V1~ A1", "5 next section; 15", "V1 V1 A1 A1"),
    ("a vamp is left at its end", "form = ['A', 'V', 'B']", "A1 V2~ B1", "5 next section; 19", "A1 V1 V2 B1 A1"),
    ("the last time leaves a vamp", "form = ['A', 'V', 'B']", "A1 V1~ B1", "9 last time; 23", "A1 V1 V1 B1 ."),
    ("a vamp in the coda", "form = ['A']; [last_time]; coda = ['V', 'C']", "A1 V1~ C1", "1 last time; 9 next section; 23", "A1 V1 V1 C1 ."),
    ("the coda is firm once it has begun", "form = ['A']; [last_time]; to_coda = 1; coda = ['C']", "A2 C2", "1 last time; 5 stay here; 23", "A1 C1 C2 A1 A2 A1"),
    ("a tempo on the way to the coda", "form = ['A']; [last_time]; to_coda = 2; coda = ['C']", "A3 C1", "1 last time; 2 tempo up; 19", "A1 A2 C1 ."),
    ("stopped in the intro it begins there again", "intro = ['I']; form = ['A']", "I1 A1", "1 stop; +0.5 start; 7", "I1 . n n I1 A1"),
];

#[test]
fn forms_are_played_as_a_player_with_the_sheet_would() {
    let mut wrong = Vec::new();
    for (what, head, words, script, expected) in FORMS {
        let room = room(chart_of(head, words)).started(script);
        let (heard, expected) = (played(&room), format!("n n {expected}"));
        if heard != expected {
            wrong.push(format!(
                "{what}: {head} | {words} | {script}\n    played   {heard}\n    expected {expected}"
            ));
        }
        assert_eq!(room.starved, 0, "{what}");
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        FORMS.len(),
        wrong.join("\n")
    );
}

#[test]
fn such_charts_are_written_and_read_again() {
    for (what, head, words, ..) in FORMS {
        let chart = chart_of(head, words);
        let text = chart.to_toml();
        let again = Chart::read(&Source {
            name: "again.toml",
            text: &text,
        });
        assert_eq!(
            again.unwrap_or_else(|faults| panic!("{what}: {faults}\n{text}")),
            chart,
            "{what}"
        );
    }
}

#[test]
fn what_cannot_be_played_is_told_at_its_line() {
    let cases = [
        ("intro = ['X']", "form.toml:4:10: there is no section \"X\""),
        (
            "intro = []",
            "form.toml:4:9: intro is empty (such as intro = [\"A\"])",
        ),
        (
            "[last_time]",
            "form.toml:4:1: last_time names a form, a coda, or both",
        ),
        (
            "[last_time]; to_coda = 1",
            "form.toml:5:11: to_coda leads to a coda, but there is none",
        ),
        (
            "[last_time]; to_coda = 9; coda = ['B']",
            "form.toml:5:11: to_coda is 9, but section \"V\" has 1 bars there",
        ),
        (
            "[last_time]; coda = ['V']",
            "form.toml:5:8: the last time cannot end with a vamp: nothing comes after it",
        ),
        (
            "[last_time]; codda = ['B']; form = ['B']",
            "form.toml:5:1: unknown key \"codda\" (nearest: \"coda\")",
        ),
    ];
    for (head, told) in cases {
        let head = head.replace("; ", "\n");
        let text = format!(
            "title = 'Form'\nkey = 'C major'\ntempo = 240\n{head}\n{}",
            sections("A2 B1 V1~")
        );
        let source = Source {
            name: "form.toml",
            text: &text,
        };
        let faults = Chart::read(&source).expect_err("a fault").to_string();
        assert!(faults.contains(told), "{head}: {faults}");
    }
}
