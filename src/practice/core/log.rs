//! What is told to the outside: pages, event lines, the place to come back to.

use crate::practice::core::Core;
use crate::practice::course::Loop;
use crate::practice::event::{Effect, Record, Recorded, Saved};
use crate::practice::show;
use crate::time::{Frame, Tick};

impl Core {
    /// Shows the page as it stands.
    pub(in crate::practice) fn refresh(&mut self) {
        let page = show::page(self);
        self.out.push(Effect::Show(page));
    }

    /// Shows and records the page: after a press, so that it is acknowledged.
    pub(in crate::practice) fn acknowledge(&mut self) {
        self.refresh();
        let at = self.take.as_ref().map(|take| take.timeline.tick(self.now));
        match at {
            Some(at) => self.record_page(at),
            None => self.record_outside(show::page_record(self)),
        }
    }

    pub(in crate::practice) fn record_page(&mut self, at: Tick) {
        let what = show::page_record(self);
        self.record(at, what);
    }

    /// A line of the event log at a tick of the take.
    pub(in crate::practice) fn record(&mut self, at: Tick, what: Recorded) {
        let Some(take) = &self.take else {
            return self.record_outside(what);
        };
        let frame = take.timeline.frame(at);
        let (section, bar) = show::place_at(self, at);
        let record = Record {
            frame,
            tick: Some(at),
            bar,
            section,
            stage: self.standing.stage_of(&self.material).name.clone(),
            pass: self.standing.pass + 1,
            what,
        };
        self.out.push(Effect::Record(record));
    }

    /// A line of the event log on the frame that is now.
    pub(in crate::practice) fn record_outside(&mut self, what: Recorded) {
        self.record_on(self.now, what);
    }

    /// A line of the event log on a frame.
    pub(in crate::practice) fn record_on(&mut self, frame: Frame, what: Recorded) {
        let tick = self.take.as_ref().map(|take| take.timeline.tick(frame));
        let (section, bar) = match tick {
            Some(tick) => show::place_at(self, tick),
            None => self.where_now(),
        };
        let stage = self.standing.stage_of(&self.material).name.clone();
        let pass = self.standing.pass + 1;
        self.out.push(Effect::Record(Record {
            frame,
            tick,
            bar,
            section,
            stage,
            pass,
            what,
        }));
    }

    pub(in crate::practice) fn where_now(&self) -> (String, Option<u32>) {
        match &self.take {
            Some(take) => show::place_at(self, take.timeline.tick(self.now)),
            None => (show::section_name(&self.material, &self.standing), None),
        }
    }

    pub(in crate::practice) fn save(&mut self) {
        let item = match self.standing.looping {
            Loop::Item(item) => item,
            _ => 0,
        };
        let is_moved = self.material.chart.key != self.library.charts[self.chart].key;
        let key = self.material.key().filter(|_| is_moved);
        let saved = Saved {
            chart: self.chart,
            title: self.material.chart.title.clone(),
            stage: self.standing.stage,
            item,
            tempo_qpm: self.tempo.qpm(),
            key: key.map(|key| key.to_string()),
            master_db: self.master_db,
        };
        self.out.push(Effect::Save(saved));
    }
}
