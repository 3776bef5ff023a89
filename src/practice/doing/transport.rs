//! Start, stop and panic; a take begins and ends.

use crate::audio::Command;
use crate::plan::cursor::Cursor;
use crate::plan::pass::Pass;
use crate::plan::standing::Loop;
use crate::plan::take::{Begins, TakePlan};
use crate::practice::core::Core;
use crate::practice::event::{Effect, Recorded};
use crate::time::{Frame, Tick};

impl Core {
    pub(in crate::practice) fn begin_after(&mut self, stamp: Frame) {
        if self.take.is_none() {
            self.begin(self.earliest(stamp));
        }
    }

    /// A take begins, its first count on `at`.
    pub(in crate::practice) fn begin(&mut self, at: Frame) {
        self.leave_menu_quietly();
        let pulse = self.standing.stage_of(&self.material).pulse;
        let at_top = matches!(self.standing.looping, Loop::Item(0) | Loop::Form);
        let cursor = Cursor {
            count_in: pulse.then_some(at_top),
            ..self.here()
        };
        self.launch(cursor, at, None);
        self.announce_stage();
        self.name_held();
    }

    /// Starts the player on `at` with what `cursor` plans. `first` is the tick that sounds there; without it
    /// the first full bar is tick 0 and the count-in comes before.
    pub(in crate::practice) fn launch(&mut self, cursor: Cursor, at: Frame, first: Option<Tick>) {
        let starts = self.take.is_none();
        self.hearing.cut(at);
        self.new_take(starts);
        let first = first.unwrap_or_else(|| {
            let counting = cursor.count_in.map(|pickup| {
                let (material, standing) = (&cursor.material, cursor.standing.clone());
                Pass::count_in(material, standing, pickup, self.tempo, &self.playing)
                    .lap
                    .len
            });
            Tick(-counting.unwrap_or(Tick(0)).0)
        });
        let mut take = TakePlan::new(cursor, self.begins(at, first));
        take.extend(first, self.tempo, &self.playing);
        take.settle();
        let replace = take.resend(first, &mut self.bar_ids);
        self.epoch = take.epoch();
        self.take = Some(take);
        self.hush_cues(at);
        self.out
            .push(Effect::Audio(Command::Start { at, tick: first }));
        self.out.push(Effect::Audio(replace));
        if starts || self.last_take.is_none() {
            self.last_take = Some((at, None));
        }
        if starts {
            self.last_section = None;
            self.last_stage = None;
            self.announced = None;
            self.began = self.began.or(Some(at));
            self.record(first, Recorded::Take { starts: true });
        }
    }

    /// Times of the take before, or of before a jump, say nothing in the one that begins.
    pub(in crate::practice) fn new_take(&mut self, starts: bool) {
        self.takes += 1;
        self.finding = Default::default();
        if starts {
            self.tuning = None;
            self.readiness.begin_again();
            self.hearing.take_begins();
        }
    }

    pub(in crate::practice) fn begins(&self, at: Frame, first: Tick) -> Begins {
        let (rate, names) = (self.settings.rate, self.settings.names);
        Begins {
            at,
            first,
            tempo: self.tempo,
            rate,
            epoch: self.epoch,
            names,
        }
    }

    pub(in crate::practice) fn stop(&mut self, stamp: Frame) {
        if self.take.is_none() {
            return;
        }
        let at = self.earliest(stamp);
        self.hush_cues(at);
        self.out.push(Effect::Audio(Command::Stop { at }));
        self.end_take(at);
    }

    pub(in crate::practice) fn panic(&mut self) {
        self.out.push(Effect::Audio(Command::Panic));
        if self.take.is_some() {
            self.end_take(self.now);
        }
    }

    /// The player says that the take is over.
    pub(in crate::practice) fn ended(&mut self, frame: Frame) {
        let is_over = self.take.as_ref().is_some_and(|take| {
            take.ends
                && take.timeline.frame(take.timeline.end())
                    <= frame.plus_ms(1.0, self.settings.rate)
        });
        if is_over || self.ended_by_clock(frame) {
            self.end_take(frame);
            self.bind_switches();
            self.acknowledge();
        }
    }

    fn end_take(&mut self, at: Frame) {
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let tick = take.timeline.tick(at);
        self.hearing.cut(at);
        self.last_take = self.last_take.map(|(began, _)| (began, Some(at)));
        self.epoch = take.epoch();
        self.paused_bar = self.where_now().1;
        self.record(tick, Recorded::Take { starts: false });
        self.take = None;
        self.leave_clock();
        self.standing.breathing = false;
        self.standing.pass = 0;
        if matches!(self.standing.looping, Loop::Item(_)) {
            let item = self.last_section.map_or(0, |(item, _)| item);
            self.standing.looping = Loop::Item(self.material.home_item(item));
        }
        self.awaited.clear();
        if let Some(reloading) = self.reloading.take() {
            self.take_over(reloading);
        }
        self.save();
    }
}
