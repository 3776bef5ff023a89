//! Stages out of time: one chord held until the foot goes on.

use crate::practice::action::Action;
use crate::practice::core::Core;
use crate::practice::course::distinct_chords;
use crate::practice::plan::Cursor;
use crate::time::{Frame, Tick};

impl Core {
    pub(in crate::practice) fn is_held(&self) -> bool {
        self.take.is_some() && !self.standing.stage_of(&self.material).pulse
    }

    /// The next held chord, or the one before; after the last one the next stage, counted in.
    pub(in crate::practice) fn next_held(&mut self, action: Action, stamp: Frame) {
        let at = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let now = take.timeline.tick(at);
        let first = take.timeline.bar_line(Tick(now.0 + 1));
        let chords = distinct_chords(&self.material, &self.standing.lap(&self.material)).len();
        let back = action == Action::PreviousStage;
        let held = if back {
            self.standing.held.checked_sub(1)
        } else {
            Some(self.standing.held + 1)
        };
        let armed = take.armed.clone();
        match held.filter(|held| *held < chords) {
            Some(held) => {
                self.standing.held = held;
                let cursor = self.here();
                self.jump(cursor, at, first);
            }
            None => {
                let mut standing = self
                    .standing
                    .with_stage(&self.material, if back { -1 } else { 1 });
                if standing.stage == self.standing.stage && !back {
                    // The last stage goes round its chords.
                    standing.held = 0;
                }
                let pulse = standing.stage_of(&self.material).pulse;
                let cursor = Cursor {
                    count_in: pulse.then_some(false),
                    ..Cursor::pass(&self.material, standing)
                };
                self.jump(cursor, at, first);
                self.announce_stage();
            }
        }
        // What is armed (a section, a key) is not lost with the chord.
        if let Some(armed) = armed {
            self.arm_all(armed.actions, stamp);
        }
    }
}
