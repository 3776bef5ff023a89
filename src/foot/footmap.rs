//! Which gesture asks for which action: the map, and the rules that it must keep.
//!
//! One switch has to carry everything, so its gestures wait for each other; the end of the section hides that.
//! With two and more it need not be so, and [`FootMap::broken_rules`] insists: what counts by its press edge sits on a
//! press with no double, no triple and no hold beside it, and nothing but the menu is reached by a double or a triple alone.

use crate::foot::action::Action;
use crate::foot::kinds::{GestureKind, Kinds};

/// What the box is doing, as far as the foot is concerned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FootState {
    Stopped,
    /// The count before the first bar.
    CountingIn,
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

    /// How it is told in a sentence.
    pub(super) fn told(self) -> &'static str {
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
    pub state: FootState,
    /// Which switch, from 1.
    pub switch: u8,
    pub kind: GestureKind,
    /// What it asks for.
    pub action: Action,
}

/// The map from gestures to actions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FootMap {
    switches: usize,
    bindings: Vec<Binding>,
}

impl FootMap {
    /// A map for so many switches on which nothing asks for anything.
    pub(super) fn empty(switches: usize) -> FootMap {
        FootMap {
            switches,
            bindings: Vec::new(),
        }
    }

    /// How many switches it is for.
    pub fn switches(&self) -> usize {
        self.switches
    }

    /// The map without the gestures that `can_be_made` says no to.
    pub(super) fn only(&self, can_be_made: impl Fn(&Binding) -> bool) -> FootMap {
        let made = self.bindings.iter().filter(|binding| can_be_made(binding));
        FootMap {
            switches: self.switches,
            bindings: made.copied().collect(),
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

    /// The bindings that break a rule, and which: such a map must not be used.
    pub fn broken_rules(&self) -> Vec<(Binding, String)> {
        let broken = |binding: &Binding| Some((*binding, self.broken_rule(binding)?));
        self.bindings.iter().filter_map(broken).collect()
    }

    /// The rules, most of them for maps of two switches and more.
    fn broken_rule(&self, binding: &Binding) -> Option<String> {
        if binding.kind == GestureKind::Long && binding.state != FootState::Stopped {
            let (switch, told) = (binding.switch, binding.state.told());
            return Some(format!(
                "a long press is one where nothing plays: \"{switch} long\" means nothing {told}"
            ));
        }
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
        let waiting = [
            GestureKind::Double,
            GestureKind::Hold,
            GestureKind::Triple,
            GestureKind::Long,
        ]
        .into_iter()
        .find(|kind| kinds.has(*kind));
        if let Some(kind) = waiting.filter(|_| action.needs_the_edge()) {
            return Some(format!(
                "\"{action}\" counts by its press edge: switch {switch} must have no {} {told}",
                kind.name()
            ));
        }
        let is_quick = |kind| matches!(kind, GestureKind::Double | GestureKind::Triple);
        let otherwise = |other: &Binding| {
            (other.state, other.action) == (binding.state, action) && !is_quick(other.kind)
        };
        // What stands in the menu is never in a hurry.
        let alone = is_quick(binding.kind) && action != Action::MenuOpen;
        (alone && !self.bindings.iter().any(otherwise)).then(|| {
            let kind = binding.kind.name();
            format!("\"{action}\" is reached by a {kind} alone {told}: give it another gesture too")
        })
    }
}
