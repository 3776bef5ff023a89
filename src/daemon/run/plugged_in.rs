//! What is plugged in, for the ear's thread: what is known of the input, and what is found out and kept.

use super::super::config::Config;
use super::super::hearing::Listener;
use super::super::known_inputs::{self, KnownInput, KnownInputs};
use super::super::setup;
use super::keeper::Keeper;
use crate::judging::EarEvent;
use crate::listen::Instrument;

/// After so many reports, two a second, an input that nobody plays is not looked at any more until it is asked for: a hum that is
/// always there should not cost a second ear.
const MOST_LOOKS: u32 = 600;

/// What is kept was listened to for so long at least: a hum is told from a low note only when the strings were silent for a while.
const KEPT_S: f32 = 7.5;

/// An input by the ports that it comes from.
pub(super) struct PluggedIn {
    inputs: KnownInputs,
    name: String,
    keeper: Keeper,
    /// Reports of this input.
    looks: u32,
}

impl PluggedIn {
    /// Nothing is plugged in yet.
    pub(super) fn new(inputs: KnownInputs, keeper: Keeper) -> PluggedIn {
        PluggedIn {
            inputs,
            name: String::new(),
            keeper,
            looks: 0,
        }
    }

    /// The sound comes from other ports.
    pub(super) fn comes_from(&mut self, name: String, listener: Option<&mut Listener>) {
        self.name = name;
        self.looks = 0;
        listener
            .into_iter()
            .for_each(|listener| self.tell(listener));
    }

    fn known(&self) -> Option<&KnownInput> {
        self.inputs.get(&self.name)
    }

    /// Whether something is plugged in of which nothing is known, and may become known.
    pub(super) fn is_new(&self) -> bool {
        !self.name.is_empty() && self.known().is_none() && self.looks < MOST_LOOKS
    }

    /// What is plugged in, as far as it is known.
    pub(super) fn instrument(&self, config: &Config) -> Instrument {
        KnownInput::plugged_in(self.known(), config.ear.instrument)
    }

    /// A listener to it.
    pub(super) fn listener(&self, config: &Config, rate: u32) -> Listener {
        let mut listener = Listener::new(setup::ear(config, rate), 0);
        self.tell(&mut listener);
        listener
    }

    /// Lets a listener know what is known.
    fn tell(&self, listener: &mut Listener) {
        listener.expect(self.known().map(KnownInput::expected_db));
    }

    /// Takes in what was found out, and keeps it. Unasked, an input that nobody plays is not told.
    pub(super) fn learn(&mut self, heard: &mut Vec<EarEvent>, asked: bool, to: &mut Listener) {
        let reports = heard
            .iter()
            .filter(|event| matches!(event, EarEvent::Input(_)));
        self.looks = self.looks.saturating_add(reports.count() as u32);
        let told = |event: &EarEvent| match event {
            EarEvent::Input(report) => asked || report.plays() || report.clipped > 0,
            _ => true,
        };
        heard.retain(told);
        let found = heard.iter().rev().find_map(|event| match event {
            EarEvent::Input(report) if report.listened_s >= KEPT_S => KnownInput::of(report),
            _ => None,
        });
        let Some(found) = found.filter(|_| !self.name.is_empty()) else {
            return;
        };
        if self.known() != Some(&found) {
            self.inputs.insert(self.name.clone(), found);
            self.keeper.inputs(known_inputs::text(&self.inputs));
            self.tell(to);
        }
    }

    /// What was heard of a take becomes a file.
    pub(super) fn keep_take(&self, rate: u32, samples: Vec<i16>) {
        self.keeper.take(rate, samples);
    }
}
