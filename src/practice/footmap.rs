//! Which gesture asks for which action: the maps for one, two and four switches, and the user's own.
//!
//! One switch has to carry everything, so its gestures wait for each other; the end of the section hides that.
//! With two and more it need not be so, and [`FootMap::check`] insists: what counts by its press edge sits on a
//! press with no double and no hold beside it, and nothing is reached by a double alone.

use super::action::Action;
use super::gesture::{GestureKind, Kinds, Polarity, SwitchKind, SwitchSettings};
use crate::fault::{Reader, TableView, nearest_hint};
use crate::pedal::SWITCHES;

/// What the box is doing, as far as the foot is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FootState {
    /// Nothing plays.
    Stopped,
    /// The count before the first bar.
    CountingIn,
    /// The band plays.
    Playing,
    /// The foot menu is open.
    Menu,
}

impl FootState {
    /// Every state.
    pub const ALL: [FootState; 4] = [
        FootState::Stopped,
        FootState::CountingIn,
        FootState::Playing,
        FootState::Menu,
    ];

    /// The key of its table in the configuration.
    pub fn key(self) -> &'static str {
        match self {
            FootState::Stopped => "stopped",
            FootState::CountingIn => "counting_in",
            FootState::Playing => "playing",
            FootState::Menu => "menu",
        }
    }

    fn told(self) -> &'static str {
        match self {
            FootState::Stopped => "while stopped",
            FootState::CountingIn => "while counting in",
            FootState::Playing => "while playing",
            FootState::Menu => "in the menu",
        }
    }
}

/// One gesture on one switch in one state, and what it asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Binding {
    /// In which state.
    pub state: FootState,
    /// Which switch, from 1.
    pub switch: u8,
    /// Which gesture.
    pub kind: GestureKind,
    /// What it asks for.
    pub action: Action,
}

/// What [`FootMap::check`] found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Whether the map must not be used; otherwise it is a caution.
    pub fault: bool,
    /// The binding it is about.
    pub binding: Binding,
    /// What is the matter.
    pub text: String,
}

/// The map from gestures to actions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FootMap {
    switches: u8,
    bindings: Vec<Binding>,
}

/// A line of a standard map: the switch, the gesture, and the action in a state.
type Line = (FootState, u8, GestureKind, Action);

const ONE: &[Line] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 1, Hold, MenuOpen),
        // The press that starts is the same one that opens the menu when it is held: by then the count runs.
        (CountingIn, 1, Press, TapTempo),
        (CountingIn, 1, Hold, MenuOpen),
        (Playing, 1, Tap, NextStage),
        (Playing, 1, Double, StayHere),
        (Playing, 1, Hold, Stop),
        (Menu, 1, Tap, MenuMove),
        (Menu, 1, Hold, MenuTake),
    ]
};

const TWO: &[Line] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 2, Hold, MenuOpen),
        (CountingIn, 1, Press, TapTempo),
        (CountingIn, 2, Hold, MenuOpen),
        (Playing, 1, Tap, StayHere),
        (Playing, 1, Hold, Stop),
        (Playing, 2, Tap, NextStage),
        (Playing, 2, Hold, NextSection),
        (Menu, 1, Tap, MenuLeave),
        (Menu, 2, Tap, MenuMove),
        (Menu, 2, Hold, MenuTake),
    ]
};

const FOUR: &[Line] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 4, Tap, NextKey),
        (CountingIn, 1, Hold, Stop),
        (CountingIn, 4, Press, TapTempo),
        (Playing, 1, Hold, Stop),
        (Playing, 2, Tap, PreviousStage),
        (Playing, 2, Hold, ListenBack),
        (Playing, 3, Tap, NextStage),
        (Playing, 3, Hold, NextSection),
        (Playing, 4, Press, TapTempo),
        (Menu, 1, Tap, MenuLeave),
        (Menu, 3, Tap, MenuMove),
        (Menu, 3, Hold, MenuTake),
    ]
};

impl FootMap {
    /// The map for so many switches: one, two (three is two and a spare one), four (and spare ones).
    pub fn standard(switches: usize) -> FootMap {
        let lines = match switches {
            0 => &[],
            1 => ONE,
            2 | 3 => TWO,
            _ => FOUR,
        };
        let bindings = lines.iter().map(|&(state, switch, kind, action)| Binding {
            state,
            switch,
            kind,
            action,
        });
        FootMap {
            switches: switches.min(SWITCHES) as u8,
            bindings: bindings.collect(),
        }
    }

    /// Sets what a gesture asks for; `None`: nothing.
    pub fn bind(
        &mut self,
        state: FootState,
        switch: u8,
        kind: GestureKind,
        action: Option<Action>,
    ) {
        self.bindings
            .retain(|b| (b.state, b.switch, b.kind) != (state, switch, kind));
        self.bindings.extend(action.map(|action| Binding {
            state,
            switch,
            kind,
            action,
        }));
    }

    /// All bindings.
    pub fn bindings(&self) -> &[Binding] {
        &self.bindings
    }

    /// What a gesture asks for.
    pub fn lookup(&self, state: FootState, switch: u8, kind: GestureKind) -> Option<Action> {
        let found = self
            .bindings
            .iter()
            .find(|b| (b.state, b.switch, b.kind) == (state, switch, kind));
        found.map(|binding| binding.action)
    }

    /// Which gestures of a switch mean something: what the gesture engine has to wait for.
    pub fn kinds(&self, state: FootState, switch: u8) -> Kinds {
        let of_switch = |b: &&Binding| b.state == state && b.switch == switch;
        self.bindings
            .iter()
            .filter(of_switch)
            .map(|b| b.kind)
            .collect()
    }

    /// What is wrong with the map on these switches, and what a latching one puts out of reach.
    pub fn check(&self, switches: &[SwitchSettings]) -> Vec<Finding> {
        let mut findings = Vec::new();
        for binding in &self.bindings {
            if let Some(text) = self.broken_rule(binding) {
                findings.push(Finding {
                    fault: true,
                    binding: *binding,
                    text,
                });
            }
            let reachable = |other: &Binding| {
                let kind = switches
                    .get(usize::from(other.switch) - 1)
                    .map(|switch| switch.kind);
                let waits = matches!(other.kind, GestureKind::Double | GestureKind::Hold);
                !(kind == Some(SwitchKind::Latching) && waits)
            };
            let elsewhere = |other: &Binding| {
                (other.state, other.action) == (binding.state, binding.action) && reachable(other)
            };
            if !reachable(binding) && !self.bindings.iter().any(elsewhere) {
                findings.push(Finding {
                    fault: false,
                    binding: *binding,
                    text: format!(
                        "switch {} is latching and has no {}: \"{}\" is out of reach {}",
                        binding.switch,
                        binding.kind.name(),
                        binding.action,
                        binding.state.told()
                    ),
                });
            }
        }
        findings
    }

    /// The rules for maps of two switches and more.
    fn broken_rule(&self, binding: &Binding) -> Option<String> {
        if self.switches < 2 {
            return None;
        }
        let (action, switch, told) = (binding.action, binding.switch, binding.state.told());
        let kinds = self.kinds(binding.state, switch);
        if action.needs_the_edge() && binding.kind != GestureKind::Press {
            return Some(format!(
                "\"{action}\" counts by its press edge: it must be on \"{switch} press\" {told}, not on \"{switch} {}\"",
                binding.kind.name()
            ));
        }
        let waiting = [GestureKind::Double, GestureKind::Hold]
            .into_iter()
            .find(|kind| kinds.has(*kind));
        if let Some(kind) = waiting.filter(|_| action.needs_the_edge()) {
            return Some(format!(
                "\"{action}\" counts by its press edge: switch {switch} must have no {} {told}",
                kind.name()
            ));
        }
        let otherwise = |other: &Binding| {
            (other.state, other.action) == (binding.state, action)
                && other.kind != GestureKind::Double
        };
        (binding.kind == GestureKind::Double && !self.bindings.iter().any(otherwise)).then(|| {
            format!("\"{action}\" is reached by a double alone {told}: give it another gesture too")
        })
    }
}

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;

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
            (4, "stopped", "1 press: start, 4 tap: next key"),
            (4, "counting_in", "1 hold: stop, 4 press: tap tempo"),
            (
                4,
                "playing",
                "1 hold: stop, 2 tap: previous stage, 2 hold: listen back, 3 tap: next stage, 3 hold: next section, \
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
}
