//! Where a pass through the whole form is on its way: in the intro, in a chorus, in the last time round.
//!
//! A chorus without a vamp is one leg, and then a pass is a chorus. A vamp goes round by itself: only a foot leads past it.

use super::leg_at::LegAt;
use super::{Loop, Material, Standing};
use crate::chart::Leg;

impl Standing {
    /// The leg that it plays, where the whole form goes round. Where there is no such leg the chorus's first.
    pub(super) fn leg_of<'a>(&self, material: &'a Material) -> Option<&'a Leg> {
        let (legs, index) = self.leg.legs(material);
        legs.get(index).or(material.form.route.chorus.first())
    }

    fn goes_through_the_form(&self) -> bool {
        self.looping == Loop::Form && !self.breathing
    }

    /// The same at the top: with the intro, where there is one.
    #[must_use]
    pub fn from_the_top(self, material: &Material) -> Standing {
        let has_intro = self.looping == Loop::Form && !material.form.route.intro.is_empty();
        Standing {
            leg: if has_intro {
                LegAt::Intro(0)
            } else {
                LegAt::Chorus(0)
            },
            vamped: 0,
            ..self
        }
    }

    /// Whether it plays a vamp.
    pub fn is_vamp(&self, material: &Material) -> bool {
        self.goes_through_the_form() && self.leg_of(material).is_some_and(|leg| leg.vamp)
    }

    /// Whether the tune is over with it.
    pub fn is_final(&self, material: &Material) -> bool {
        let ends = matches!(self.leg, LegAt::Last(_)) && self.leg.next(material).is_none();
        self.goes_through_the_form() && ends
    }

    /// What comes after it within its pass: the vamp again, or the next leg. None where its pass is over.
    pub(super) fn within_the_pass(&self, material: &Material) -> Option<Standing> {
        if !self.goes_through_the_form() {
            return None;
        }
        if self.is_vamp(material) {
            return Some(Standing {
                vamped: self.vamped + 1,
                ..self.clone()
            });
        }
        let leg = self.leg.next(material)?;
        Some(Standing {
            leg,
            vamped: 0,
            ..self.clone()
        })
    }

    /// What comes after a vamp when a foot moves on; none where it plays none.
    pub fn past_the_vamp(&self, material: &Material) -> Option<Standing> {
        if !self.is_vamp(material) {
            return None;
        }
        let next = self.leg.next(material);
        Some(match next {
            Some(leg) => Standing {
                leg,
                vamped: 0,
                ..self.clone()
            },
            None => self.next_pass(material),
        })
    }

    /// The same leg of the last time round, where the last time has one that begins as it does: it, and how many bars the two
    /// have in common.
    pub fn turned_to_the_last_time(&self, material: &Material) -> Option<(Standing, usize)> {
        let route = &material.form.route;
        let LegAt::Chorus(index) = self.leg else {
            return None;
        };
        if !self.goes_through_the_form() || route.chorus.get(..index)? != route.last.get(..index)? {
            return None;
        }
        let (here, last) = (route.chorus.get(index)?, route.last.get(index)?);
        let both = here.bars.iter().zip(&last.bars);
        let common = both.take_while(|(one, other)| one == other).count();
        let turned = Standing {
            leg: LegAt::Last(index),
            ..self.clone()
        };
        (common > 0).then_some((turned, common))
    }

    /// The last time round from its beginning, after this pass.
    pub fn last_time_next(&self, material: &Material) -> Standing {
        let next = match self.leg {
            LegAt::Intro(_) => self.clone(),
            _ => self.next_pass(material),
        };
        Standing {
            leg: LegAt::Last(0),
            vamped: 0,
            breathing: false,
            ..next
        }
    }

    /// Whether the tune has an ending of its own for the whole form.
    pub fn has_own_ending(&self, material: &Material) -> bool {
        let is_last = matches!(self.leg, LegAt::Last(_));
        self.goes_through_the_form() && !is_last && !material.form.route.last.is_empty()
    }
}
