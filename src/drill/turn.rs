//! A stage as a turn of its rotation wants it.

use super::KeyWalk;
use super::figure::{Direction, FigureNote, Order, Places, StringRule, StringSet};
use super::model::Stage;
use super::orders::Orders;
use super::rotation::Turning;
use std::borrow::Cow;

impl Stage {
    /// The stage as pass `turn` of its rotation wants it, where nothing turns any more.
    pub fn in_turn(&self, turn: u32, seed: u64) -> Cow<'_, Stage> {
        let turns = matches!(&self.places, Places::Rotate(turns) if turns.len() > 1);
        if self.rotation.is_none() && !turns {
            return Cow::Borrowed(self);
        }
        let mut stage = Stage {
            places: Places::All(self.places_in(turn).to_vec()),
            rotation: None,
            ..self.clone()
        };
        if let Some(rotation) = &self.rotation {
            stage.turn_by(rotation.turning(turn, seed));
        }
        Cow::Owned(stage)
    }

    fn turn_by(&mut self, turning: Turning) {
        if let Some(places) = turning.places {
            self.places = Places::All(places);
        }
        if let Some(side) = turning.side {
            let is_sided = |note: &&mut FigureNote| {
                matches!(note.direction, Direction::Above | Direction::Below)
            };
            for note in self.figure.iter_mut().filter(is_sided) {
                note.direction = side;
            }
        }
        if let Some(order) = turning.order {
            let orders = Orders::of(&self.figure, 0);
            if let Some(figure) = orders.all().get(order) {
                self.figure = figure.clone();
            }
            self.order = Order::AsWritten;
        }
        if let Some(string) = turning.string {
            self.string = StringRule::On(StringSet::of([string]));
        }
        self.position = turning.position.or(self.position);
        self.octave = turning.octave.or(self.octave);
    }

    /// The turn of its rotation that pass `pass` has: as many as were played or sung before; what is listened to is what comes
    /// next. Lists of places and orders turn with every pass.
    pub fn turn_of(&self, pass: u32) -> u32 {
        if self.rotation.is_none() && self.string != StringRule::EveryPlace {
            return pass;
        }
        let (passes, listen) = (self.cycle.passes(), self.cycle.listen);
        let asked = passes - listen.min(passes);
        (pass / passes) * asked + (pass % passes).saturating_sub(listen)
    }

    /// Whether anything turns from pass to pass.
    pub fn turns(&self) -> bool {
        let places = matches!(&self.places, Places::Rotate(turns) if turns.len() > 1);
        let orders = matches!(self.order, Order::EveryOrderAChord | Order::EveryOrderAPass);
        places || orders || self.rotation.is_some() || self.string == StringRule::EveryPlace
    }

    /// The walk through the keys that turns from pass to pass.
    pub fn turning_keys(&self) -> Option<&KeyWalk> {
        self.rotation
            .as_ref()
            .and_then(|rotation| rotation.keys.as_ref())
    }
}
