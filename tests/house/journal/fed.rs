//! What the core records reaches the journal: takes, stages, verdicts with what stood around them, gestures.

use crate::support::practice::heard::listen;
use crate::support::practice::*;
use underfoot::daemon::feed::Feed;
use underfoot::foot::Action;
use underfoot::journal::Entry;
use underfoot::practice::EventKind;

const THIRDS: &str = "title = 'Thirds'\n[[stage]]\nname = 'thirds'\ndegrees = ['3']\nplaces = ['2&']\nposition = 5\n\
    cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 2 }\nhelp = { voice = 'off' }\n";

/// An entry in words.
fn told(entry: &Entry) -> String {
    match entry {
        Entry::Begin(begin) => format!("{} plays {} by {}", begin.player, begin.chart, begin.drill),
        Entry::Stage { name, .. } => format!("stage {name}"),
        Entry::Verdict(v) => format!(
            "{} over {} {} in {}, {}, {}, {:.0}: {} {}",
            v.degree, v.root, v.quality, v.key, v.place, v.region, v.tempo_qpm, v.result, v.timing
        ),
        Entry::Choice(choice) => format!("{} notes: {}", choice.notes, choice.degrees),
        Entry::Act(act) => format!("{} on {}: {}", act.gesture, act.switch, act.action),
        Entry::End { .. } => "end".into(),
    }
}

#[test]
fn a_take_is_told_with_what_stood_around_each_note() {
    let mut room = Room::new(library(&[CHART], THIRDS), settings(2));
    room.handle(EventKind::Act(Action::Start));
    // The thirds of C, D, E and F on 2&, the second one wrong, the last one missed.
    listen(&mut room, 19.0, &[(1.5, 52), (5.5, 54), (9.5, 55)]);
    room.handle(EventKind::Act(Action::Stop));
    let mut entries = Vec::new();
    let mut feed = Feed::new("Ada");
    for record in &room.records {
        feed.take_in(record, &room.core, 0, |entry| entries.push(told(&entry)));
    }
    let expected = [
        "Ada plays Plain by Thirds",
        "stage thirds",
        "3 over C major 7 in C major, 2&, position 5, 240: right in time",
        "b3 over D minor 7 in C major, 2&, position 5, 240: wrong in time",
        "b3 over E minor 7 in C major, 2&, position 5, 240: right in time",
        "3 over F major 7 in C major, 2&, position 5, 240: missed ",
        "end",
    ];
    let without_acts: Vec<&String> = entries
        .iter()
        .filter(|line| !line.contains(" on "))
        .collect();
    assert_eq!(without_acts, expected);
}
