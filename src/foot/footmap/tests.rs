//! The standard maps, the rules, and what the user writes.

use crate::fault::{Reader, Source, TableView};
use crate::foot::footmap::*;
use crate::foot::gesture::Polarity;

#[test]
fn the_standard_maps_say_what_the_manual_says() {
    // Our own table; the use of one, two and four switches is common practice, no source.
    let cases = [
        (1, "stopped", "1 press: start, 1 hold: menu"),
        (1, "counting_in", "1 press: tap tempo, 1 hold: menu"),
        (
            1,
            "playing",
            "1 tap: next stage, 1 double: stay here, 1 hold: stop",
        ),
        (1, "menu", "1 tap: menu move, 1 hold: menu take"),
        (2, "stopped", "1 press: start, 2 hold: menu"),
        (2, "counting_in", "1 press: tap tempo, 2 hold: menu"),
        (
            2,
            "playing",
            "1 tap: stay here, 1 hold: stop, 2 tap: next stage, 2 hold: next section",
        ),
        (3, "stopped", "1 press: start, 2 hold: menu"),
        (
            4,
            "stopped",
            "1 press: start, 2 tap: previous stage, 3 tap: next stage, 3 hold: next section, 4 tap: next key, 4 hold: menu",
        ),
        (4, "counting_in", "1 hold: stop, 4 press: tap tempo"),
        (
            4,
            "playing",
            "1 tap: stay here, 1 hold: stop, 2 tap: previous stage, 2 hold: listen back, 3 tap: next stage, 3 hold: next section, \
             4 press: tap tempo",
        ),
    ];
    for (switches, key, told) in cases {
        let map = FootMap::standard(switches);
        let lines: Vec<String> = map
            .bindings()
            .iter()
            .filter(|b| b.state.key() == key)
            .map(|b| format!("{} {}: {}", b.switch, b.kind.name(), b.action))
            .collect();
        assert_eq!(lines.join(", "), told, "{switches} {key}");
    }
}

#[test]
fn the_standard_maps_keep_the_rules() {
    for count in 0..=8 {
        let switches = vec![SwitchSettings::default(); count];
        assert_eq!(FootMap::standard(count).check(&switches), [], "{count}");
    }
}

#[test]
fn a_latching_switch_says_what_is_out_of_reach() {
    let latching = SwitchSettings {
        kind: SwitchKind::Latching,
        ..SwitchSettings::default()
    };
    let findings = FootMap::standard(1).check(&[latching]);
    let told: Vec<&str> = findings.iter().map(|f| f.text.as_str()).collect();
    assert_eq!(
        told,
        [
            "switch 1 is latching and has no hold: \"menu\" is out of reach while stopped",
            "switch 1 is latching and has no hold: \"menu\" is out of reach while counting in",
            "switch 1 is latching and has no double: \"stay here\" is out of reach while playing",
            "switch 1 is latching and has no hold: \"stop\" is out of reach while playing",
            "switch 1 is latching and has no hold: \"menu take\" is out of reach in the menu",
        ]
    );
    assert!(findings.iter().all(|finding| !finding.fault));
}

fn read(text: &str, count: usize) -> (FootMap, Vec<String>) {
    let source = Source {
        name: "u.toml",
        text,
    };
    let reader = Reader::new(&source);
    let table = reader.parse();
    let view = TableView::new(&reader, table.get_ref(), 0..0);
    let (map, _) = read_map(&reader, &view, &vec![SwitchSettings::default(); count]);
    let faults = match reader.conclude(Some(())) {
        Ok(()) => Vec::new(),
        Err(faults) => faults.0.iter().map(ToString::to_string).collect(),
    };
    (map, faults)
}

#[test]
fn the_user_changes_the_map() {
    let text = "[playing]\n\"1 double\" = \"this spot\"\n\"1 hold\" = \"nothing\"\n";
    let (map, faults) = read(text, 1);
    assert_eq!(faults, [""; 0]);
    let of = |kind| map.lookup(FootState::Playing, 1, kind);
    assert_eq!(of(GestureKind::Tap), Some(Action::NextStage));
    assert_eq!(of(GestureKind::Double), Some(Action::ThisSpot));
    assert_eq!(of(GestureKind::Hold), None);
    let kinds = map.kinds(FootState::Playing, 1);
    let has: Vec<bool> = GestureKind::ALL.map(|kind| kinds.has(kind)).to_vec();
    assert_eq!(has, [false, true, true, false]);
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
            "[playing]\n\"2 double\" = \"this spot\"\n",
            "u.toml:2:14: \"this spot\" is reached by a double alone while playing: give it another gesture too",
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
    let switch = read_switch(&TableView::new(&reader, table.get_ref(), 0..0));
    assert_eq!(switch.kind, SwitchKind::Latching);
    assert_eq!(switch.polarity, Polarity::NormallyClosed);
    assert_eq!((switch.hold_ms, switch.double_ms), (900.0, 300.0));
    let faults = reader.conclude(Some(())).unwrap_err().to_string();
    assert_eq!(
        faults,
        "u.toml:4:13: double_ms is 900, but must lie between 150 and 600 ms"
    );
}
