//! Where a stage's rotation stands: it goes on from take to take and over a restart, so that each combination comes once
//! before any comes twice.

use super::{Material, Standing};
use crate::drill::{Place, Stage};
use crate::speech::{Hand, ORDER_NOTES};
use std::borrow::Cow;
use std::sync::Arc;

impl Standing {
    /// The turn of the stage's rotation: earlier takes count, too.
    pub fn turn(&self, material: &Material) -> u32 {
        self.turn_in(material, self.pass)
    }

    fn turn_in(&self, material: &Material, pass: u32) -> u32 {
        let turned = self.stage_of(material).turn_of(pass);
        self.turned_before(self.stage).wrapping_add(turned)
    }

    fn turned_before(&self, stage: usize) -> u32 {
        self.turned.get(stage).copied().unwrap_or(0)
    }

    /// The stage as this pass's turn wants it.
    pub fn stage_now<'a>(&self, material: &'a Material) -> Cow<'a, Stage> {
        self.stage_of(material)
            .in_turn(self.turn(material), material.seed())
    }

    /// Where the notes of this pass fall.
    pub fn places<'a>(&self, material: &'a Material) -> &'a [Place] {
        self.stage_of(material)
            .places_at(self.turn(material), material.seed())
    }

    /// What a rotation asks of the hand in this pass.
    pub fn hand(&self, material: &Material) -> Hand {
        let Some(rotation) = &self.stage_of(material).rotation else {
            return Hand::default();
        };
        let turning = rotation.turning(self.turn(material), material.seed());
        let mut order = [None; ORDER_NOTES];
        if turning.order.is_some() {
            let now = self.stage_now(material);
            for (slot, note) in order.iter_mut().zip(&now.figure) {
                *slot = Some(note.degree);
            }
        }
        Hand {
            string: turning.string,
            position: turning.position,
            octave: turning.octave,
            side: turning.side,
            order,
        }
    }

    /// How far the keys have walked: a round a step, or a pass where they turn with the rotation.
    pub(super) fn key_step(&self, material: &Material) -> u32 {
        let rotation = self.stage_of(material).rotation.as_ref();
        // The breath belongs to the pass before it.
        let pass = self.pass.saturating_sub(u32::from(self.breathing));
        let turn = self.turn_in(material, pass);
        let turning = rotation.map(|rotation| rotation.turning(turn, material.seed()));
        let key = turning.and_then(|turning| turning.key);
        key.unwrap_or_else(|| self.round(material))
    }

    /// The same when the passes of its stage begin anew: the rotation goes on where it is.
    pub(super) fn turned_on(&self, material: &Material) -> Arc<Vec<u32>> {
        if self.pass == 0 || !self.stage_of(material).turns() {
            return self.turned.clone();
        }
        let mut turned = (*self.turned).clone();
        if turned.len() <= self.stage {
            turned.resize(self.stage + 1, 0);
        }
        turned[self.stage] = self.turn(material);
        Arc::new(turned)
    }

    /// Where each stage that turns stands, by its name.
    pub fn turns_by_name(&self, material: &Material) -> Vec<(String, u32)> {
        let stages = material.drill.stages.iter().enumerate();
        let turned = stages
            .filter(|(_, stage)| stage.turns())
            .map(|(index, stage)| {
                let here = if index == self.stage {
                    stage.turn_of(self.pass)
                } else {
                    0
                };
                let turned = self.turned_before(index).wrapping_add(here);
                (stage.name.clone(), turned)
            });
        turned.filter(|(_, turned)| *turned > 0).collect()
    }

    /// The same where the stages with these names stand so far in their rotation.
    pub fn with_turns(self, turns: &[(String, u32)], material: &Material) -> Standing {
        let of = |stage: &Stage| {
            let found = turns.iter().find(|(name, _)| *name == stage.name);
            found.map_or(0, |(_, turned)| *turned)
        };
        let turned = material.drill.stages.iter().map(of).collect();
        Standing {
            turned: Arc::new(turned),
            ..self
        }
    }
}
