//! Where the plan goes on: what is appended next, and what an armed action will put there.

use crate::foot::action::Action;
use crate::plan::pass::{Pass, PassSettings};
use crate::plan::take::PlanSnapshot;
use crate::plan::{Material, Standing};
use crate::time::{Tick, UsPerQuarter};
use std::sync::Arc;

/// What another chart of the list brings along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Brings {
    /// Its index in the list.
    pub chart: usize,
    /// Its tempo.
    pub tempo: UsPerQuarter,
}

/// What is appended to the plan next.
#[derive(Debug, Clone)]
pub struct Cursor {
    /// The chart and drill.
    pub material: Arc<Material>,
    /// The pass.
    pub standing: Standing,
    /// The bar of its lap to begin with.
    pub from_bar: usize,
    /// The count-in to the pass instead of the pass; `Some(true)` with the pickup.
    pub count_in: Option<bool>,
    /// Set while another chart of the list is on its way.
    pub brings: Option<Brings>,
}

impl Cursor {
    /// The whole pass at `standing`.
    pub fn pass(material: &Arc<Material>, standing: Standing) -> Cursor {
        Cursor {
            material: material.walked(&standing),
            standing,
            from_bar: 0,
            count_in: None,
            brings: None,
        }
    }

    /// What comes after it when no foot says otherwise.
    pub(crate) fn next(&self) -> Cursor {
        match self.count_in {
            Some(_) => Cursor {
                from_bar: 0,
                count_in: None,
                ..self.clone()
            },
            None => Cursor {
                brings: self.brings,
                ..Cursor::pass(&self.material, self.standing.next(&self.material))
            },
        }
    }

    /// Writes the pass out.
    pub fn write(&self, tempo: UsPerQuarter, playing: &PassSettings, end: bool) -> Pass {
        let (material, standing) = (&self.material, self.standing.clone());
        let stage = standing.stage_of(material);
        if let Some(with_pickup) = self.count_in {
            return Pass::count_in(material, standing, with_pickup, tempo, playing);
        }
        if !stage.pulse {
            return Pass::held(material, standing, tempo, playing);
        }
        if standing.breathing {
            return Pass::breath(material, standing, tempo, playing);
        }
        let lap = standing.lap(material);
        let after = self.next();
        let next_chord = (!end && !after.standing.breathing)
            .then(|| {
                after
                    .standing
                    .lap(&after.material)
                    .chords
                    .first()
                    .map(|chord| chord.form_chord)
            })
            .flatten();
        let next = next_chord.map(|chord| &after.material.contexts[chord]);
        Pass::music(material, standing.clone(), lap, next, end, tempo, playing)
    }
}

/// An action that waits for its moment.
#[derive(Debug, Clone)]
pub struct Armed {
    /// What, as the page shows it.
    pub what: String,
    /// The actions that were armed one after the other.
    pub actions: Vec<Action>,
    /// The bar line on which it happens.
    pub cut: Tick,
    /// What would come there without it.
    pub instead_of: Cursor,
    /// What comes there now.
    pub target: Cursor,
    /// The plan without it, to go back to.
    pub before: PlanSnapshot,
    /// Whether nobody asked for it: the stage is secure. The foot takes it or leaves it.
    pub by_itself: bool,
    /// From here on there is no way back to that plan: the ending that leads on has begun.
    pub firm_from: Tick,
}

impl Armed {
    /// Whether it is a spot to loop: its bars were chosen at the press, not by where the section ends.
    pub fn is_spot(&self) -> bool {
        matches!(
            self.actions[..],
            [Action::ThisSpot | Action::SectionFromHere]
        )
    }
}
