//! What the core is set up with: what it practises, and how the player wants it.

use super::set_list::{SetList, Tune};
use crate::chart::Chart;
use crate::drill::{Drill, Names};
use crate::foot::{FootMap, SwitchSettings};
use crate::harmony::Habits;
use crate::judging::Rules;

/// From a press to its effect, in ms: constant, so that what is heard does not depend on who was quick.
pub const ACTION_DELAY_MS: f64 = 10.0;
/// Edges may arrive this much after their stamp and still be taken exactly, in ms; less than the delay of an action.
pub(super) const EDGE_SLACK_MS: f64 = 5.0;

/// What the core is set up with.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Frames a second.
    pub rate: u32,
    /// Chooses where there is a choice.
    pub seed: u64,
    /// How much of people's time feel the band has, 0 to 1.
    pub feel_amount: f64,
    /// Tempo in per cent of the chart's.
    pub tempo_per_cent: f64,
    /// Quarter notes a minute of one "tempo up".
    pub tempo_step_qpm: f64,
    /// dB of one "louder".
    pub level_step_db: f32,
    /// The master level at the start, in dB.
    pub master_db: f32,
    /// How notes are named.
    pub names: Names,
    /// The neck that notes are looked for on.
    pub neck: crate::fretboard::Neck,
    /// After how much playing the breath suggests to rest the hands, in minutes; 0: never.
    pub rest_after_min: u32,
    pub habits: Habits,
    /// What is said at all.
    pub spoken: Spoken,
    /// When a note is right.
    pub rules: Rules,
    /// The A above middle C in Hz, for tuning.
    pub a4_hz: f64,
    /// Whether the summary of a round is spoken, too.
    pub spoken_summary: bool,
    /// Where charts are named, for whoever has none: a file.
    pub charts_named_in: String,
    /// What the switches do.
    pub map: FootMap,
    pub switches: Vec<SwitchSettings>,
}

/// What is said at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Spoken {
    /// What the stage asks for.
    #[default]
    Drill,
    /// Only what is called (what to do, places, keys, sections, stages), never notes.
    Sections,
    /// Nothing but answers to "say again".
    Asked,
}

/// The charts to choose from and the drill.
#[derive(Debug, Clone)]
pub struct Library {
    /// May be empty: then the page tells how to name one, and nothing plays.
    pub charts: Vec<Chart>,
    pub drill: Drill,
    /// Set where the charts are the tunes of a set.
    pub set: Option<SetList>,
}

impl Library {
    /// How a chart is played, where it is a tune of a set.
    pub fn tune(&self, chart: usize) -> Option<&Tune> {
        self.set.as_ref()?.tunes.get(chart)
    }

    /// What is practised over a chart.
    pub fn drill_of(&self, chart: usize) -> &Drill {
        self.tune(chart).map_or(&self.drill, |tune| &tune.drill)
    }

    /// The chart of this title; of several the one at `near`. A set may have a tune twice.
    pub fn place_of(&self, title: &str, near: usize) -> Option<usize> {
        let is_it = |chart: &Chart| chart.title == title;
        let same = self.charts.get(near).is_some_and(is_it).then_some(near);
        same.or_else(|| self.charts.iter().position(is_it))
    }

    /// The tune of a set that a song select or a program change chooses.
    pub fn place_of_number(&self, number: u8) -> Option<usize> {
        let tunes = &self.set.as_ref()?.tunes;
        tunes.iter().position(|tune| tune.number == number)
    }
}
