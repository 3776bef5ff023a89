//! The band's level and parts, and model tones.

use crate::drill::Model;
use crate::practice::core::Core;
use crate::practice::event::Recorded;
use crate::time::{Frame, Part};

impl Core {
    pub(in crate::practice) fn level_by(&mut self, step_db: f32, stamp: Frame) {
        self.master_db = (self.master_db + step_db).clamp(-60.0, 0.0);
        self.send_levels(self.earliest(stamp));
        self.save();
    }

    pub(in crate::practice) fn mute(&mut self, part: Part, stamp: Frame) {
        match self.playing.muted.iter().position(|muted| *muted == part) {
            Some(index) => drop(self.playing.muted.remove(index)),
            None => self.playing.muted.push(part),
        }
        let muted: Vec<&str> = self.playing.muted.iter().map(|part| part.name()).collect();
        let value = format!("muted: {}", muted.join(" "));
        self.rewrite_band(value, stamp);
    }

    pub(in crate::practice) fn switch_model(&mut self, stamp: Frame) {
        let now = self
            .standing
            .stage_of(&self.material)
            .help_in(self.standing.pass)
            .model;
        let is_on = self.playing.model.unwrap_or(now) != Model::Off;
        self.playing.model = Some(if is_on { Model::Off } else { Model::After });
        let value = format!("model tones {}", if is_on { "off" } else { "on" });
        self.rewrite_band(value, stamp);
    }

    fn rewrite_band(&mut self, value: String, stamp: Frame) {
        let what = Recorded::Change {
            what: "parts",
            index: None,
            value,
        };
        if self.take.is_none() {
            return self.record_outside(what);
        }
        let from = self.tick_of(stamp);
        let pending = self.unarm(from);
        let playing = self.playing.clone();
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let next_bar = take.timeline.bar_line(from);
        let now = take.timeline.tick(self.now);
        take.rewrite(now, &playing);
        take.keep_until(next_bar);
        self.plan_reload(from);
        self.record(next_bar, what);
        self.rearm(pending, stamp);
    }
}
