//! Start, stop and panic; the audio server goes and comes back; new charts.

use super::board::{Done, NowIs};
use super::brought::Reload;
use super::change::Changing;
use super::core::Core;
use super::event::Recorded;
use super::page::NEW_SETTINGS;
use super::running::{OnTop, State};
use super::settings::{Library, Settings};
use crate::audio::Command;
use crate::clock::tap::TapTempo;
use crate::drill::Drill;
use crate::foot::{Action, FootState, Gestures};
use crate::judging::PassRecords;
use crate::plan::Loop;
use crate::plan::cursor::{CountIn, Cursor};
use crate::plan::take::TakePlan;
use crate::time::Frame;

impl Core {
    /// What is planned of the take that plays.
    pub fn plan(&self) -> Option<&TakePlan> {
        self.running().map(|running| &running.plan)
    }

    pub(super) fn start(&mut self, stamp: Frame) {
        if self.running().is_none() {
            self.begin(self.earliest(stamp));
        }
    }

    /// A take begins, its first count on `at`.
    pub(super) fn begin(&mut self, at: Frame) {
        self.board.menu = None;
        if self.session.is_blank() {
            return;
        }
        let session = &self.session;
        let at_top = match &session.standing.looping {
            Loop::Item(0) | Loop::Form => true,
            Loop::Sections(items) => items.first() == Some(&0),
            Loop::Item(_) | Loop::Spot(_) => false,
        };
        let counts = session.material.played().count_in_bars != Some(0);
        let count_in = match (session.stage().pulse && counts, at_top) {
            (false, _) => CountIn::No,
            (true, false) => CountIn::Plain,
            (true, true) => CountIn::WithPickup,
        };
        let here = session.here_from_the_top();
        self.begin_quietly(at);
        self.begin_at(Cursor { count_in, ..here }, at);
        self.name_held();
    }

    pub(super) fn stop(&mut self, stamp: Frame) {
        if self.running().is_some() {
            let at = self.earliest(stamp);
            self.hush_cues(at);
            self.send(Command::Stop { at });
            self.end_take(at);
        }
    }

    pub(super) fn panic(&mut self) {
        self.send(Command::Panic);
        self.end_take(self.now);
    }

    /// The player says that its take is over: by our plan, or by the master's Stop.
    pub(super) fn ended(&mut self, frame: Frame) {
        let Some(running) = self.running() else {
            return;
        };
        let plan = &running.plan;
        let end = plan.frame(plan.timeline().end());
        let by_plan = plan.course.ends && end <= frame.plus_ms(1.0, self.settings.rate);
        if by_plan || running.driven_since.is_some_and(|since| frame > since) {
            self.end_take(frame);
            if by_plan {
                self.move_on();
            }
            self.bind_switches();
            self.acknowledge();
        }
    }

    fn end_take(&mut self, at: Frame) {
        let Some(running) = self.running_mut() else {
            return;
        };
        let (tick, reload) = (running.plan.tick(at), running.reload.take());
        self.sent.epoch = running.plan.epoch();
        self.heard.cut(at);
        // What makes sense at rest is another menu's.
        self.board.menu = None;
        let last = self.practised.last_take;
        self.practised.last_take = match self.state_below_menu(self.now) {
            // A count that died is no take: the last one can still be saved.
            FootState::CountingIn => self.practised.take_before,
            _ => last.map(|(began, _)| (began, Some(at))),
        };
        let (_, paused_bar) = self.view().place();
        self.record(tick, Recorded::Take { starts: false });
        self.state = State::Rest { paused_bar };
        self.clock.leave(&mut self.session.passes);
        self.session.rest();
        self.voice.forget_untold();
        if let Some(reload) = reload {
            self.session.take_over(reload);
        }
        self.save();
    }

    /// The audio server is gone: time stands still until it is back.
    pub(super) fn audio_lost(&mut self, why: String) {
        self.board.no_sound = Some(why);
        self.heard.cut(self.now);
        self.judge_now();
        self.refresh();
    }

    /// A new player is there: the take goes on at the start of the bar that was lost.
    pub(super) fn audio_back(&mut self, at: Frame, rate: u32) {
        let lost_at = self.now;
        self.board.no_sound = None;
        self.forget_home();
        // Another server counts its frames anew.
        if rate != self.settings.rate || at < lost_at {
            self.feet.gestures = Gestures::new(&self.settings.switches, rate);
            self.feet.taps = TapTempo::new(rate);
            self.heard = PassRecords::new(rate);
            self.practised.last_take = None;
            self.practised.take_before = None;
        }
        self.settings.rate = rate;
        self.now = at;
        self.send_levels(at);
        self.resume(at, lost_at);
        self.bind_switches();
        self.refresh();
    }

    /// The take was only interrupted: it goes on, and what is armed stays armed.
    fn resume(&mut self, at: Frame, lost_at: Frame) {
        let Some(running) = self.running_mut() else {
            return;
        };
        let tick = running.plan.tick(lost_at);
        let Some(segment) = running.plan.segment_at(tick) else {
            return;
        };
        let bar = segment.bar_at(tick);
        let first = segment.bar_start(bar);
        let cursor = Cursor::of_segment(segment, bar);
        let armed = running.armed.take();
        self.jump(cursor, at, first);
        self.practised.last_take = self.practised.last_take.or(Some((at, None)));
        self.change(at, |Changing { running, from, .. }| match armed {
            // A spot is where it was: the line of ticks goes on.
            Some(armed) if armed.is_spot() => running.as_before(Some(armed), from),
            armed => OnTop::again(armed),
        });
    }

    /// New settings count at once. Valid new charts and a new drill take over at the section's end; what is armed stays
    /// armed, but for a spot.
    pub(super) fn reload(&mut self, library: Library, settings: Settings) {
        self.take_new(library, settings, false);
        self.note_new(NEW_SETTINGS, NowIs::Done);
    }

    /// The drill that is practised where a set names no other.
    pub fn drill(&self) -> &Drill {
        &self.session.library.drill
    }

    /// The drill of weak spots came, or there is none. It takes over as a new drill does; all else stays.
    pub(super) fn weak_spots(&mut self, drill: Option<Box<Drill>>) {
        let now = match drill {
            Some(drill) => {
                let library = self.session.library_with(*drill);
                self.take_new(library, self.settings.clone(), true);
                NowIs::Found
            }
            None => NowIs::NoneFound,
        };
        self.note_new(Action::WeakSpots.name(), now);
    }

    fn note_new(&mut self, what: &'static str, now: NowIs) {
        let done = Done { what, now };
        self.board.note_done(done, self.now, self.settings.rate);
        self.refresh();
    }

    fn take_new(&mut self, library: Library, settings: Settings, from_first: bool) {
        let before = std::mem::replace(&mut self.settings, settings);
        self.settings.rate = before.rate;
        let is_other_list = self.session.differs_from(&library).0;
        let reload = self.session.reload(library, &self.settings, &before.habits);
        let reload = reload.map(|reload| Reload {
            from_first,
            ..reload
        });
        let is_renamed = before.names != self.settings.names;
        let names = self.settings.names;
        if let Some(running) = self.running_mut() {
            running.plan.set_names(names);
        }
        let chart = self.session.chart;
        match (reload, self.running_mut()) {
            (Some(reload), None) => self.session.take_over(reload),
            (Some(reload), Some(running)) => {
                running.reload = Some(reload);
                self.change(self.now, |change| {
                    let pending = change.pending.filter(|armed| !armed.is_spot());
                    change.running.as_before(pending, change.from)
                });
            }
            // What is armed may lead elsewhere in another list.
            (None, Some(running)) if is_renamed || is_other_list => {
                let on_its_way = running.reload.as_mut();
                if let Some(brings) = on_its_way.and_then(|reload| reload.brings.as_mut()) {
                    brings.chart = chart;
                }
                self.change(self.now, |change| {
                    change.running.as_before(change.pending, change.from)
                });
            }
            (None, _) => {}
        }
        self.take_settings(&before);
    }

    /// What of the settings is held elsewhere, or was sent to the player.
    fn take_settings(&mut self, before: &Settings) {
        if before.switches != self.settings.switches {
            self.feet.gestures = Gestures::new(&self.settings.switches, self.settings.rate);
        }
        if before.master_db != self.settings.master_db {
            self.session.set_level(self.settings.master_db);
            self.send_levels(self.earliest(self.now));
        }
        if before.tempo_per_cent != self.settings.tempo_per_cent {
            let chart_qpm = self.session.material.chart.tempo_qpm;
            let qpm = chart_qpm * self.settings.tempo_per_cent / 100.0;
            let share = qpm / self.session.full_qpm(qpm);
            self.set_tempo(qpm * share, self.now);
        }
        self.bind_switches();
    }
}
