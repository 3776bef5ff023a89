//! What a foot reaches: the way to each action in each state, by a gesture or through the menu.

use crate::foot::action::Action;
use crate::foot::footmap::{Binding, FootMap, FootState};
use crate::foot::kinds::{GestureKind, SwitchKind, SwitchSettings};
use crate::foot::menu::Occasion;

/// The way to an action.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// Gestures one after the other, each on its switch.
    pub gestures: Vec<(u8, GestureKind)>,
    /// Taps before each hold, where the way goes through the menu.
    pub taps: Option<Vec<usize>>,
    /// Whether it is chosen then, and the next press does it.
    pub then_pressed: bool,
}

impl FootState {
    /// Whether an action makes sense in a state. It does not where it would change nothing, and in the menu there is no
    /// other sense than that of the state below it.
    pub fn has_use_for(self, action: Action) -> bool {
        use Action::{
            BarBack, BarOn, Input, LastTime, ListenBack, MenuLeave, MenuMove, MenuTake,
            SectionFromHere, Start, StayHere, Stop, ThisSpot, Tune, Update,
        };
        let is_of_the_menu = matches!(action, MenuLeave | MenuMove | MenuTake);
        let is_of_a_take = matches!(
            action,
            BarBack | BarOn | LastTime | ListenBack | SectionFromHere | StayHere | ThisSpot
        );
        match self {
            FootState::Menu => is_of_the_menu,
            _ if is_of_the_menu => false,
            FootState::Stopped => !is_of_a_take && action != Stop,
            FootState::CountingIn => !is_of_a_take && action != Start,
            // The pages for tuning and of the input stand where nothing plays, and who installs would stop the band.
            FootState::Playing => !matches!(action, Start | Tune | Input | Update),
        }
    }

    /// The menu that opens in it. In the count-in the count dies.
    fn occasion(self) -> Option<Occasion> {
        match self {
            FootState::Stopped | FootState::CountingIn => Some(Occasion::AtRest),
            FootState::Playing => Some(Occasion::WhilePlaying),
            FootState::Menu => None,
        }
    }
}

impl FootMap {
    /// The shortest way to an action: a gesture of its own, or through the menu.
    pub fn way(&self, state: FootState, action: Action) -> Option<Way> {
        let direct = |gesture| Way {
            gestures: vec![gesture],
            taps: None,
            then_pressed: false,
        };
        if let Some(gesture) = self.gesture_for(state, action) {
            return Some(direct(gesture));
        }
        let opener = self.gesture_for(state, Action::MenuOpen)?;
        if (state, action) == (FootState::CountingIn, Action::Stop) {
            // It opens where the count has died.
            return Some(direct(opener));
        }
        let mover = self.gesture_for(FootState::Menu, Action::MenuMove)?;
        let chooser = self.gesture_for(FootState::Menu, Action::MenuTake)?;
        let taps = state.occasion()?.taps_to(action)?;
        let mut gestures = vec![opener];
        for moves in &taps {
            gestures.extend(std::iter::repeat_n(mover, *moves));
            gestures.push(chooser);
        }
        Some(Way {
            gestures,
            taps: Some(taps),
            then_pressed: action.to_be_pressed().is_some(),
        })
    }

    /// The quickest gesture that asks for an action.
    fn gesture_for(&self, state: FootState, action: Action) -> Option<(u8, GestureKind)> {
        let asks = |b: &&Binding| (b.state, b.action) == (state, action);
        let found = self.bindings().iter().filter(asks).min_by_key(|b| b.kind);
        found.map(|binding| (binding.switch, binding.kind))
    }

    /// What the foot cannot do with the map on these switches: a line each.
    pub fn cautions(&self, switches: &[SwitchSettings]) -> Vec<String> {
        let mut cautions = self.out_of_reach(switches);
        let left = self.only(|binding| can_be_made(binding, switches));
        cautions.extend(
            FootState::ALL
                .iter()
                .filter_map(|state| left.out_of_menu(*state)),
        );
        cautions.extend(self.lacks());
        cautions
    }

    /// What a latching switch puts out of reach: it cannot be held and has no double and no triple.
    fn out_of_reach(&self, switches: &[SwitchSettings]) -> Vec<String> {
        let reachable = |binding: &Binding| can_be_made(binding, switches);
        let is_lost = |binding: &&Binding| {
            let same =
                |other: &&Binding| (other.state, other.action) == (binding.state, binding.action);
            !self.bindings().iter().filter(same).any(reachable)
        };
        let told = |binding: &Binding| {
            format!(
                "switch {} is latching and has no {}: \"{}\" is out of reach {}",
                binding.switch,
                binding.kind.name(),
                binding.action,
                binding.state.told()
            )
        };
        self.bindings().iter().filter(is_lost).map(told).collect()
    }

    /// How much is out of reach in a state; with a standard map there is a way to everything.
    fn out_of_menu(&self, state: FootState) -> Option<String> {
        let all = Action::ALL.iter().map(|(action, _, _)| *action);
        let is_lost =
            |action: &Action| state.has_use_for(*action) && self.way(state, *action).is_none();
        let lost: Vec<Action> = all.filter(is_lost).collect();
        let [first, second, ..] = lost[..] else {
            return None;
        };
        let (count, told) = (lost.len(), state.told());
        (self.switches() > 0 && state != FootState::Menu).then(|| {
            format!("{count} actions are out of reach {told} (\"{first}\", \"{second}\" and so on): the menu has them")
        })
    }

    /// Whether nothing starts the band, or nothing stops it.
    fn lacks(&self) -> Vec<String> {
        let has = |state, any: &[Action]| {
            let mut bindings = self.bindings().iter();
            bindings.any(|b| b.state == state && any.contains(&b.action))
        };
        let ways: [(FootState, &[Action], &str); 2] = [
            (FootState::Stopped, &[Action::Start], "starts"),
            (
                FootState::Playing,
                &[Action::Stop, Action::LastTime, Action::Panic],
                "stops",
            ),
        ];
        let lacking = ways.into_iter().filter(|(state, any, _)| !has(*state, any));
        lacking
            .map(|(state, any, what)| {
                let told = state.told();
                format!("no gesture {what} the band {told} (\"{}\")", any[0])
            })
            .collect()
    }
}

/// Whether a switch can make the gesture: a latching one cannot be held and has no double and no triple.
fn can_be_made(binding: &Binding, switches: &[SwitchSettings]) -> bool {
    let switch = switches.get(usize::from(binding.switch) - 1);
    let latches = switch.is_some_and(|switch| switch.kind == SwitchKind::Latching);
    let is_more = matches!(
        binding.kind,
        GestureKind::Double | GestureKind::Hold | GestureKind::Triple | GestureKind::Long
    );
    !(latches && is_more)
}
