//! What is told to the outside: pages, event lines, the place to come back to.

use crate::foot::action::Action;
use crate::harmony::Key;
use crate::plan::standing::Loop;
use crate::practice::core::Core;
use crate::practice::event::{Effect, Record, Recorded, Saved};
use crate::practice::show;
use crate::time::{Frame, Tick};

/// How long the page tells what was done, in ms.
const DONE_MS: f64 = 1000.0;

/// What was done last.
#[derive(Debug, Clone)]
pub(in crate::practice) struct Done {
    what: &'static str,
    when: String,
    until: Frame,
}

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
        self.push_record(frame, tick, (section, bar), what);
    }

    /// A line of the event log, of the stage and pass where the player stands.
    pub(super) fn push_record(
        &mut self,
        frame: Frame,
        tick: Option<Tick>,
        (section, bar): (String, Option<u32>),
        what: Recorded,
    ) {
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
        let key = self.moved_key();
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

    /// The key that is played, where it is not the chart's own.
    pub(in crate::practice) fn moved_key(&self) -> Option<Key> {
        let written = &self.library.charts[self.chart];
        let is_moved = self.material.chart.key != written.key;
        self.material.home_key().filter(|_| is_moved)
    }

    /// Keeps in mind what a foot asked for, where the page would not tell it by itself: it stands where what is
    /// armed would stand, until a second is over.
    pub(in crate::practice) fn note_done(&mut self, action: Action) {
        use Action::{
            BarBack, BarOn, KeepTake, Louder, ModelTones, MutePart, PlayBack, SayAgain, Softer,
            StayHere, TapTempo, TempoDown, TempoUp, Tune,
        };
        let when = match action {
            Louder | Softer => format!("{:.0} dB", self.master_db),
            MutePart(part) if self.playing.muted.contains(&part) => "on".to_string(),
            MutePart(_) => "off".to_string(),
            ModelTones => match self.playing.model {
                Some(crate::drill::Model::Off) => "off".to_string(),
                _ => "on".to_string(),
            },
            TempoUp | TempoDown | TapTempo => format!("{:.0}", self.tempo.qpm()),
            Tune => "when stopped".to_string(),
            BarBack | BarOn | KeepTake | SayAgain | StayHere | PlayBack => String::new(),
            _ => return,
        };
        let until = self.now.plus_ms(DONE_MS, self.settings.rate);
        self.done = Some(Done {
            what: action.name(),
            when,
            until,
        });
    }

    /// What was done a moment ago, for the page.
    pub(in crate::practice) fn just_done(&self) -> Option<(String, String)> {
        let done = self.done.as_ref().filter(|done| self.now < done.until)?;
        Some((done.what.to_string(), done.when.clone()))
    }
}
