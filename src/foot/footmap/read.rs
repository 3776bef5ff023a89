//! The user's own map and switches, read from the configuration.

use crate::fault::{Reader, TableView, nearest_hint};
use crate::foot::action::Action;
use crate::foot::footmap::{Finding, FootMap, FootState};
use crate::foot::gesture::{GestureKind, Polarity, SwitchKind, SwitchSettings};
use crate::pedal::SWITCHES;

/// The keys of a state's table. Static, because a table remembers the keys that it was asked for.
const KEYS: [[&str; 4]; SWITCHES] = [
    ["1 press", "1 tap", "1 double", "1 hold"],
    ["2 press", "2 tap", "2 double", "2 hold"],
    ["3 press", "3 tap", "3 double", "3 hold"],
    ["4 press", "4 tap", "4 double", "4 hold"],
    ["5 press", "5 tap", "5 double", "5 hold"],
    ["6 press", "6 tap", "6 double", "6 hold"],
    ["7 press", "7 tap", "7 double", "7 hold"],
    ["8 press", "8 tap", "8 double", "8 hold"],
];

/// The word that takes an action off a gesture.
const NOTHING: &str = "nothing";

/// Reads the user's changes to the standard map for these switches: a table with the tables `stopped`,
/// `counting_in`, `playing`, `menu`, each with lines such as `"1 tap" = "next stage"`, or `"nothing"`.
/// Faults, the broken rules among them, go to `reader`; cautions come back with the map.
pub fn read_map(
    reader: &Reader<'_>,
    view: &TableView<'_, '_>,
    switches: &[SwitchSettings],
) -> (FootMap, Vec<Finding>) {
    let mut map = FootMap::standard(switches.len());
    let mut written = Vec::new();
    for state in FootState::ALL {
        let Some(table) = view.table(state.key()) else {
            continue;
        };
        for (row, switch) in KEYS.iter().take(switches.len()).zip(1u8..) {
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
    let (faults, cautions): (Vec<_>, Vec<_>) = map
        .check(switches)
        .into_iter()
        .partition(|finding| finding.fault);
    for finding in faults {
        let of = finding.binding;
        // The line that wrote it, or any line about the same switch: the rule is broken by both together.
        let near = |(state, switch, kind, at): &(FootState, u8, GestureKind, usize)| {
            let same = (*state, *switch) == (of.state, of.switch);
            same.then_some((*kind != of.kind, *at))
        };
        let place = written.iter().filter_map(near).min();
        reader.fault(place.map_or(0, |(_, at)| at), finding.text);
    }
    (map, cautions)
}

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

/// Reads one switch: `kind`, `polarity`, `lockout_ms`, `hold_ms`, `double_ms`. The caller may ask the view for
/// more keys and must call its `finish`.
pub fn read_switch(view: &TableView<'_, '_>) -> SwitchSettings {
    let usual = SwitchSettings::default();
    let kinds = [
        ("momentary", SwitchKind::Momentary),
        ("latching", SwitchKind::Latching),
    ];
    let polarities = [
        ("normally open", Polarity::NormallyOpen),
        ("normally closed", Polarity::NormallyClosed),
    ];
    SwitchSettings {
        kind: view.one_of("kind", &kinds).unwrap_or(usual.kind),
        polarity: view
            .one_of("polarity", &polarities)
            .unwrap_or(usual.polarity),
        lockout_ms: view
            .number("lockout_ms", 1.0..=100.0, "ms")
            .unwrap_or(usual.lockout_ms),
        hold_ms: view
            .number("hold_ms", 300.0..=2000.0, "ms")
            .unwrap_or(usual.hold_ms),
        double_ms: view
            .number("double_ms", 150.0..=600.0, "ms")
            .unwrap_or(usual.double_ms),
    }
}
