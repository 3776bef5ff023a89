//! The standard maps for one, two and four switches (common practice, no source).
//!
//! # Why is the menu three quick taps while the band plays?
//!
//! A hold stops, and must stop after 0.7 s. A tap and a hold together would stop the band when it was too slow; a triple that
//! was too slow arms a stage or calls one off, which is shown and can be taken back. It stands on the switch of "next stage",
//! whose tap waits for the section's end anyway; the switches beside it wait for nothing.
//!
//! # Why does a long press tell how it is, and not a hold?
//!
//! With one switch every shorter gesture is taken: the press starts, and the hold that opens the menu is the way to everything
//! else. With two a hold on the first would make a foot that rests on the switch it has just started with stop the count. A foot that
//! stays on the switch that opened the menu means neither: what is wanted is said, and the menu is left.

use crate::foot::action::Action;
use crate::foot::footmap::{FootMap, FootState};
use crate::foot::kinds::GestureKind;
use crate::pedal::SWITCHES;

impl FootMap {
    /// The map for so many switches: one, two (three is two and a spare one), four (and spare ones).
    pub fn standard(switches: usize) -> FootMap {
        let lines = match switches {
            0 => &[],
            1 => ONE,
            2 | 3 => TWO,
            _ => FOUR,
        };
        let mut map = FootMap::empty(switches.min(SWITCHES));
        for &(state, switch, kind, action) in lines {
            map.bind(state, switch, kind, Some(action));
        }
        map
    }
}

/// A line of a standard map: the switch, the gesture, and the action in a state.
type StandardLine = (FootState, u8, GestureKind, Action);

const ONE: &[StandardLine] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 1, Hold, MenuOpen),
        (Stopped, 1, Long, SayAgain),
        // The press that starts is the same one that opens the menu when it is held: by then the count runs.
        (CountingIn, 1, Press, TapTempo),
        (CountingIn, 1, Hold, MenuOpen),
        (Playing, 1, Tap, NextStage),
        (Playing, 1, Double, StayHere),
        (Playing, 1, Hold, Stop),
        (Playing, 1, Triple, MenuOpen),
        (Menu, 1, Tap, MenuMove),
        (Menu, 1, Hold, MenuTake),
    ]
};

const TWO: &[StandardLine] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 2, Hold, MenuOpen),
        (Stopped, 2, Long, SayAgain),
        (CountingIn, 1, Press, TapTempo),
        (CountingIn, 2, Hold, MenuOpen),
        (Playing, 1, Tap, StayHere),
        (Playing, 1, Hold, Stop),
        (Playing, 2, Tap, NextStage),
        (Playing, 2, Hold, NextSection),
        (Playing, 2, Triple, MenuOpen),
        (Menu, 1, Tap, MenuLeave),
        (Menu, 2, Tap, MenuMove),
        (Menu, 2, Hold, MenuTake),
    ]
};

const FOUR: &[StandardLine] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 2, Tap, PreviousStage),
        (Stopped, 2, Hold, SayAgain),
        (Stopped, 3, Tap, NextStage),
        (Stopped, 3, Hold, NextSection),
        (Stopped, 4, Tap, NextKey),
        (Stopped, 4, Hold, MenuOpen),
        (CountingIn, 1, Hold, Stop),
        (CountingIn, 3, Hold, MenuOpen),
        (CountingIn, 4, Press, TapTempo),
        (Playing, 1, Tap, StayHere),
        (Playing, 1, Hold, Stop),
        (Playing, 2, Tap, PreviousStage),
        (Playing, 2, Hold, ListenBack),
        (Playing, 3, Tap, NextStage),
        (Playing, 3, Hold, NextSection),
        (Playing, 3, Triple, MenuOpen),
        (Playing, 4, Press, TapTempo),
        (Menu, 1, Tap, MenuLeave),
        (Menu, 3, Tap, MenuMove),
        (Menu, 3, Hold, MenuTake),
    ]
};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::foot::kinds::{SwitchKind, SwitchSettings};

    #[test]
    fn the_standard_maps_say_what_the_manual_says() {
        // Our own table; the use of one, two and four switches is common practice, no source.
        let cases = [
            (
                1,
                "stopped",
                "1 press: start, 1 hold: menu, 1 long: say again",
            ),
            (1, "counting_in", "1 press: tap tempo, 1 hold: menu"),
            (
                1,
                "playing",
                "1 tap: next stage, 1 double: stay here, 1 hold: stop, 1 triple: menu",
            ),
            (1, "menu", "1 tap: menu move, 1 hold: choose"),
            (
                2,
                "stopped",
                "1 press: start, 2 hold: menu, 2 long: say again",
            ),
            (2, "counting_in", "1 press: tap tempo, 2 hold: menu"),
            (
                2,
                "playing",
                "1 tap: stay here, 1 hold: stop, 2 tap: next stage, 2 hold: next section, 2 triple: menu",
            ),
            (
                3,
                "stopped",
                "1 press: start, 2 hold: menu, 2 long: say again",
            ),
            (
                4,
                "stopped",
                "1 press: start, 2 tap: previous stage, 2 hold: say again, 3 tap: next stage, 3 hold: next section, 4 tap: next key, 4 hold: menu",
            ),
            (
                4,
                "counting_in",
                "1 hold: stop, 3 hold: menu, 4 press: tap tempo",
            ),
            (
                4,
                "playing",
                "1 tap: stay here, 1 hold: stop, 2 tap: previous stage, 2 hold: listen chorus, 3 tap: next stage, 3 hold: next section, \
             3 triple: menu, 4 press: tap tempo",
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
            let map = FootMap::standard(count);
            assert_eq!(map.broken_rules(), [], "{count}");
            let told = if count == 0 { 2 } else { 0 };
            assert_eq!(map.cautions(&switches).len(), told, "{count}");
        }
    }

    #[test]
    fn a_latching_switch_says_what_is_out_of_reach() {
        let latching = SwitchSettings {
            kind: SwitchKind::Latching,
            ..SwitchSettings::default()
        };
        assert_eq!(
            FootMap::standard(1).cautions(&[latching]),
            [
                "switch 1 is latching and has no hold: \"menu\" is out of reach while stopped",
                "switch 1 is latching and has no long: \"say again\" is out of reach while stopped",
                "switch 1 is latching and has no hold: \"menu\" is out of reach while counting in",
                "switch 1 is latching and has no double: \"stay here\" is out of reach while playing",
                "switch 1 is latching and has no hold: \"stop\" is out of reach while playing",
                "switch 1 is latching and has no triple: \"menu\" is out of reach while playing",
                "switch 1 is latching and has no hold: \"choose\" is out of reach in the menu",
                "32 actions are out of reach while stopped (\"next stage\", \"previous stage\" and so on): the menu has them",
                "32 actions are out of reach while counting in (\"stop\", \"next stage\" and so on): the menu has them",
                "36 actions are out of reach while playing (\"stop\", \"previous stage\" and so on): the menu has them",
            ]
        );
    }
}
