//! What is done when an action is asked for.

use super::armed::{self, AskedBy};
use super::board::{Done, NowIs};
use super::change::Changing;
use super::core::Core;
use super::event::{Effect, MusicChange, Recorded, Replay};
use super::running::{OnTop, Running, State};
use super::tuner::Tuner;
use crate::drill::Model;
use crate::foot::{Action, FootState};
use crate::plan::Loop;
use crate::time::{Frame, Part};

impl Core {
    /// Does an action that was asked for on `stamp`.
    pub(super) fn act(&mut self, action: Action, stamp: Frame) {
        match action {
            Action::Start | Action::TopOfSectionNow if self.session.is_blank() => {
                self.say_no_chart(stamp);
            }
            Action::Start => self.start(stamp),
            Action::Stop => self.stop(stamp),
            Action::Panic => self.panic(),
            Action::MenuOpen | Action::MenuMove | Action::MenuTake | Action::MenuLeave => {
                self.menu(action, stamp);
            }
            Action::TapTempo => self.tap(stamp),
            Action::TempoUp => self.tempo_by(self.settings.tempo_step_qpm, stamp),
            Action::TempoDown => self.tempo_by(-self.settings.tempo_step_qpm, stamp),
            Action::Louder => self.level_by(self.settings.level_step_db, stamp),
            Action::Softer => self.level_by(-self.settings.level_step_db, stamp),
            Action::MutePart(part) => self.mute(part, stamp),
            Action::ModelTones => self.switch_model(stamp),
            Action::SayAgain => self.say_again(stamp),
            Action::PlayBack => self.play_back(stamp),
            Action::KeepTake => self.keep_take(),
            Action::WeakSpots => self.out.push(Effect::WeakSpots),
            Action::Report => self.out.push(Effect::Report),
            Action::Update => self.update(),
            Action::Tune => self.tune(),
            Action::Input => self.look_at_input(),
            Action::StayHere => self.stay(stamp),
            Action::ThisSpot => self.this_spot(stamp),
            Action::TopOfSectionNow => self.top_now(stamp),
            Action::SectionFromHere => self.section_from_here(stamp),
            Action::BarBack => self.shift_bar(stamp, 0),
            Action::BarOn => self.shift_bar(stamp, 2),
            Action::NextStage | Action::PreviousStage if self.is_held() => {
                self.next_held(action, stamp);
            }
            Action::NextStage
            | Action::PreviousStage
            | Action::NextSection
            | Action::PreviousSection
            | Action::WholeForm
            | Action::ListenBack
            | Action::LastTime
            | Action::NextKey
            | Action::ChordLength
            | Action::NextChart
            | Action::PreviousChart
            | Action::ToChart(_) => self.arm(action, stamp),
        }
        self.note_done(action);
        self.bind_switches();
        self.acknowledge();
    }

    /// Arms an action; with others that are armed already it lands where they do. With nothing playing it happens at once.
    fn arm(&mut self, action: Action, stamp: Frame) {
        if self.running().is_none() {
            let here = self.session.here();
            let target = self.session.target_of(action, &here, &self.settings);
            self.session.go_to(target);
            self.state = State::Rest { paused_bar: None };
            return self.save();
        }
        self.change(stamp, |Changing { from, pending, .. }| {
            // What came by itself was an offer: whatever the foot asks for takes its place.
            let is_asked =
                |armed: &armed::Armed| armed.asked == AskedBy::ByFoot && !armed.is_spot();
            let Some(mut pending) = pending.filter(is_asked) else {
                return OnTop::Actions(vec![action], AskedBy::ByFoot);
            };
            armed::add(&mut pending.actions, action);
            match pending.is_firm(from) {
                true => OnTop::At(Box::new(pending)),
                false => OnTop::Actions(pending.actions, AskedBy::ByFoot),
            }
        });
    }

    /// Calls off what is armed; with nothing armed, loops the section that sounds.
    fn stay(&mut self, stamp: Frame) {
        let loops_section = matches!(self.session.standing.looping, Loop::Item(_));
        let is_armed = |running: &Running| running.armed.is_some();
        if loops_section && !self.running().is_some_and(is_armed) {
            return;
        }
        self.change(stamp, |change| match change.pending {
            Some(armed) => {
                change.running.call_off(armed, change.from, change.session);
                OnTop::Nothing
            }
            // It landed within the moment that the press takes to have its effect.
            None if loops_section => OnTop::Nothing,
            None => OnTop::Actions(vec![Action::StayHere], AskedBy::ByFoot),
        });
    }

    /// The band louder or softer.
    fn level_by(&mut self, step_db: f32, stamp: Frame) {
        self.end_quiet_start();
        self.session.level_by(step_db);
        self.send_levels(self.earliest(stamp));
        self.save();
    }

    fn mute(&mut self, part: Part, stamp: Frame) {
        let muted = &mut self.session.passes.muted;
        match muted.iter().position(|muted| *muted == part) {
            Some(index) => drop(muted.remove(index)),
            None => muted.push(part),
        }
        let change = MusicChange::Muted(muted.clone());
        self.rewrite_band(change, stamp);
    }

    fn switch_model(&mut self, stamp: Frame) {
        let help = self.session.stage().help_in(self.session.standing.pass);
        let passes = &mut self.session.passes;
        let is_on = passes.model.unwrap_or(help.model) != Model::Off;
        passes.model = Some(if is_on { Model::Off } else { Model::After });
        self.rewrite_band(MusicChange::ModelTones(!is_on), stamp);
    }

    /// The band plays other parts from the next bar on.
    fn rewrite_band(&mut self, change: MusicChange, stamp: Frame) {
        let what = Recorded::Change(change);
        let (from, Some(now)) = (self.tick_of(stamp), self.tick_now()) else {
            return self.record_on(self.now, what);
        };
        let Some(running) = self.running() else {
            return;
        };
        let next_bar = running.plan.timeline().bar_line(from);
        self.record(next_bar, what);
        self.change(stamp, |change| {
            let plan = &mut change.running.plan;
            plan.course.rewrite(now, &change.session.passes);
            plan.keep_until(next_bar);
            change.running.as_before(change.pending, change.from)
        });
    }

    fn tap(&mut self, stamp: Frame) {
        let Some(tapped) = self.feet.taps.tap(stamp) else {
            return;
        };
        let at = self.tick_of(stamp);
        let Some(meter) = self.view().meter_at(at) else {
            return;
        };
        let playing = self.state_below_menu(self.now) == FootState::Playing;
        let counts = 60_000.0 / self.session.tempo_here().ms(meter.count_ticks());
        if !playing || tapped.is_near(counts) {
            self.set_tempo(tapped.qpm(meter), stamp);
        }
    }

    pub(super) fn tempo_by(&mut self, step_qpm: f64, stamp: Frame) {
        self.set_tempo(self.session.tempo_here().qpm().round() + step_qpm, stamp);
    }

    /// The tempo that sounds, in quarter notes a minute.
    pub(super) fn set_tempo(&mut self, qpm: f64, stamp: Frame) {
        // Under a clock from outside the tempo is the master's.
        if self.is_driven() || !self.session.set_tempo(self.session.full_qpm(qpm)) {
            return;
        }
        let tempo = self.session.tempo;
        let what = Recorded::Change(MusicChange::Tempo(self.session.tempo_here()));
        let (from, now) = (self.tick_of(stamp), self.tick_now());
        // The bar lines stay where they are, only the frames move.
        let line = self.running().map(|running| running.plan.timeline());
        let cut = line.map(|line| line.bar_line(from));
        match (cut, now) {
            (Some(cut), Some(now)) => {
                self.record(cut, what);
                self.change(stamp, |change| {
                    let course = &mut change.running.plan.course;
                    let cursor = course.cursor_at(cut);
                    course.replan(cut, cursor);
                    course.extend(now.max(cut), tempo, &change.session.passes);
                    change.running.as_before(change.pending, change.from)
                });
            }
            _ => self.record_on(self.now, what),
        }
        self.save();
    }

    /// What was played in the last pass sounds once more, on `cue`: over the band, with the next pass, or at once where
    /// nothing plays.
    fn play_back(&mut self, stamp: Frame) {
        let Some((from, to)) = self.heard.last_pass() else {
            return;
        };
        let at = self.earliest(stamp);
        let next_pass = self.running().and_then(|running| {
            let plan = &running.plan;
            let segment = plan.segment_at(plan.tick(at))?;
            Some(plan.frame(segment.end()))
        });
        let (id, at) = (self.voice.next_id(), next_pass.unwrap_or(at));
        self.out.push(Effect::PlayBack(Replay { id, from, to, at }));
    }

    /// The take that plays, or the last one, is to be kept.
    fn keep_take(&mut self) {
        if let Some((began, ended)) = self.practised.last_take {
            let until = ended.unwrap_or(self.now);
            self.out.push(Effect::Keep(began, until));
        }
    }

    /// The page for tuning, or back from it.
    fn tune(&mut self) {
        self.board.tuner = match self.board.tuner {
            Some(_) => None,
            None => Some(Tuner::default()),
        };
        self.board.input = None;
    }

    /// Keeps in mind what a foot asked for, where the page would not tell it by itself: it stands where what is
    /// armed would stand, until a second is over.
    fn note_done(&mut self, action: Action) {
        use Action::{
            BarBack, BarOn, Input, KeepTake, Louder, ModelTones, MutePart, PlayBack, Report,
            SayAgain, Softer, StayHere, TapTempo, TempoDown, TempoUp, Tune, WeakSpots,
        };
        let passes = &self.session.passes;
        let now = match action {
            Louder | Softer => NowIs::LevelDb(self.session.master_db),
            MutePart(part) => NowIs::On(passes.muted.contains(&part)),
            ModelTones => NowIs::On(passes.model != Some(Model::Off)),
            TempoUp | TempoDown | TapTempo => NowIs::TempoQpm(self.session.tempo_here().qpm()),
            Input | Tune => NowIs::WhenStopped,
            BarBack | BarOn | KeepTake | SayAgain | StayHere | PlayBack => NowIs::Done,
            WeakSpots | Report => NowIs::Looking,
            _ => return,
        };
        let what = action.name();
        let done = Done { what, now };
        self.board.note_done(done, self.now, self.settings.rate);
    }
}
