//! What is known of a clock outside, and what waits for its Start.

use super::set_list::Leads;
use crate::audio::ClockSource;
use crate::clock::ClockState;
use crate::plan::pass::PassSettings;
use crate::plan::take::TakePlan;
use crate::plan::{Material, Standing};
use crate::time::{Part, UsPerQuarter};
use std::sync::Arc;

/// A tempo that differs by less is the same, as far as swing and the page are concerned.
const SAME_TEMPO: f64 = 0.005;
/// What is mute by default while others play.
const BAND: [Part; 4] = [Part::Comping, Part::Bass, Part::Drums, Part::Melody];

/// What the core knows of the clock outside.
#[derive(Debug, Default)]
pub(super) struct ClockLink {
    /// Whether one is followed at all.
    pub follows: bool,
    /// Who leads in the tune that is on; `None`: as the configuration says.
    pub leads: Option<Leads>,
    /// Whether it silences the band.
    pub mutes: bool,
    /// The source and its state, as last told.
    pub told: Option<(ClockSource, ClockState)>,
    /// How far its ticks usually are off, in ms.
    pub scatter_ms: f64,
    /// How many of its ticks were lost.
    pub lost_ticks: u32,
    /// Its tempo, to the last digit.
    pub tempo: Option<UsPerQuarter>,
    /// What the foot had muted before it began.
    muted: Option<Vec<Part>>,
    /// What the player was given to begin with at the master's Start.
    pub home: Option<Home>,
}

/// A take that waits for the master's Start, and what it was planned from.
#[derive(Debug)]
pub(super) struct Home {
    pub plan: TakePlan,
    pub material: Arc<Material>,
    pub standing: Standing,
    pub tempo: UsPerQuarter,
    pub passes: PassSettings,
}

/// What the status command tells of the clock.
#[derive(Debug, Clone, PartialEq)]
pub struct ClockStatus {
    /// jack, serial, internal.
    pub source: &'static str,
    /// own, waiting, locking, locked, holding.
    pub state: &'static str,
    /// How far the master's ticks usually are off, in ms.
    pub jitter_ms: f64,
    /// Ticks of it that did not come.
    pub lost: u32,
}

impl ClockLink {
    /// Whether the tune that is on is played to another's clock.
    pub fn follows_here(&self) -> bool {
        self.follows && self.leads != Some(Leads::We)
    }

    /// What the player wants of every pass while others play.
    pub fn with_others(&self, alone: &PassSettings) -> PassSettings {
        let mut passes = PassSettings {
            driven: true,
            ..alone.clone()
        };
        if self.mutes && self.muted.is_none() {
            let more = BAND.into_iter().filter(|part| !alone.muted.contains(part));
            passes.muted.extend(more);
        }
        passes
    }

    /// The master has begun: its band is silent from here on.
    pub fn enter(&mut self, passes: &mut PassSettings) {
        let with_others = self.with_others(passes);
        passes.driven = true;
        if self.mutes && self.muted.is_none() {
            self.muted = Some(std::mem::replace(&mut passes.muted, with_others.muted));
        }
    }

    /// The take is over: what the foot had muted is so again.
    pub fn leave(&mut self, passes: &mut PassSettings) {
        passes.driven = false;
        if let Some(muted) = self.muted.take() {
            passes.muted = muted;
        }
    }

    /// The source, its state, jitter and lost ticks.
    pub fn status(&self) -> ClockStatus {
        let (source, state) = match self.told {
            Some((source, state)) => (source.name(), state.name()),
            None => ("internal", "own"),
        };
        ClockStatus {
            source,
            state,
            jitter_ms: self.scatter_ms,
            lost: self.lost_ticks,
        }
    }
}

/// Whether two tempos are the same, as far as swing and the page are concerned.
pub(super) fn near(one: UsPerQuarter, other: UsPerQuarter) -> bool {
    (one.qpm() / other.qpm() - 1.0).abs() < SAME_TEMPO
}
