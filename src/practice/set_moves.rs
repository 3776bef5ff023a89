//! A set is gone through: by foot, by a song select or a program change, by itself when a tune is over.

use super::core::Core;
use super::event::{Effect, Recorded};
use super::set_list::Leads;
use crate::foot::Action;
use crate::time::{Frame, Tick};

impl Core {
    /// Who leads the clock of the tune that is on; `None`: as the configuration says.
    pub fn leads(&self) -> Option<Leads> {
        self.session.library.tune(self.session.chart)?.leads
    }

    /// A song select or a program change came. It chooses a tune of the set as a foot does; where there is none of this
    /// number it means nothing.
    pub(super) fn song(&mut self, number: u8, stamp: Frame) {
        if self.session.library.set.is_none() {
            return;
        }
        let place = self.session.library.place_of_number(number);
        self.record_on(stamp, Recorded::Song { number, place });
        if let Some(place) = place.and_then(|place| u8::try_from(place).ok()) {
            self.act(Action::ToChart(place), stamp);
        }
    }

    /// A tune is over: the next one stands ready.
    pub(super) fn move_on(&mut self) {
        if let Some(next) = self.session.tune_after(self.session.chart) {
            let action = Action::ToChart(u8::try_from(next).unwrap_or(u8::MAX));
            let here = self.session.here();
            let target = self.session.target_of(action, &here, &self.settings);
            self.session.go_to(target);
            self.save();
        }
    }

    /// Tells, where another tune of the set is on, which one; `at`: the tick with which it begins to sound.
    pub(super) fn tell_tune(&mut self, at: Option<Tick>) {
        let chart = self.session.chart;
        if self.session.library.set.is_none() || self.told.tune == Some(chart) {
            return;
        }
        self.told.tune = Some(chart);
        let title = self.session.material.chart.title.clone();
        let what = Recorded::Tune {
            place: chart,
            title,
        };
        match at {
            Some(at) => self.record(at, what),
            None => self.record_on(self.now, what),
        }
    }

    /// Whoever has the clock is told who leads it, where that is another than before.
    pub(super) fn tell_leads(&mut self) {
        let leads = self.leads();
        if self.clock.leads != leads {
            self.clock.leads = leads;
            self.clock.home = None;
            self.out.push(Effect::Clock(leads));
        }
    }
}
