//! The user's own map and switches, read from the configuration.

use crate::fault::{Reader, TableView, nearest_hint};
use crate::foot::action::Action;
use crate::foot::footmap::{FootMap, FootState};
use crate::foot::kinds::GestureKind;
use crate::pedal::SWITCHES;

/// The keys of a state's table. Static, because a table remembers the keys that it was asked for.
const KEYS: [[&str; 6]; SWITCHES] = [
    [
        "1 press", "1 tap", "1 double", "1 hold", "1 triple", "1 long",
    ],
    [
        "2 press", "2 tap", "2 double", "2 hold", "2 triple", "2 long",
    ],
    [
        "3 press", "3 tap", "3 double", "3 hold", "3 triple", "3 long",
    ],
    [
        "4 press", "4 tap", "4 double", "4 hold", "4 triple", "4 long",
    ],
    [
        "5 press", "5 tap", "5 double", "5 hold", "5 triple", "5 long",
    ],
    [
        "6 press", "6 tap", "6 double", "6 hold", "6 triple", "6 long",
    ],
    [
        "7 press", "7 tap", "7 double", "7 hold", "7 triple", "7 long",
    ],
    [
        "8 press", "8 tap", "8 double", "8 hold", "8 triple", "8 long",
    ],
];

/// The word that takes an action off a gesture.
const NOTHING: &str = "nothing";

/// Reads the user's changes to the standard map for so many switches: a table with the tables `stopped`,
/// `counting_in`, `playing`, `menu`, each with lines such as `"1 tap" = "next stage"`, or `"nothing"`.
/// Faults, the broken rules among them, go to the view's reader.
pub fn read_map(view: &TableView<'_, '_>, switches: usize) -> FootMap {
    let reader = view.reader;
    let mut map = FootMap::standard(switches);
    let mut written = Vec::new();
    for state in FootState::ALL {
        let Some(table) = view.table(state.key()) else {
            continue;
        };
        for (row, switch) in KEYS.iter().take(switches).zip(1u8..) {
            for (key, kind) in row.iter().zip(GestureKind::ALL) {
                let Some(text) = table.string(key) else {
                    continue;
                };
                if let Some(action) = read_action(reader, text.value, text.span.start) {
                    map.bind(state, switch, kind, action);
                    written.push((state, switch, kind, text.span.start));
                }
            }
        }
        table.finish();
    }
    view.finish();
    for (broken, rule) in map.broken_rules() {
        // The line that wrote it, or any line about the same switch: the rule is broken by both together.
        let near = |(state, switch, kind, at): &(FootState, u8, GestureKind, usize)| {
            let same = (*state, *switch) == (broken.state, broken.switch);
            same.then_some((*kind != broken.kind, *at))
        };
        let place = written.iter().filter_map(near).min();
        reader.fault(place.map_or(0, |(_, at)| at), rule);
    }
    map
}

/// The action of a word; none in it: the gesture asks for nothing. `None` where it is no action, which is told.
fn read_action(reader: &Reader<'_>, word: &str, at: usize) -> Option<Option<Action>> {
    if word == NOTHING {
        return Some(None);
    }
    match word.parse() {
        Ok(action) => Some(Some(action)),
        Err(_) => {
            let known = Action::ALL.iter().map(|(_, name, _)| *name);
            let hint = nearest_hint(word, known.chain([NOTHING]));
            reader.fault(at, format!("\"{word}\" is no action{hint}"));
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;
    use crate::foot::kinds::{Polarity, SwitchKind, SwitchSettings};

    fn read(text: &str, count: usize) -> (FootMap, Vec<String>) {
        let source = Source {
            name: "u.toml",
            text,
        };
        let reader = Reader::new(&source);
        let table = reader.parse();
        let view = TableView::new(&reader, table.get_ref(), 0..0);
        let map = read_map(&view, count);
        let faults = match reader.conclude(Some(())) {
            Ok(()) => Vec::new(),
            Err(faults) => faults.0.iter().map(ToString::to_string).collect(),
        };
        (map, faults)
    }

    #[test]
    fn the_user_changes_the_map() {
        let text = "[playing]\n\"1 double\" = \"loop here\"\n\"1 hold\" = \"nothing\"\n";
        let (map, faults) = read(text, 1);
        assert_eq!(faults, [""; 0]);
        let of = |kind| map.lookup(FootState::Playing, 1, kind);
        assert_eq!(of(GestureKind::Tap), Some(Action::NextStage));
        assert_eq!(of(GestureKind::Double), Some(Action::ThisSpot));
        assert_eq!(of(GestureKind::Hold), None);
        let kinds = map.kinds(FootState::Playing, 1);
        let has: Vec<bool> = GestureKind::ALL.map(|kind| kinds.has(kind)).to_vec();
        assert_eq!(has, [false, true, true, false, true, false]);
    }

    #[test]
    fn what_breaks_a_rule_is_told_with_its_line() {
        let cases = [
            (
                "[playing]\n\"1 tap\" = \"next stge\"\n",
                "u.toml:2:11: \"next stge\" is no action (nearest: \"next stage\")",
            ),
            (
                "[playing]\n\"3 tap\" = \"stop\"\n",
                "u.toml:2:1: unknown key \"3 tap\" (nearest: \"2 tap\")",
            ),
            ("[paused]\n", "u.toml:1:2: unknown key \"paused\""),
            (
                "[playing]\n\"2 hold\" = \"tap tempo\"\n",
                "u.toml:2:12: \"tap tempo\" counts by its press edge: it must be on \"2 press\" while playing, not on \
                 \"2 hold\"",
            ),
            (
                "[stopped]\n\"1 hold\" = \"menu\"\n",
                "u.toml:2:12: \"start\" counts by its press edge: switch 1 must have no hold while stopped",
            ),
            (
                "[playing]\n\"2 long\" = \"say again\"\n",
                "u.toml:2:12: a long press is one where nothing plays: \"2 long\" means nothing while playing",
            ),
            (
                "[playing]\n\"2 double\" = \"loop here\"\n",
                "u.toml:2:14: \"loop here\" is reached by a double alone while playing: give it another gesture too",
            ),
        ];
        for (text, told) in cases {
            let (_, faults) = read(text, 2);
            assert!(
                faults.len() == 1 && faults[0].starts_with(told),
                "{text}: {faults:?}"
            );
        }
        let (_, faults) = read("[playing]\n\"1 press\" = \"tap tempo\"\n", 1);
        assert_eq!(faults, [""; 0], "one switch may wait");
    }

    #[test]
    fn a_switch_is_read_with_its_ranges() {
        let text =
            "kind = \"latching\"\npolarity = \"normally closed\"\nhold_ms = 900\ndouble_ms = 900\n";
        let source = Source {
            name: "u.toml",
            text,
        };
        let reader = Reader::new(&source);
        let table = reader.parse();
        let view = TableView::new(&reader, table.get_ref(), 0..0);
        let switch = SwitchSettings::default().over(&view);
        assert_eq!(switch.kind, SwitchKind::Latching);
        assert_eq!(switch.polarity, Polarity::NormallyClosed);
        assert_eq!((switch.hold_ms, switch.double_ms), (900.0, 300.0));
        let faults = reader.conclude(Some(())).unwrap_err().to_string();
        assert_eq!(
            faults,
            "u.toml:4:13: double_ms is 900, but must lie between 150 and 600 ms"
        );
    }
}
