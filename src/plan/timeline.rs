//! The passes in the order of playing, on one line of ticks, and the frames on which they sound.

use super::pass::{Pass, PassKind};
use crate::chart::LapBar;
use crate::time::{Anchor, BAR_NOTES, Bar, Frame, Meter, Tick, TimedNote, UsPerQuarter};
use std::collections::VecDeque;
use std::sync::Arc;

/// Some bars of a pass at their place in the take.
#[derive(Debug, Clone)]
pub struct Segment {
    pub pass: Arc<Pass>,
    /// Where the lap's tick 0 lies in the take (before the segment's start if it begins inside the lap).
    pub origin: Tick,
    /// The first bar played.
    pub from_bar: usize,
    /// The bar after the last one played.
    pub to_bar: usize,
}

impl Segment {
    /// Where it starts in the take.
    pub fn start(&self) -> Tick {
        self.bar_start(self.from_bar)
    }

    /// Where it ends.
    pub fn end(&self) -> Tick {
        self.bar_start(self.to_bar)
    }

    /// The start of a bar of the lap in the take; the lap's end for the bar after the last.
    pub fn bar_start(&self, bar: usize) -> Tick {
        self.origin
            + self
                .pass
                .lap
                .bars
                .get(bar)
                .map_or(self.pass.lap.len, |bar| bar.start)
    }

    /// The bar of the lap that `tick` lies in.
    pub fn bar_at(&self, tick: Tick) -> usize {
        let within = tick - self.origin;
        let after = self
            .pass
            .lap
            .bars
            .partition_point(|bar| bar.start <= within);
        after.saturating_sub(1).clamp(
            self.from_bar,
            self.to_bar.saturating_sub(1).max(self.from_bar),
        )
    }

    /// Section and bar (from 1) at a tick; no bar in a count-in.
    pub fn place_at(&self, tick: Tick) -> (String, Option<u32>) {
        let form = &self.pass.material.form;
        let bar = &form.bars[self.pass.lap.bars[self.bar_at(tick)].form_bar];
        let section = form.section_names[bar.section].clone();
        let counts = self.pass.kind != PassKind::CountIn;
        (section, counts.then_some(bar.bar))
    }

    /// The meter of the bar that `tick` lies in.
    pub fn meter_at(&self, tick: Tick) -> Meter {
        self.pass.lap.bars[self.bar_at(tick)].meter
    }

    /// The bars it plays.
    pub fn bars(&self) -> impl Iterator<Item = (usize, &LapBar)> {
        self.pass
            .lap
            .bars
            .iter()
            .enumerate()
            .skip(self.from_bar)
            .take(self.to_bar - self.from_bar)
    }
}

/// What is planned, from the bar that sounds on.
#[derive(Debug, Clone)]
pub struct Timeline {
    segments: VecDeque<Segment>,
    /// Where a tick at or before the first bar still kept is known to sound.
    anchor: Anchor,
    /// A clock from outside says where it is: the tempos of the passes do not count.
    followed: bool,
}

impl Timeline {
    /// An empty line whose next tick sounds where `anchor` says.
    pub fn new(anchor: Anchor) -> Timeline {
        Timeline {
            segments: VecDeque::new(),
            anchor,
            followed: false,
        }
    }

    /// A clock from outside says that `tick` sounds on `at`, at `tempo` from there.
    pub fn follow(&mut self, tick: Tick, at: Frame, tempo: UsPerQuarter) {
        self.anchor = Anchor::new(tick, at, tempo, self.anchor.rate());
        self.followed = true;
    }

    /// The player says that the bar at `tick` began to sound on `at`. Where that is not what was reckoned (what was
    /// decided came too late to it), all that follows moves with it.
    pub fn began(&mut self, tick: Tick, at: Frame) {
        let late_frames = at.0 as i64 - self.frame(tick).0 as i64;
        // Both round to a frame; a clock from outside says of each tick where it is.
        if late_frames.abs() > 1 && !self.followed {
            self.anchor = self.anchor.delayed(late_frames);
        }
    }

    /// The segments, oldest first.
    pub fn segments(&self) -> impl DoubleEndedIterator<Item = &Segment> {
        self.segments.iter()
    }

    /// Where the plan ends.
    pub fn end(&self) -> Tick {
        self.segments
            .back()
            .map_or(self.anchor.anchored_tick(), Segment::end)
    }

    /// Appends bars `from_bar..to_bar` of a pass at the plan's end.
    pub fn push(&mut self, pass: Arc<Pass>, from_bar: usize, to_bar: usize) {
        let first = pass
            .lap
            .bars
            .get(from_bar)
            .map_or(pass.lap.len, |bar| bar.start);
        let origin = self.end() - first;
        self.segments.push_back(Segment {
            pass,
            origin,
            from_bar,
            to_bar,
        });
    }

    /// Cuts the plan at `tick`, which must be a bar line or lie beyond the end.
    pub fn cut(&mut self, tick: Tick) {
        while self
            .segments
            .back()
            .is_some_and(|segment| segment.start() >= tick)
        {
            self.segments.pop_back();
        }
        if let Some(last) = self.segments.back_mut().filter(|last| last.end() > tick) {
            last.to_bar = last
                .pass
                .lap
                .bars
                .partition_point(|bar| last.origin + bar.start < tick);
        }
    }

    /// Puts another pass in the place of the one that the segment containing `tick` plays (the same bars).
    pub fn rewrite(&mut self, tick: Tick, pass: Arc<Pass>) {
        if let Some(segment) = self
            .segments
            .iter_mut()
            .find(|s| s.start() <= tick && tick < s.end())
        {
            segment.pass = pass;
        }
    }

    /// Puts another pass in the place of the one that `tick` lies in, to be played to its end; what was planned
    /// after it is dropped. The two must have the same bars up to the one that sounds.
    pub fn swap(&mut self, tick: Tick, pass: Arc<Pass>) {
        let found = self
            .segments
            .iter()
            .position(|segment| segment.start() <= tick && tick < segment.end());
        if let Some(index) = found {
            self.segments.truncate(index + 1);
            self.segments[index].to_bar = pass.lap.bars.len();
            self.segments[index].pass = pass;
        }
    }

    /// Puts another pass in the place of the one that `tick` lies in, to be played to its end; what was planned after it is
    /// dropped. Where that pass is parted in two by a change of tempo, each part stays at its own. `write` writes it for a tempo;
    /// it must have the same bars as far as the parts that are kept.
    pub fn turn(&mut self, tick: Tick, mut write: impl FnMut(UsPerQuarter) -> Arc<Pass>) {
        let found = self
            .segments
            .iter()
            .position(|segment| segment.start() <= tick && tick < segment.end());
        let Some(first) = found else { return };
        let goes_on = |pair: &(&Segment, &Segment)| {
            let (before, after) = pair;
            after.from_bar == before.to_bar && after.pass.standing == before.pass.standing
        };
        let here = self.segments.iter().skip(first);
        let pairs = here.clone().zip(here.skip(1));
        let last = first + pairs.take_while(goes_on).count();
        self.segments.truncate(last + 1);
        for segment in self.segments.iter_mut().skip(first) {
            segment.pass = write(segment.pass.tempo);
        }
        if let Some(segment) = self.segments.back_mut() {
            segment.to_bar = segment.pass.lap.bars.len();
        }
    }

    /// Forgets what is long over and moves the anchor up. The segment before the one that sounds is kept: page
    /// turns near the seam are worked out from both sides of it.
    pub fn forget_before(&mut self, tick: Tick) {
        while self
            .segments
            .get(1)
            .is_some_and(|second| second.end() <= tick)
        {
            let Some(first) = self.segments.pop_front() else {
                return;
            };
            if self.followed {
                continue;
            }
            // The anchor must hold the first segment's tempo up to its end.
            let tempo = first.pass.tempo;
            if tempo != self.anchor.tempo() {
                self.anchor = self.anchor.moved_to(first.start(), tempo);
            }
            self.anchor = self.anchor.moved_to(first.end(), tempo);
        }
    }

    /// The segment that `tick` lies in.
    pub fn segment_at(&self, tick: Tick) -> Option<&Segment> {
        self.segments
            .iter()
            .find(|segment| segment.start() <= tick && tick < segment.end())
    }

    /// The frame on which a tick sounds.
    pub fn frame(&self, tick: Tick) -> Frame {
        self.anchor_at(tick).frame(tick)
    }

    /// The last tick that sounds on or before a frame.
    pub fn tick(&self, frame: Frame) -> Tick {
        let mut anchor = self.anchor;
        for (start, tempo) in self.tempo_changes() {
            if anchor.frame(start) > frame {
                break;
            }
            anchor = anchor.moved_to(start, tempo);
        }
        anchor.tick(frame)
    }

    /// Where the bars begin, in order.
    pub fn bar_lines(&self) -> impl Iterator<Item = Tick> {
        let lines = |segment: &'_ Segment| -> Vec<Tick> {
            let bars = segment.from_bar..segment.to_bar;
            bars.map(|bar| segment.bar_start(bar)).collect()
        };
        self.segments.iter().flat_map(lines)
    }

    /// The first bar line at or after `tick`; the plan's end if there is none.
    pub fn bar_line(&self, tick: Tick) -> Tick {
        let line = self.bar_lines().find(|start| *start >= tick);
        line.unwrap_or_else(|| self.end())
    }

    /// The bars from `from` (a bar that contains it included) on, as the player takes them. `last` marks
    /// whether the plan's end is the end of the take.
    pub fn bars_from(&self, from: Tick, most: usize, epoch: u32, last: bool) -> Vec<Bar> {
        let end = self.end();
        let mut bars = Vec::new();
        for segment in self.segments.iter().filter(|segment| segment.end() > from) {
            for (index, bar) in segment.bars() {
                let start = segment.bar_start(index);
                let len = bar.meter.bar_ticks();
                if start + len <= from {
                    continue;
                }
                if bars.len() == most {
                    return bars;
                }
                let is_last = last && start + len >= end;
                bars.push(Bar {
                    epoch,
                    start,
                    len,
                    meter: bar.meter,
                    tempo: segment.pass.tempo,
                    notes: notes_in(segment, start, len),
                    last: is_last,
                });
            }
        }
        bars
    }

    fn tempo_changes(&self) -> impl Iterator<Item = (Tick, UsPerQuarter)> {
        let own = self.segments.iter().filter(|_| !self.followed);
        own.map(|segment| (segment.start(), segment.pass.tempo))
    }

    fn anchor_at(&self, tick: Tick) -> Anchor {
        let mut anchor = self.anchor;
        for (start, tempo) in self.tempo_changes().filter(|(start, _)| *start <= tick) {
            if tempo != anchor.tempo() {
                anchor = anchor.moved_to(start, tempo);
            }
        }
        anchor
    }
}

fn notes_in(segment: &Segment, start: Tick, len: Tick) -> arrayvec::ArrayVec<TimedNote, BAR_NOTES> {
    let notes = &segment.pass.notes;
    let from = start - segment.origin;
    let first = notes.partition_point(|note| note.at < from);
    let inside = notes[first..]
        .iter()
        .take_while(|note| note.at < from + len);
    inside
        .take(BAR_NOTES)
        .map(|note| TimedNote {
            at: note.at + segment.origin,
            ..*note
        })
        .collect()
}
