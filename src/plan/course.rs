//! The course of a take: what is planned on one line of ticks, and where it goes on. It is cheap to clone, so that what
//! was planned before a foot changed it can be kept, to go back to.

use super::cursor::{CountIn, Cursor};
use super::pass::{Pass, PassKind, PassSettings};
use super::pass_writer::PassWriter;
use super::timeline::{Segment, Timeline};
use super::{LegAt, Loop};
use crate::harmony::ChordInContext;
use crate::time::{Anchor, Tick, UsPerQuarter};
use std::sync::Arc;

/// The plan reaches at least this many bars and passes beyond now, so that no page or cue near now depends on
/// how far it reaches.
const PLAN_BARS: usize = 12;
const PLAN_PASSES: usize = 2;
/// Nor on what is further away than this: passes of thousands of bars are written when they come.
const FAR_BARS: usize = 512;

/// What is planned.
#[derive(Debug, Clone)]
pub struct Course {
    /// The passes that are written out.
    pub timeline: Timeline,
    /// What is appended next.
    pub cursor: Cursor,
    /// Whether nothing is appended any more: the take ends with the plan.
    pub ends: bool,
    /// What follows the tune's own ending, instead of the end.
    pub then: Option<Cursor>,
}

impl Course {
    /// Nothing is planned yet; `cursor` comes first, where `anchor` says.
    pub fn new(cursor: Cursor, anchor: Anchor) -> Course {
        Course {
            timeline: Timeline::new(anchor),
            cursor,
            ends: false,
            then: None,
        }
    }

    /// Lets the plan reach far enough beyond `now` at the player's tempo, of which a stage may take a part; true if it grew.
    pub fn extend(&mut self, now: Tick, tempo: UsPerQuarter, settings: &PassSettings) -> bool {
        let mut grew = false;
        while !self.ends && !self.reaches(now) {
            let full = self.cursor.brings.map_or(tempo, |brings| brings.tempo);
            let tempo = settings.tempo_of(&self.cursor.standing, full);
            let pass = self.cursor.write(tempo, settings);
            let bars = pass.lap.bars.len();
            let from = self.cursor.from_bar.min(bars.saturating_sub(1));
            self.timeline.push(Arc::new(pass), from, bars);
            let is_final = self.cursor.is_final();
            self.cursor = match self.then.clone().filter(|_| is_final) {
                Some(then) => then,
                None => self.cursor.next(),
            };
            grew = true;
            if is_final {
                self.ends = self.then.is_none();
                self.lead_on(settings);
            }
        }
        grew
    }

    fn reaches(&self, now: Tick) -> bool {
        let (mut passes, mut bars, mut ahead) = (0, 0, 0);
        for segment in self.timeline.segments() {
            let after = match segment.start() > now {
                true => segment.from_bar,
                false => segment.bar_at(now) + 1,
            };
            ahead += segment.to_bar.saturating_sub(after);
            if segment.start() > now {
                passes += usize::from(segment.pass.kind != PassKind::CountIn);
                bars += segment.to_bar - segment.from_bar;
            }
        }
        (passes >= PLAN_PASSES && bars >= PLAN_BARS) || ahead >= FAR_BARS
    }

    /// Drops the plan from the bar line `cut` on; the next thing planned is `cursor`.
    pub fn replan(&mut self, cut: Tick, cursor: Cursor) {
        self.timeline.cut(cut);
        self.cursor = cursor;
        self.ends = false;
    }

    /// The same, and what sounds before the cut leads there: its last push and approach.
    pub fn lead_to(&mut self, cut: Tick, cursor: Cursor, settings: &PassSettings) {
        self.replan(cut, cursor);
        self.lead_on(settings);
    }

    /// What the plan would play from the bar line `cut` on.
    pub fn cursor_at(&self, cut: Tick) -> Cursor {
        match self.timeline.segment_at(cut) {
            Some(segment) => Cursor::of_segment(segment, segment.bar_at(cut)),
            None => self.cursor.clone(),
        }
    }

    /// At the next bar line goes on `by` bars after the bar that sounds at `from` (0: it comes again).
    pub fn shift(&mut self, from: Tick, by: usize, settings: &PassSettings) {
        let music = |segment: &&Segment| matches!(segment.pass.kind, PassKind::Music(_));
        let Some(segment) = self.timeline.segment_at(from).filter(music) else {
            return;
        };
        let (material, standing) = (&segment.pass.material, &segment.pass.standing);
        let next = segment.bar_at(from) + by;
        let bars = standing.form_bars(material).len();
        let (from_bar, standing) = match next.checked_sub(bars) {
            None => (next, standing.clone()),
            Some(beyond) => (beyond, standing.next(material)),
        };
        let target = Cursor {
            from_bar,
            ..Cursor::pass(material, standing)
        };
        let cut = self.timeline.bar_line(Tick(from.0 + 1));
        self.lead_to(cut, target, settings);
    }

    /// While a section goes round it takes its first ending; leaving it takes the ending that leads on. Gives where that
    /// ending begins, if it is another.
    pub fn take_the_ending_that_goes_on(
        &mut self,
        from: Tick,
        tempo: UsPerQuarter,
        settings: &PassSettings,
    ) -> Option<Tick> {
        let segment = self.timeline.segment_at(from)?.clone();
        let (pass, material) = (&segment.pass, &segment.pass.material);
        let Loop::Item(item) = pass.standing.looping else {
            return None;
        };
        let going_on = material.leaving_item(item);
        if going_on == item || !matches!(pass.kind, PassKind::Music(_)) {
            return None;
        }
        // Too late once the bar that sounds is one of the ending's.
        let common = material.bars_in_common(item, going_on);
        if segment.bar_at(from) >= common {
            return None;
        }
        let leaving = Cursor::pass(material, pass.standing.in_section(going_on));
        let tempo = settings.tempo_of(&leaving.standing, tempo);
        let leaving = leaving.write(tempo, settings);
        self.timeline.swap(from, Arc::new(leaving));
        self.cursor = Cursor::pass(material, pass.standing.next(material));
        Some(segment.bar_start(common))
    }

    /// Turns the pass that sounds at `from` into the last time round with the tune's own ending, where there is one. Once the
    /// music is past the place at which the two part, the next time round is the last one.
    pub fn take_the_last_time(&mut self, from: Tick, settings: &PassSettings) -> Option<OwnEnding> {
        let segment = self.timeline.segment_at(from)?.clone();
        let (pass, material) = (&segment.pass, &segment.pass.material);
        let standing = &pass.standing;
        if !matches!(pass.kind, PassKind::Music(_)) || !standing.has_own_ending(material) {
            return None;
        }
        let turned = standing.turned_to_the_last_time(material);
        let turned = turned.filter(|(_, common)| segment.bar_at(from) < *common);
        let Some((turned, common)) = turned else {
            return Some(self.last_time_after(from, &segment));
        };
        let leaving = Cursor::pass(material, turned.clone());
        let firm_from = match standing.form_bars(material) == turned.form_bars(material) {
            true => None,
            false => Some(segment.bar_start(common)),
        };
        self.timeline
            .turn(from, |tempo| Arc::new(leaving.write(tempo, settings)));
        let cut = self.timeline.end();
        // A vamp is left with it.
        let next = turned.past_the_vamp(material);
        let next = next.unwrap_or_else(|| turned.next(material));
        Some(OwnEnding {
            cut,
            next: Cursor::pass(material, next),
            firm_from,
            ends: turned.is_final(material),
        })
    }

    /// The last time round begins after the pass that sounds.
    fn last_time_after(&self, from: Tick, segment: &Segment) -> OwnEnding {
        let begins = |other: &&Segment| {
            let is_first = matches!(other.pass.standing.leg, LegAt::Chorus(0));
            other.start() > from && other.from_bar == 0 && is_first
        };
        let next = self.timeline.segments().find(begins);
        let (material, standing) = (&segment.pass.material, &segment.pass.standing);
        OwnEnding {
            cut: next.map_or_else(|| self.timeline.end(), Segment::start),
            next: Cursor::pass(material, standing.last_time_next(material)),
            firm_from: None,
            ends: false,
        }
    }

    /// Writes all passes from the one at `now` on again (parts muted, model tones switched).
    pub fn rewrite(&mut self, now: Tick, settings: &PassSettings) {
        for index in 0..self.timeline.segments().count() {
            self.write_again(index, now, settings);
        }
    }

    /// Writes the pass that sounds at the end of the plan once more, for what follows it now (the chord its
    /// last push and approach lead to).
    pub fn lead_on(&mut self, settings: &PassSettings) {
        let last = self.timeline.segments().count().saturating_sub(1);
        let is_music = |segment: &Segment| matches!(segment.pass.kind, PassKind::Music(_));
        if self.timeline.segments().nth(last).is_some_and(is_music) {
            self.write_again(last, Tick(i64::MIN), settings);
        }
    }

    /// Writes the pass of one segment again, unless it is over by `now`: as far as it is played, and for what
    /// follows it.
    fn write_again(&mut self, index: usize, now: Tick, settings: &PassSettings) {
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
        let cursor = Cursor::of_segment(&segment, segment.from_bar);
        let written = if goes_on || !matches!(pass.kind, PassKind::Music(_)) {
            cursor.write(pass.tempo, settings)
        } else {
            let ends = self.ends && follower.is_none();
            let mut bars: Vec<usize> = pass.lap.bars.iter().map(|bar| bar.form_bar).collect();
            bars.truncate(segment.to_bar);
            let next = match follower {
                Some(next) => first_chord(&next.pass, next.from_bar),
                None => self.first_planned().filter(|_| !ends),
            };
            let lap = pass.material.form.lap(&bars);
            let writer = PassWriter {
                material: &pass.material,
                standing: &pass.standing,
                tempo: pass.tempo,
                settings,
            };
            writer.music(lap, next.as_ref(), ends)
        };
        self.timeline.rewrite(segment.start(), Arc::new(written));
    }

    /// The first chord of what is planned next.
    fn first_planned(&self) -> Option<ChordInContext> {
        let target = &self.cursor;
        if target.standing.breathing || target.count_in != CountIn::No {
            return None;
        }
        let lap = target.standing.lap(&target.material);
        let first = lap.first_chord_from(target.from_bar)?;
        Some(target.material.contexts[first.form_chord].clone())
    }
}

/// How a tune comes to its own ending.
#[derive(Debug, Clone)]
pub struct OwnEnding {
    /// The bar line on which what sounds is over.
    pub cut: Tick,
    /// What comes there.
    pub next: Cursor,
    /// From here on there is no way back: the ending has begun. `None`: there is always one.
    pub firm_from: Option<Tick>,
    /// The tune is over on that bar line.
    pub ends: bool,
}

/// The first chord that sounds in a pass from one of its bars on; none where the band does not play.
fn first_chord(pass: &Pass, from_bar: usize) -> Option<ChordInContext> {
    if matches!(pass.kind, PassKind::CountIn | PassKind::Breathe) {
        return None;
    }
    let chord = pass.lap.first_chord_from(from_bar)?;
    pass.material.contexts.get(chord.form_chord).cloned()
}
