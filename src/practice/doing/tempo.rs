//! Tempo, tapped and by steps.

use crate::foot::footmap::FootState;
use crate::practice::core::Core;
use crate::practice::event::Recorded;
use crate::time::{Frame, UsPerQuarter};

impl Core {
    pub(in crate::practice) fn tap(&mut self, stamp: Frame) {
        let Some(tapped) = self.taps.tap(stamp) else {
            return;
        };
        let at = self.tick_of(stamp);
        let sounding = self
            .take
            .as_ref()
            .and_then(|take| take.timeline.segment_at(at))
            .map(|segment| segment.pass.lap.bars[segment.bar_at(at)].meter);
        let first = self.standing.form_bars(&self.material).first().copied();
        let meter = sounding.unwrap_or_else(|| {
            first.map_or(crate::time::Meter::COMMON, |bar| {
                self.material.form.bars[bar].meter
            })
        });
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
        if self.is_driven() {
            // The tempo is the master's.
            return;
        }
        let tempo = UsPerQuarter::from_qpm(qpm.clamp(30.0, 300.0));
        if tempo == self.tempo {
            return;
        }
        self.tempo = tempo;
        let value = format!("{:.1}", tempo.qpm());
        if self.take.is_none() {
            self.record_outside(Recorded::Change {
                what: "tempo",
                index: None,
                value,
            });
            return self.save();
        }
        let from = self.tick_of(stamp);
        let pending = self.unarm(from);
        let playing = self.playing.clone();
        let Some(take) = self.take.as_mut() else {
            return;
        };
        // The bar lines stay where they are, only the frames move.
        let cut = take.timeline.bar_line(from);
        let cursor = take.cursor_at(cut);
        take.replan(cut, cursor);
        let now = take.timeline.tick(self.now);
        take.extend(now.max(cut), tempo, &playing);
        self.plan_reload(from);
        self.record(
            cut,
            Recorded::Change {
                what: "tempo",
                index: None,
                value,
            },
        );
        self.rearm(pending, stamp);
        self.save();
    }
}
