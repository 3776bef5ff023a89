//! What the core does when an action is asked for.

use super::action::Action;
use super::core::Core;
use super::course::{Loop, distinct_chords};
use super::event::{Effect, Recorded, Saying};
use super::menu::Menu;
use super::pass::PassKind;
use super::plan::{Armed, Begins, Cursor, Take};
use super::{Material, Standing, cues, show};
use crate::audio::Command;
use crate::drill::Model;
use crate::speech::{self, FormLimit};
use crate::time::{Frame, Part, Tick, UsPerQuarter};
use std::sync::Arc;

impl Core {
    /// Does an action that was asked for on `stamp`.
    pub(super) fn act(&mut self, action: Action, stamp: Frame) {
        match action {
            Action::Start => self.begin_after(stamp),
            Action::Stop => self.stop(stamp),
            Action::Panic => self.panic(),
            Action::MenuOpen => self.open_menu(stamp),
            Action::MenuMove => self.move_menu(stamp),
            Action::MenuTake => self.take_menu(stamp),
            Action::MenuLeave => self.leave_menu(),
            Action::TapTempo => self.tap(stamp),
            Action::TempoUp => self.tempo_by(self.settings.tempo_step_qpm, stamp),
            Action::TempoDown => self.tempo_by(-self.settings.tempo_step_qpm, stamp),
            Action::Louder => self.level_by(self.settings.level_step_db, stamp),
            Action::Softer => self.level_by(-self.settings.level_step_db, stamp),
            Action::MutePart(part) => self.mute(part, stamp),
            Action::ModelTones => self.switch_model(stamp),
            Action::SayAgain => self.say_again(stamp),
            Action::StayHere => self.stay(stamp),
            Action::ThisSpot => self.this_spot(stamp),
            Action::TopOfSectionNow => self.top_now(stamp),
            Action::BarBack => self.shift_bar(stamp, 0),
            Action::BarOn => self.shift_bar(stamp, 2),
            Action::NextStage | Action::PreviousStage if self.is_held() => {
                self.next_held(action, stamp)
            }
            Action::NextStage
            | Action::PreviousStage
            | Action::NextSection
            | Action::PreviousSection
            | Action::WholeForm
            | Action::ListenBack
            | Action::LastTime
            | Action::NextKey
            | Action::NextChart => self.arm(action, stamp),
        }
        self.bind_switches();
        self.acknowledge();
    }

    /// The frame on which an action given on `stamp` will take effect; `None` where it changes nothing in
    /// the music.
    pub(super) fn applied(&self, action: Action, stamp: Frame) -> Option<Frame> {
        use super::action::Moment;
        let earliest = self.earliest(stamp);
        let Some(take) = &self.take else {
            return Some(earliest);
        };
        let from = take.timeline.tick(earliest);
        match action.moment() {
            Moment::Now => Some(earliest),
            Moment::NextBar => Some(take.timeline.frame(take.timeline.bar_line(from))),
            Moment::SectionEnd => Some(take.timeline.frame(self.section_end(take, from))),
        }
    }

    // --- start and stop

    fn begin_after(&mut self, stamp: Frame) {
        if self.take.is_none() {
            self.begin(self.earliest(stamp));
        }
    }

    /// A take begins, its first count on `at`.
    pub(super) fn begin(&mut self, at: Frame) {
        self.leave_menu_quietly();
        let pulse = self.standing.stage_of(&self.material).pulse;
        let at_top = matches!(self.standing.looping, Loop::Item(0) | Loop::Form);
        let cursor = Cursor {
            count_in: pulse.then_some(at_top),
            ..self.here()
        };
        self.launch(cursor, at, None);
        self.announce_stage();
    }

    /// Starts the player on `at` with what `cursor` plans. `first` is the tick that sounds there; without it
    /// the first full bar is tick 0 and the count-in comes before.
    fn launch(&mut self, cursor: Cursor, at: Frame, first: Option<Tick>) {
        let starts = self.take.is_none();
        let first = first.unwrap_or_else(|| {
            let counting = cursor.count_in.map(|pickup| {
                let (material, standing) = (&cursor.material, cursor.standing.clone());
                super::pass::Pass::count_in(material, standing, pickup, self.tempo, &self.playing)
                    .lap
                    .len
            });
            Tick(-counting.unwrap_or(Tick(0)).0)
        });
        let mut take = Take::new(cursor, self.begins(at, first));
        take.extend(first, self.tempo, &self.playing);
        take.settle();
        let replace = take.resend(first, &mut self.bar_ids);
        self.epoch = take.epoch();
        self.take = Some(take);
        self.hush_cues(at);
        self.out
            .push(Effect::Audio(Command::Start { at, tick: first }));
        self.out.push(Effect::Audio(replace));
        if starts {
            self.last_section = None;
            self.last_stage = None;
            self.announced = None;
            self.began = self.began.or(Some(at));
            self.record(first, Recorded::Take { starts: true });
        }
    }

    fn begins(&self, at: Frame, first: Tick) -> Begins {
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

    fn stop(&mut self, stamp: Frame) {
        if self.take.is_none() {
            return;
        }
        let at = self.earliest(stamp);
        self.hush_cues(at);
        self.out.push(Effect::Audio(Command::Stop { at }));
        self.end_take(at);
    }

    fn panic(&mut self) {
        self.out.push(Effect::Audio(Command::Panic));
        if self.take.is_some() {
            self.end_take(self.now);
        }
    }

    /// The player says that the take is over.
    pub(super) fn ended(&mut self, frame: Frame) {
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
        self.save();
    }

    pub(super) fn audio_lost(&mut self, why: String) {
        self.lost = Some(why);
        self.refresh();
    }

    pub(super) fn audio_back(&mut self, at: Frame, rate: u32) {
        let lost_at = self.now;
        self.lost = None;
        self.forget_home();
        if rate != self.settings.rate {
            self.gestures = super::Gestures::new(&self.settings.switches, rate);
            self.taps = crate::clock::tap::TapTempo::new(rate);
        }
        self.settings.rate = rate;
        self.send_levels(self.now);
        let Some(take) = self.take.take() else {
            return self.refresh();
        };
        let tick = take.timeline.tick(lost_at);
        let found = take
            .timeline
            .segment_at(tick)
            .map(|segment| (segment.clone(), segment.bar_at(tick)));
        self.epoch = take.epoch();
        let Some((segment, bar)) = found else {
            return self.refresh();
        };
        let pass = segment.pass.clone();
        let cursor = Cursor {
            material: pass.material.clone(),
            standing: pass.standing.clone(),
            from_bar: bar,
            count_in: (pass.kind == PassKind::CountIn).then_some(!pass.lap.chords.is_empty()),
        };
        let first = segment.bar_start(bar);
        // The take was only interrupted: it goes on, so nothing is recorded as started.
        self.now = at;
        let mut resumed = Take::new(cursor, self.begins(at, first));
        resumed.extend(first, self.tempo, &self.playing);
        resumed.settle();
        let replace = resumed.resend(first, &mut self.bar_ids);
        self.epoch = resumed.epoch();
        self.take = Some(resumed);
        self.out
            .push(Effect::Audio(Command::Start { at, tick: first }));
        self.out.push(Effect::Audio(replace));
        self.bind_switches();
        self.refresh();
    }

    // --- what waits for the section's end

    /// The end of the section (or of what goes round) that sounds at `from` or later.
    fn section_end(&self, take: &Take, from: Tick) -> Tick {
        let Some(segment) = take.timeline.segment_at(from) else {
            return take.timeline.end();
        };
        let pass = &segment.pass;
        if !matches!(pass.kind, PassKind::Music(_)) {
            return segment.end();
        }
        let form = &pass.material.form;
        let item = |bar: usize| form.bars[pass.lap.bars[bar].form_bar].item;
        // A bar line that is exactly `from` is still in time.
        let here = if segment.bar_start(segment.bar_at(from)) == from && from > segment.start() {
            segment.bar_at(from) - 1
        } else {
            segment.bar_at(from)
        };
        let end = (here + 1..segment.to_bar).find(|bar| item(*bar) != item(here));
        segment.bar_start(end.unwrap_or(segment.to_bar))
    }

    fn arm(&mut self, action: Action, stamp: Frame) {
        let earliest = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return self.at_rest(action);
        };
        let from = take.timeline.tick(earliest);
        let mut actions = take
            .armed
            .as_ref()
            .map(|armed| armed.actions.clone())
            .unwrap_or_default();
        actions.push(action);
        if action == Action::NextSection {
            self.take_the_ending_that_goes_on(from);
        }
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let cut = match &take.armed {
            Some(armed) if armed.cut >= from => armed.cut,
            // The last time round is round to the end of what goes round.
            _ if action == Action::LastTime => {
                take.timeline.segment_at(from).map_or(from, |s| s.end())
            }
            _ => self.section_end(take, from),
        };
        let instead_of = match &take.armed {
            Some(armed) if armed.cut == cut => armed.instead_of.clone(),
            _ => self.cursor_at(take, cut),
        };
        self.arm_at(actions, cut, instead_of, stamp);
    }

    fn arm_at(&mut self, actions: Vec<Action>, cut: Tick, instead_of: Cursor, stamp: Frame) {
        let earliest = self.earliest(stamp);
        let mut target = instead_of.clone();
        for action in &actions {
            target = self.target_of(*action, &target);
        }
        let last_time = actions.last() == Some(&Action::LastTime);
        let words: Vec<String> = actions
            .iter()
            .map(|action| super::core::words(*action))
            .collect();
        let armed = Armed {
            what: words.join(", "),
            actions,
            cut,
            instead_of,
            target: target.clone(),
        };
        let playing = self.playing.clone();
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let from = take.timeline.tick(earliest);
        take.replan(cut, target);
        take.ends = last_time;
        take.lead_into(&playing);
        take.armed = Some(armed);
        self.rewrite_future(from, stamp);
        self.announce_armed(cut, from);
    }

    /// Plans on, settles, and hands the player the bars from `from` on.
    fn rewrite_future(&mut self, from: Tick, stamp: Frame) {
        let tempo = self.tempo;
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let now = take.timeline.tick(self.now);
        take.extend(now, tempo, &self.playing);
        take.settle();
        let replace = take.resend(from, &mut self.bar_ids);
        self.epoch = take.epoch();
        self.hush_cues(self.earliest(stamp));
        self.out.push(Effect::Audio(replace));
    }

    /// Cues that were handed over are not wanted any more from `at` on.
    fn hush_cues(&mut self, at: Frame) {
        let below = self.cue_ids + 1;
        self.out
            .push(Effect::Audio(Command::HushCues { at, below }));
    }

    /// What the plan as it stands would play from the bar line `cut` on.
    fn cursor_at(&self, take: &Take, cut: Tick) -> Cursor {
        let Some(segment) = take.timeline.segment_at(cut) else {
            return take.cursor.clone();
        };
        let pass = &segment.pass;
        Cursor {
            material: pass.material.clone(),
            standing: pass.standing.clone(),
            from_bar: segment.bar_at(cut),
            count_in: (pass.kind == PassKind::CountIn).then_some(!pass.lap.chords.is_empty()),
        }
    }

    /// Where an action leads from `base`.
    fn target_of(&self, action: Action, base: &Cursor) -> Cursor {
        let material = &base.material;
        let mut standing = base.standing.clone();
        standing.breathing = false;
        let item = self.item_of(base);
        let stage = |steps: i32| Cursor {
            standing: standing.with_stage(material, steps),
            ..base.clone()
        };
        let section = |item: usize| {
            let standing = Standing {
                pass: 0,
                ..standing.in_section(item)
            };
            Cursor::pass(material, standing)
        };
        match action {
            Action::NextStage => stage(1),
            Action::PreviousStage => stage(-1),
            Action::NextSection => section(material.form.next_other_section(item).unwrap_or(item)),
            Action::PreviousSection => {
                section(material.form.previous_other_section(item).unwrap_or(item))
            }
            Action::WholeForm => Cursor::pass(
                material,
                Standing {
                    looping: Loop::Form,
                    pass: 0,
                    ..standing
                },
            ),
            Action::StayHere => {
                Cursor::pass(material, standing.in_section(material.home_item(item)))
            }
            Action::ListenBack => Cursor {
                standing: Standing {
                    pass: 0,
                    ..standing
                },
                ..base.clone()
            },
            Action::NextKey => match material.a_fourth_on() {
                Some(moved) => Cursor {
                    material: Arc::new(moved),
                    standing,
                    ..base.clone()
                },
                None => base.clone(),
            },
            Action::NextChart => {
                let moved = Arc::new(self.chart_material(self.chart + 1));
                Cursor::pass(
                    &moved,
                    Standing {
                        stage: standing.stage,
                        ..Standing::first()
                    },
                )
            }
            _ => base.clone(),
        }
    }

    fn chart_material(&self, index: usize) -> Material {
        let chart = self.library.charts[index % self.library.charts.len()].clone();
        Material::new(
            chart,
            self.library.drill.clone(),
            self.settings.habits.clone(),
        )
    }

    /// The form item that sounded before the bar at which `base` would go on.
    fn item_of(&self, base: &Cursor) -> usize {
        match &base.standing.looping {
            Loop::Item(item) => *item,
            _ => self.last_section.map_or(0, |(item, _)| item),
        }
    }

    /// While a section goes round it takes its first ending; leaving it takes the ending that leads on.
    fn take_the_ending_that_goes_on(&mut self, from: Tick) {
        let (tempo, playing) = (self.tempo, self.playing.clone());
        let Some(take) = self.take.as_mut().filter(|take| take.armed.is_none()) else {
            return;
        };
        let Some(segment) = take.timeline.segment_at(from).cloned() else {
            return;
        };
        let (pass, material) = (&segment.pass, &segment.pass.material);
        let Loop::Item(item) = pass.standing.looping else {
            return;
        };
        let going_on = material.leaving_item(item);
        if going_on == item || !matches!(pass.kind, PassKind::Music(_)) {
            return;
        }
        // Too late once the bar that sounds is one of the ending's.
        if segment.bar_at(from) >= material.bars_in_common(item, going_on) {
            return;
        }
        let after = Cursor::pass(material, pass.standing.next(material));
        let leaving = Cursor::pass(material, pass.standing.in_section(going_on));
        take.timeline
            .swap(from, Arc::new(leaving.write(tempo, &playing, false)));
        take.cursor = after;
    }

    /// Armed actions with nothing playing happen at once.
    fn at_rest(&mut self, action: Action) {
        let target = self.target_of(action, &self.here());
        if action == Action::NextChart {
            self.chart = (self.chart + 1) % self.library.charts.len();
            let per_cent = self.settings.tempo_per_cent / 100.0;
            self.tempo = UsPerQuarter::from_qpm(target.material.chart.tempo_qpm * per_cent);
        }
        self.material = target.material;
        self.standing = target.standing;
        self.paused_bar = None;
        self.last_section = match self.standing.looping {
            Loop::Item(item) => Some((item, self.standing.stage)),
            _ => None,
        };
        self.save();
    }

    /// Valid new charts and a new drill take over at the section's end.
    pub(super) fn reload(&mut self, library: super::Library) {
        if library.charts.is_empty() {
            return;
        }
        let title = &self.material.chart.title;
        let kept = library
            .charts
            .iter()
            .position(|chart| chart.title == *title);
        self.chart = kept.unwrap_or(0);
        self.library = library;
        let material = Arc::new(self.chart_material(self.chart));
        let fit = |standing: &Standing| {
            let stage = standing.stage.min(material.drill.stages.len() - 1);
            let item = match standing.looping {
                Loop::Item(item) => item.min(material.form.items().saturating_sub(1)),
                _ => 0,
            };
            Standing {
                stage,
                looping: Loop::Item(item),
                ..Standing::first()
            }
        };
        let Some(take) = self.take.as_ref() else {
            self.standing = fit(&self.standing);
            self.material = material;
            return self.refresh();
        };
        let from = take.timeline.tick(self.now);
        let cut = self.section_end(take, from);
        let cursor = Cursor::pass(&material, fit(&self.cursor_at(take, cut).standing));
        let playing = self.playing.clone();
        if let Some(take) = self.take.as_mut() {
            take.armed = None;
            take.replan(cut, cursor);
            take.lead_into(&playing);
        }
        self.rewrite_future(from, self.now);
        self.refresh();
    }

    fn stay(&mut self, stamp: Frame) {
        let earliest = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let from = take.timeline.tick(earliest);
        if let Some(armed) = take.armed.clone().filter(|armed| armed.cut >= from) {
            let playing = self.playing.clone();
            if let Some(take) = self.take.as_mut() {
                take.armed = None;
                take.announcements.clear();
                take.replan(armed.cut, armed.instead_of);
                take.lead_into(&playing);
            }
            return self.rewrite_future(from, stamp);
        }
        if !matches!(self.standing.looping, Loop::Item(_)) {
            let cut = self.section_end(take, from);
            let instead_of = self.cursor_at(take, cut);
            self.arm_at(vec![Action::StayHere], cut, instead_of, stamp);
        }
    }

    // --- places in the tune

    fn this_spot(&mut self, stamp: Frame) {
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
            let what = super::core::words(Action::ThisSpot);
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

    fn top_now(&mut self, stamp: Frame) {
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
    fn jump(&mut self, cursor: Cursor, at: Frame, first: Tick) {
        let shown = self.take.as_ref().and_then(|take| take.shown);
        self.epoch = self.take.as_ref().map_or(self.epoch, Take::epoch);
        self.launch(cursor, at, Some(first));
        if let Some(take) = self.take.as_mut() {
            take.shown = shown.filter(|_| false);
        }
    }

    /// At the next bar line goes on `by` bars after the bar that sounds now (0: it comes again).
    fn shift_bar(&mut self, stamp: Frame, by: usize) {
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

    // --- out of time

    fn is_held(&self) -> bool {
        self.take.is_some() && !self.standing.stage_of(&self.material).pulse
    }

    /// The next held chord; after the last one the next stage, counted in.
    fn next_held(&mut self, action: Action, stamp: Frame) {
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
        match held.filter(|held| *held < chords) {
            Some(held) => {
                self.standing.held = held;
                let cursor = self.here();
                self.jump(cursor, at, first);
            }
            None => {
                let standing = self
                    .standing
                    .with_stage(&self.material, if back { -1 } else { 1 });
                let pulse = standing.stage_of(&self.material).pulse;
                let cursor = Cursor {
                    count_in: pulse.then_some(false),
                    ..Cursor::pass(&self.material, standing)
                };
                self.jump(cursor, at, first);
                self.announce_stage();
            }
        }
    }

    // --- tempo

    fn tap(&mut self, stamp: Frame) {
        let Some(tapped) = self.taps.tap(stamp) else {
            return;
        };
        let meter = self
            .material
            .form
            .bars
            .first()
            .map_or(crate::time::Meter::COMMON, |bar| bar.meter);
        let playing = self.foot_state() == super::FootState::Playing;
        let counts = 60_000.0 / self.tempo.ms(meter.count_ticks());
        if playing && !tapped.is_near(counts) {
            return;
        }
        self.set_tempo(tapped.qpm(meter), stamp);
    }

    fn tempo_by(&mut self, step_qpm: f64, stamp: Frame) {
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

    // --- the band

    fn level_by(&mut self, step_db: f32, stamp: Frame) {
        self.master_db = (self.master_db + step_db).clamp(-60.0, 0.0);
        self.send_levels(self.earliest(stamp));
        self.save();
    }

    fn mute(&mut self, part: Part, stamp: Frame) {
        match self.playing.muted.iter().position(|muted| *muted == part) {
            Some(index) => drop(self.playing.muted.remove(index)),
            None => self.playing.muted.push(part),
        }
        let muted: Vec<&str> = self.playing.muted.iter().map(|part| part.name()).collect();
        let value = format!("muted: {}", muted.join(" "));
        self.rewrite_band(value, stamp);
    }

    fn switch_model(&mut self, stamp: Frame) {
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
        let earliest = self.earliest(stamp);
        let playing = self.playing.clone();
        let Some(take) = self.take.as_mut() else {
            return self.record_outside(what);
        };
        let from = take.timeline.bar_line(take.timeline.tick(earliest));
        let now = take.timeline.tick(self.now);
        take.rewrite(now, &playing);
        self.record(from, what);
        self.rewrite_future(from, stamp);
    }

    // --- the voice

    fn say_again(&mut self, stamp: Frame) {
        let phrases = show::say_again(self);
        if phrases.full.is_empty() {
            return;
        }
        let id = self.await_cue(phrases.clone(), FormLimit::Full, None, None);
        self.out.push(Effect::Say(Saying {
            id,
            phrases,
            limit: FormLimit::Full,
            windows: Default::default(),
            now: Some(self.earliest(stamp)),
        }));
    }

    /// The stage is named once, in the count-in, before the first target.
    fn announce_stage(&mut self) {
        let stage = self.standing.stage;
        if self.announced == Some(stage) {
            return;
        }
        let phrases = speech::stage_phrases(&self.standing.stage_of(&self.material).name);
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let Some(first) = take.timeline.segments().next().cloned() else {
            return;
        };
        if first.pass.kind != PassKind::CountIn {
            return;
        }
        let half = Tick(first.start().0 + (first.end() - first.start()).0 / 2);
        let window = (first.start(), half);
        let counts = super::steps::counts(&take.timeline);
        let planned =
            cues::announcement(phrases, &take.steps, &counts, window.0, window.1, &|tick| {
                take.ms(tick)
            });
        if let Some(cue) = planned {
            take.announcements.push(cue);
            take.settle();
            self.announced = Some(stage);
        }
    }

    /// What is armed is named where the voice is free, before the bar in which the next targets are named.
    fn announce_armed(&mut self, cut: Tick, from: Tick) {
        let Some(take) = self.take.as_mut() else {
            return;
        };
        let Some(armed) = &take.armed else { return };
        let target = &armed.target;
        let names = self.settings.names;
        let phrases = match armed.actions.last() {
            Some(Action::NextStage | Action::PreviousStage | Action::ListenBack) => {
                speech::stage_phrases(&target.standing.stage_of(&target.material).name)
            }
            Some(Action::NextSection | Action::PreviousSection) => speech::section_phrases(
                &show::section_name(&target.material, &target.standing),
                names,
            ),
            Some(Action::WholeForm) => speech::stage_phrases("whole form"),
            _ => return,
        };
        let now = take.timeline.tick(self.now);
        let counts = super::steps::counts(&take.timeline);
        let last_bar = counts
            .iter()
            .rev()
            .find(|count| take.ms(cut) - take.ms(**count) >= 2500.0);
        let to = last_bar.copied().unwrap_or(now);
        let planned = cues::announcement(phrases, &take.steps, &counts, from, to, &|tick| {
            take.ms(tick)
        });
        take.announcements.retain(|cue| cue.hand_over <= now);
        if let Some(cue) = planned {
            take.announcements.push(cue);
            take.settle();
        }
    }

    // --- the menu

    fn open_menu(&mut self, stamp: Frame) {
        // The press that came before may have started the count: it dies.
        if self.take.is_some() {
            self.stop(stamp);
        }
        self.menu = Some(Menu::new(stamp));
    }

    fn move_menu(&mut self, stamp: Frame) {
        if let Some(menu) = &mut self.menu {
            menu.advance(stamp);
        }
    }

    fn take_menu(&mut self, stamp: Frame) {
        let Some(chosen) = self.menu.as_mut().map(|menu| menu.chosen(stamp)) else {
            return;
        };
        match chosen {
            Some(action) => {
                let menu = self.menu.take();
                self.act(action, stamp);
                self.menu = menu;
            }
            None => self.menu = None,
        }
    }

    fn leave_menu(&mut self) {
        self.menu = None;
    }

    fn leave_menu_quietly(&mut self) {
        self.menu = None;
        self.paused_bar = None;
    }
}
