//! The practice as it is now, to be looked at: pages, words and event lines are made from this.

use super::board::Board;
use super::running::Running;
use super::session::Session;
use super::settings::Settings;
use crate::audio::ClockSource;
use crate::glossary;
use crate::judging::{PassRecords, Summary};
use crate::plan::take::TakePlan;
use crate::plan::{Loop, Material, Standing};
use crate::time::{Frame, Meter, PPQ, Tick};

/// The practice as it is now.
#[derive(Debug, Clone, Copy)]
pub(super) struct View<'a> {
    pub settings: &'a Settings,
    pub session: &'a Session,
    /// The take that plays.
    pub running: Option<&'a Running>,
    /// The bar of the section in which the last take was stopped.
    pub paused_bar: Option<u32>,
    pub board: &'a Board,
    pub heard: &'a PassRecords,
    pub summary: &'a Summary,
    pub now: Frame,
    /// Minutes since this spell of practising began.
    pub minutes: u64,
    /// The clock that went silent while it drives the take.
    pub lost_clock: Option<ClockSource>,
}

impl<'a> View<'a> {
    /// The plan of the take that plays, and the tick that sounds now.
    pub fn plan(&self) -> Option<(&'a TakePlan, Tick)> {
        let plan = &self.running?.plan;
        Some((plan, plan.tick(self.now)))
    }

    /// Section and bar (from 1) now; no bar in a count-in and at rest.
    pub fn place(&self) -> (String, Option<u32>) {
        match self.plan() {
            Some((_, now)) => self.place_at(now),
            None => (self.section(), None),
        }
    }

    /// Section and bar (from 1) at a tick of the take; no bar in a count-in.
    pub fn place_at(&self, tick: Tick) -> (String, Option<u32>) {
        let segment = self.plan().and_then(|(plan, _)| plan.segment_at(tick));
        segment.map_or_else(|| (self.section(), None), |segment| segment.place_at(tick))
    }

    /// What is amiss besides the music, in a few words each.
    pub fn states(&self) -> Vec<String> {
        let board = self.board;
        let missing = board.missing.iter().map(|device| format!("{device} lost"));
        let restart = board.needs_restart.then(|| "needs a restart".to_string());
        let sound = board.no_sound.iter().cloned();
        sound.chain(missing).chain(restart).collect()
    }

    /// The name of the section that is practised.
    pub fn section(&self) -> String {
        section_name(&self.session.material, &self.session.standing)
    }

    /// The meter of the bar that sounds, or of the first one where nothing plays.
    fn meter(&self) -> Option<Meter> {
        match self.plan() {
            Some((plan, now)) => plan.segment_at(now).map(|segment| segment.meter_at(now)),
            None => self.first_meter(),
        }
    }

    /// The meter of the bar at a tick of the take, or of the first one where nothing is planned.
    pub fn meter_at(&self, tick: Tick) -> Option<Meter> {
        let segment = self.plan().and_then(|(plan, _)| plan.segment_at(tick));
        let meter = segment.map(|segment| segment.meter_at(tick));
        meter.or_else(|| self.first_meter())
    }

    fn first_meter(&self) -> Option<Meter> {
        let Session {
            material, standing, ..
        } = self.session;
        let first = standing.form_bars(material).first().copied();
        let bar = material.form.bars.get(first.unwrap_or(0))?;
        Some(bar.meter)
    }

    /// Dotted quarters a minute, where the meter here counts those.
    pub fn dotted_qpm(&self) -> Option<u32> {
        let meter = self.meter()?;
        let qpm = self.session.tempo_here().qpm();
        let a_minute = qpm * f64::from(PPQ as i32) / meter.count_ticks().0 as f64;
        meter.is_compound().then_some(a_minute.round() as u32)
    }
}

/// The name of the section a standing goes through (the first one of a whole form).
pub(super) fn section_name(material: &Material, standing: &Standing) -> String {
    let form = &material.form;
    let name_of = |item: usize| form.section_names.get(form.section_of(item)?).cloned();
    match &standing.looping {
        Loop::Form => return glossary::WHOLE_FORM.page.to_string(),
        Loop::Sections(items) => {
            let names = items.iter().filter_map(|item| name_of(*item));
            return names.collect::<Vec<String>>().join(", ");
        }
        Loop::Item(_) | Loop::Spot(_) => {}
    }
    let bar = standing.form_bars(material).first().copied().unwrap_or(0);
    let section = material.form.bars.get(bar).map_or(0, |bar| bar.section);
    let name = material.form.section_names.get(section);
    name.cloned().unwrap_or_default()
}
