//! Names come in the first pass; what was missed when the stage was first played is named again in the pass after it;
//! then the voice is silent. Common practice of teachers, no source.

use crate::support::practice::heard::listen;
use crate::support::practice::*;
use underfoot::practice::{EventKind, Recorded};

const C: u8 = 48;
const D: u8 = 50;
const E: u8 = 52;
const F: u8 = 53;

/// Listen, play three times, four bars each, with a breath of so many bars.
fn drill(breathe_bars: u32, more: &str) -> String {
    format!(
        "title = 'x'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\nplaces = ['1']\n{more}\n\
         cycle = {{ listen = 1, sing = 0, play = 1, breathe_bars = {breathe_bars} }}\n"
    )
}

/// What is named from a quarter on, calls and words that found no room left out.
fn named_from(room: &Room, quarter: f64) -> Vec<String> {
    let words = room.records.iter().filter_map(|record| match &record.what {
        Recorded::Say {
            text,
            end: Some(_),
            index: Some(_),
            ..
        } => {
            let at = record.tick?.quarters();
            (at >= quarter).then(|| format!("{at:.0} {text}"))
        }
        _ => None,
    });
    words.collect()
}

#[test]
fn what_was_missed_is_named_once_more() {
    let slow = CHART.replace("tempo = 240", "tempo = 80");
    let all = &[(16.0, C), (20.0, D), (24.0, E), (28.0, F)][..];
    let two = &[(16.0, C), (20.5, D), (24.0, E), (28.0, E)][..];
    let first = &[(20.0, D), (24.0, E), (28.0, F)][..];
    // The breath, what is played from 16 on, and what is said then (the bar before the chord that it names).
    #[rustfmt::skip]
    let cases = [
        ("all was right",                   0, "",                           all,   &[][..]),
        ("a late one and a wrong one",      0, "",                           two,   &["34 D", "42 F"]),
        ("the first: it is known too late", 0, "",                           first, &[]),
        ("in a breath there is time",       1, "",                           first, &["33 C"]),
        ("nothing was heard",               0, "",                           &[],   &[]),
        ("the stage says nothing",          0, "help = { voice = 'off' }",   two,   &[]),
        ("names fade at once",              0, "fade = [{ voice = 'off' }]", two,   &[]),
    ];
    for (what, breath, more, played, wanted) in cases {
        let drill = drill(breath, more);
        let mut room = Room::new(library(&[&slow], &drill), settings(2));
        room.handle(EventKind::Act(underfoot::foot::Action::Start));
        listen(&mut room, 84.0, played);
        assert_eq!(named_from(&room, 31.5), wanted, "{what}");
    }
}
