//! Places in the tune: this spot, the top of the section, a bar back or on.

use crate::practice::action::Action;
use crate::practice::core::Core;
use crate::practice::course::{Loop, Standing};
use crate::practice::pass::PassKind;
use crate::practice::plan::{Armed, Cursor, Take};
use crate::time::{Frame, Tick};

impl Core {
    pub(in crate::practice) fn this_spot(&mut self, stamp: Frame) {
        let earliest = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let from = take.timeline.tick(earliest);
        let Some(segment) = take.timeline.segment_at(from) else {
            return;
        };
        let PassKind::Music(_) = segment.pass.kind else {
            return;
        };
        let bar = segment.bar_at(from);
        let (start, len) = (
            segment.bar_start(bar),
            segment.pass.lap.bars[bar].meter.bar_ticks(),
        );
        let early = (from - start).0 * 2 < len.0;
        let first = if early { bar.saturating_sub(1) } else { bar };
        let last = (first + 1).min(segment.pass.lap.bars.len() - 1);
        let spot: Vec<usize> = (first..=last)
            .map(|bar| segment.pass.lap.bars[bar].form_bar)
            .collect();
        let cut = segment.bar_start((last + 1).min(segment.to_bar));
        let standing = Standing {
            looping: Loop::Spot(spot),
            breathing: false,
            ..segment.pass.standing.clone()
        };
        let target = Cursor::pass(&segment.pass.material, standing);
        let instead_of = self.cursor_at(take, cut);
        let playing = self.playing.clone();
        if let Some(take) = self.take.as_mut() {
            take.replan(cut, target.clone());
            take.lead_into(&playing);
            let what = crate::practice::core::words(Action::ThisSpot);
            take.armed = Some(Armed {
                what,
                actions: vec![Action::ThisSpot],
                cut,
                instead_of,
                target,
            });
        }
        self.rewrite_future(from, stamp);
    }

    pub(in crate::practice) fn top_now(&mut self, stamp: Frame) {
        let at = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            let cursor = self.here();
            return self.launch(cursor, at, Some(Tick(0)));
        };
        let now = take.timeline.tick(at);
        let first = take.timeline.bar_line(Tick(now.0 + 1));
        let cursor = match take.armed.clone() {
            Some(armed) => armed.target,
            None => {
                let item = self.last_section.map_or(0, |(item, _)| item);
                let whole = matches!(self.standing.looping, Loop::Form);
                let bars = self.standing.form_bars(&self.material);
                let top = bars
                    .iter()
                    .position(|bar| self.material.form.bars[*bar].item == item);
                Cursor {
                    from_bar: top.filter(|_| whole).unwrap_or(0),
                    ..self.here()
                }
            }
        };
        self.jump(cursor, at, first);
    }

    /// Goes on at `cursor` on exactly `at`: the line of ticks goes on, the frames start anew.
    pub(in crate::practice) fn jump(&mut self, cursor: Cursor, at: Frame, first: Tick) {
        let shown = self.take.as_ref().and_then(|take| take.shown);
        self.epoch = self.take.as_ref().map_or(self.epoch, Take::epoch);
        self.launch(cursor, at, Some(first));
        if let Some(take) = self.take.as_mut() {
            take.shown = shown.filter(|_| false);
        }
    }

    /// At the next bar line goes on `by` bars after the bar that sounds now (0: it comes again).
    pub(in crate::practice) fn shift_bar(&mut self, stamp: Frame, by: usize) {
        let earliest = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let from = take.timeline.tick(earliest);
        let Some(segment) = take.timeline.segment_at(from) else {
            return;
        };
        let PassKind::Music(_) = segment.pass.kind else {
            return;
        };
        let bar = segment.bar_at(from);
        let cut = take.timeline.bar_line(Tick(from.0 + 1));
        let pass = &segment.pass;
        let cursor = Cursor::pass(&pass.material, pass.standing.clone());
        let bars = pass.lap.bars.len();
        let target = match bar + by {
            next if next < bars => Cursor {
                from_bar: next,
                ..cursor
            },
            next => {
                let after = cursor.standing.next(&cursor.material);
                let after = Cursor::pass(&cursor.material, after);
                Cursor {
                    from_bar: next - bars,
                    ..after
                }
            }
        };
        let playing = self.playing.clone();
        if let Some(take) = self.take.as_mut() {
            take.armed = None;
            take.replan(cut, target);
            take.lead_into(&playing);
        }
        self.rewrite_future(from, stamp);
    }
}
