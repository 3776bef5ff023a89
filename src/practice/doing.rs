//! What the core does when an action is asked for.
mod arm;
mod audio;
mod band;
mod held;
mod menu;
mod moves;
mod places;
mod reload;
mod tempo;
mod transport;
mod voice;

pub(super) use self::held::Finding;
pub(super) use self::reload::Reloading;
use crate::foot::action::{Action, Moment};
use crate::practice::core::Core;
use crate::time::Frame;

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
            Action::PlayBack => self.play_back(stamp),
            Action::KeepTake => self.keep_take(),
            Action::Tune => self.tune(),
            Action::StayHere => self.stay(stamp),
            Action::ThisSpot => self.this_spot(stamp),
            Action::TopOfSectionNow => self.top_now(stamp),
            Action::SectionFromHere => self.section_from_here(stamp),
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
            | Action::ChordLength
            | Action::NextChart => self.arm(action, stamp),
        }
        self.note_done(action);
        self.bind_switches();
        self.acknowledge();
    }

    /// Out of time there is no section to wait for.
    pub(super) fn moment(&self, action: Action) -> Moment {
        match action {
            Action::NextStage | Action::PreviousStage if self.is_held() => Moment::Now,
            _ => action.moment(),
        }
    }

    /// The frame on which an action given on `stamp` will take effect; `None` where it changes nothing in
    /// the music.
    pub(super) fn applied(&self, action: Action, stamp: Frame) -> Option<Frame> {
        let earliest = self.earliest(stamp);
        let Some(take) = &self.take else {
            return Some(earliest);
        };
        let from = take.timeline.tick(earliest);
        match self.moment(action) {
            Moment::Now => Some(earliest),
            Moment::NextBar => Some(take.timeline.frame(take.timeline.bar_line(from))),
            Moment::SectionEnd => Some(take.timeline.frame(self.section_end(take, from))),
        }
    }
}
