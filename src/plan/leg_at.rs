//! The legs of a form by name.

use super::Material;
use crate::chart::Leg;

/// A leg of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LegAt {
    Intro(usize),
    Chorus(usize),
    Last(usize),
}

impl LegAt {
    /// The legs of its part of the way, and which of them it is.
    pub(super) fn legs(self, material: &Material) -> (&[Leg], usize) {
        let route = &material.form.route;
        match self {
            LegAt::Intro(index) => (&route.intro, index),
            LegAt::Chorus(index) => (&route.chorus, index),
            LegAt::Last(index) => (&route.last, index),
        }
    }

    /// The one after it; none at the end of a chorus, and of the last time.
    pub(super) fn next(self, material: &Material) -> Option<LegAt> {
        let (legs, index) = self.legs(material);
        let next = index + 1;
        match (self, next < legs.len()) {
            (LegAt::Intro(_), true) => Some(LegAt::Intro(next)),
            (LegAt::Intro(_), false) => Some(LegAt::Chorus(0)),
            (LegAt::Chorus(_), true) => Some(LegAt::Chorus(next)),
            (LegAt::Last(_), true) => Some(LegAt::Last(next)),
            (LegAt::Chorus(_) | LegAt::Last(_), false) => None,
        }
    }
}
