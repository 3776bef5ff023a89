//! Tempo, tapped and by steps.

use crate::practice::core::Core;
use crate::practice::event::Recorded;
use crate::practice::footmap::FootState;
use crate::time::{Frame, UsPerQuarter};

impl Core {
    pub(in crate::practice) fn tap(&mut self, stamp: Frame) {
        let Some(tapped) = self.taps.tap(stamp) else {
            return;
        };
        let meter = self
            .material
            .form
            .bars
            .first()
            .map_or(crate::time::Meter::COMMON, |bar| bar.meter);
        let playing = self.foot_state() == FootState::Playing;
        let counts = 60_000.0 / self.tempo.ms(meter.count_ticks());
        if playing && !tapped.is_near(counts) {
            return;
        }
        self.set_tempo(tapped.qpm(meter), stamp);
    }

    pub(in crate::practice) fn tempo_by(&mut self, step_qpm: f64, stamp: Frame) {
        self.set_tempo(self.tempo.qpm().round() + step_qpm, stamp);
    }

    fn set_tempo(&mut self, qpm: f64, stamp: Frame) {
        let tempo = UsPerQuarter::from_qpm(qpm.clamp(30.0, 300.0));
        if tempo == self.tempo {
            return;
        }
        self.tempo = tempo;
        let value = format!("{:.1}", tempo.qpm());
        let earliest = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            self.record_outside(Recorded::Change {
                what: "tempo",
                index: None,
                value,
            });
            return self.save();
        };
        let from = take.timeline.tick(earliest);
        let cut = take.timeline.bar_line(from);
        let armed = take.armed.clone().filter(|armed| armed.cut > cut);
        let cursor = match &take.armed {
            Some(armed) if armed.cut == cut => armed.target.clone(),
            _ => self.cursor_at(take, cut),
        };
        let ends = take.ends;
        if let Some(take) = self.take.as_mut() {
            take.replan(cut, cursor);
            let now = take.timeline.tick(self.now);
            take.extend(now.max(cut), tempo, &self.playing);
        }
        self.record(
            cut,
            Recorded::Change {
                what: "tempo",
                index: None,
                value,
            },
        );
        match armed {
            // What is armed stays armed: the bar lines have not moved, only the frames.
            Some(armed) => self.arm_at(armed.actions, armed.cut, armed.instead_of, stamp),
            None => {
                if let Some(take) = self.take.as_mut() {
                    take.ends = ends && take.armed.is_some();
                }
                self.rewrite_future(from, stamp);
            }
        }
        self.save();
    }
}
