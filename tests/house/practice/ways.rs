//! From every state to every action that makes sense there: the ways that README tells, walked by foot in virtual time.
//! Which action makes sense when is common practice, no source.

use super::actions::{gesture, in_state};
use crate::support::practice::*;
use std::fs;
use underfoot::foot::{Action, FootMap, FootState, GestureKind, IDLE_S, MOST_TAPS, Way};
use underfoot::practice::Recorded;

const MAPS: [(usize, &str); 3] = [(1, "one"), (2, "two"), (4, "four")];
const STATES: [FootState; 3] = [
    FootState::Stopped,
    FootState::CountingIn,
    FootState::Playing,
];

fn useful(state: FootState) -> impl Iterator<Item = Action> {
    let all = Action::ALL.iter().map(|(action, _, _)| *action);
    all.filter(move |action| state.has_use_for(*action))
}

/// The last action that the foot's line tells of.
fn told(room: &Room, from: usize) -> Option<Action> {
    let actions = room.records[from..].iter().rev();
    let mut actions = actions.filter_map(|record| match &record.what {
        Recorded::Foot { action, .. } => action.map(|(action, ..)| action),
        _ => None,
    });
    actions.next()
}

/// Walks a way and tells what was asked for in the end.
fn walked(room: &mut Room, way: &Way) -> Option<Action> {
    let from = room.records.len();
    for (switch, kind) in &way.gestures {
        room.play(&gesture(*switch, *kind));
    }
    if way.then_pressed {
        room.play(&gesture(1, GestureKind::Press));
    }
    told(room, from)
}

#[test]
fn every_action_is_reached_from_every_state_with_one_two_and_four_switches() {
    let mut walks = 0;
    for (switches, _) in MAPS {
        let map = FootMap::standard(switches);
        for state in STATES {
            for action in useful(state) {
                let way = map.way(state, action);
                let way = way.unwrap_or_else(|| panic!("{switches}: no way to {action} {state:?}"));
                let taps = way.taps.clone().unwrap_or_default();
                assert!(
                    taps.iter().sum::<usize>() <= MOST_TAPS,
                    "{action}: {taps:?}"
                );
                let mut room = in_state(switches, state);
                let reached = walked(&mut room, &way);
                let dies = (state, action) == (FootState::CountingIn, Action::Stop);
                let asked = match dies && reached == Some(Action::MenuOpen) {
                    true => Action::MenuOpen,
                    false => action,
                };
                assert_eq!(reached, Some(asked), "{switches} {state:?}: {way:?}");
                if dies {
                    room.seconds(0.1);
                    assert_eq!(room.core.status().bar, None, "the count is dead");
                }
                walks += 1;
            }
        }
    }
    assert!(walks > 250, "{walks}");
}

/// Out of a menu, wherever it stands: on from there by hold and tap, or after it has left by itself.
#[test]
fn every_action_is_reached_out_of_the_menu_too() {
    let map = FootMap::standard(1);
    for state in [FootState::Stopped, FootState::Playing] {
        let opener = map.way(state, Action::MenuOpen).expect("a menu").gestures[0];
        for action in useful(state).filter(|action| *action != Action::MenuOpen) {
            let way = map.way(state, action).expect("a way");
            let mut room = in_state(1, state);
            room.play(&gesture(opener.0, opener.1));
            assert_eq!(room.core.foot_state(), FootState::Menu);
            let way = match way.taps {
                Some(_) => Way {
                    gestures: way.gestures[1..].to_vec(),
                    ..way
                },
                None => {
                    room.seconds(IDLE_S as f64);
                    assert_eq!(room.core.foot_state(), state, "it left");
                    way
                }
            };
            assert_eq!(walked(&mut room, &way), Some(action), "{state:?}");
        }
    }
}

/// What the gestures ask for in a state, as the table has it.
fn gestures(switches: usize, state: FootState) -> String {
    let map = FootMap::standard(switches);
    let of_switch = |switch: u8| {
        let bound = map.bindings().iter();
        let bound = bound.filter(|b| b.state == state && b.switch == switch);
        let told: Vec<String> = bound
            .map(|b| format!("{}: {}", b.kind.name(), b.action))
            .collect();
        let number = match switches {
            1 => String::new(),
            _ => format!("{switch} "),
        };
        (!told.is_empty()).then(|| number + &told.join(", "))
    };
    let all: Vec<String> = (1..=switches as u8).filter_map(of_switch).collect();
    all.join("; ")
}

/// The way to an action with so many switches, as the table has it: a gesture, or the taps before each hold.
fn told_way(switches: usize, state: FootState, action: Action) -> String {
    let way = FootMap::standard(switches).way(state, action);
    let way = way.expect("a way");
    match &way.taps {
        Some(taps) => {
            let taps: Vec<String> = taps.iter().map(ToString::to_string).collect();
            let press = if way.then_pressed { " press" } else { "" };
            format!("{}{press}", taps.join(" "))
        }
        None => {
            let (switch, kind) = way.gestures[0];
            let number = match switches {
                1 => String::new(),
                _ => format!("{switch} "),
            };
            number + kind.name()
        }
    }
}

/// One, two and four switches in one cell; the same is written once.
fn cell(state: FootState, action: Action) -> String {
    if !state.has_use_for(action) {
        return String::new();
    }
    let [one, two, four] = MAPS.map(|(switches, _)| told_way(switches, state, action));
    match (one == two, two == four) {
        (true, true) => one,
        (true, false) => format!("{one}; four: {four}"),
        (false, true) => format!("{one}; two, four: {two}"),
        (false, false) => format!("{one}; two: {two}; four: {four}"),
    }
}

fn table() -> String {
    let mut lines = vec![
        "| | one switch | two switches | four switches |".to_string(),
        "| --- | --- | --- | --- |".to_string(),
    ];
    for state in FootState::ALL {
        let cells = MAPS.map(|(switches, _)| gestures(switches, state));
        let name = state.key().replace('_', " ");
        lines.push(format!("| {name} | {} |", cells.join(" | ")));
    }
    lines.extend([
        String::new(),
        "| to | stopped | counting in | playing |".to_string(),
        "| --- | --- | --- | --- |".to_string(),
    ]);
    for (action, name, _) in Action::ALL {
        if !STATES.iter().any(|state| state.has_use_for(action)) {
            continue;
        }
        let cells = STATES.map(|state| cell(state, action));
        lines.push(format!("| {name} | {} |", cells.join(" | ")));
    }
    lines.join("\n")
}

/// README has the table between two comments; `UNDERFOOT_BLESS=1` writes it.
#[test]
fn the_readme_tells_the_ways() {
    const BEGINS: &str = "<!-- foot table -->\n";
    const ENDS: &str = "\n<!-- end of foot table -->";
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/README.md");
    let readme = fs::read_to_string(path).expect("README.md");
    let (before, rest) = readme.split_once(BEGINS).expect("where the table begins");
    let (written, after) = rest.split_once(ENDS).expect("where the table ends");
    let table = table();
    if std::env::var_os("UNDERFOOT_BLESS").is_some() {
        fs::write(path, format!("{before}{BEGINS}{table}{ENDS}{after}")).expect("README.md");
    } else {
        assert_eq!(written, table, "UNDERFOOT_BLESS=1 writes it anew");
    }
}
