//! Passes that are planned already, written once more: for parts that were muted, or for what follows them now.

use crate::harmony::ChordInContext;
use crate::plan::pass::{Pass, PassKind, PassSettings};
use crate::plan::take::{TakePlan, cursor_of, first_chord};
use crate::plan::timeline::Segment;
use crate::time::Tick;
use std::sync::Arc;

impl TakePlan {
    /// Writes all passes from the one at `now` on again (parts muted, model tones switched).
    pub fn rewrite(&mut self, now: Tick, playing: &PassSettings) {
        for index in 0..self.timeline.segments().count() {
            self.write_again(index, now, playing);
        }
    }

    /// Writes the pass that sounds at the end of the plan once more, for what follows it now (the chord its
    /// last push and approach lead to).
    pub fn lead_into(&mut self, playing: &PassSettings) {
        let last = self.timeline.segments().count().saturating_sub(1);
        let is_music = |segment: &Segment| matches!(segment.pass.kind, PassKind::Music(_));
        if self.timeline.segments().nth(last).is_some_and(is_music) {
            self.write_again(last, Tick(i64::MIN), playing);
        }
    }

    /// Writes the pass of one segment again, unless it is over by `now`: as far as it is played, and for what
    /// follows it.
    fn write_again(&mut self, index: usize, now: Tick, playing: &PassSettings) {
        let Some(segment) = self.timeline.segments().nth(index).cloned() else {
            return;
        };
        if segment.end() <= now {
            return;
        }
        let pass = &segment.pass;
        let follower = self.timeline.segments().nth(index + 1);
        let goes_on = follower.is_some_and(|next| {
            next.from_bar == segment.to_bar && next.pass.standing == pass.standing
        });
        let written = if goes_on || !matches!(pass.kind, PassKind::Music(_)) {
            cursor_of(&segment, segment.from_bar).write(pass.tempo, playing, false)
        } else {
            let ends = self.ends && follower.is_none();
            let mut bars: Vec<usize> = pass.lap.bars.iter().map(|bar| bar.form_bar).collect();
            bars.truncate(segment.to_bar);
            let next = match follower {
                Some(next) => first_chord(&next.pass, next.from_bar),
                None => self.first_planned().filter(|_| !ends),
            };
            let (material, standing) = (&pass.material, pass.standing.clone());
            let lap = material.form.lap(&bars);
            Pass::music(
                material,
                standing,
                lap,
                next.as_ref(),
                ends,
                pass.tempo,
                playing,
            )
        };
        self.timeline.rewrite(segment.start(), Arc::new(written));
    }

    /// The first chord of what is planned next.
    fn first_planned(&self) -> Option<ChordInContext> {
        let target = &self.cursor;
        if target.standing.breathing || target.count_in.is_some() {
            return None;
        }
        let lap = target.standing.lap(&target.material);
        let from = lap
            .bars
            .get(target.from_bar)
            .map_or(Tick(0), |bar| bar.start);
        let mut chords = lap.chords.iter();
        let first = chords.find(|chord| chord.start + chord.len > from)?;
        Some(target.material.contexts[first.form_chord].clone())
    }
}
