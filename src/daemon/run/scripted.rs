//! What bounds a run: a foot script, with which the take begins by itself and whose edges are known ahead, and a length.

use super::super::rig::{Rig, RigOutcome};
use super::super::script;
use crate::pedal::script::{FootStep, ScriptedInput};
use crate::practice::{Event, EventKind};
use crate::time::Frame;
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// A take begun by a script starts this long after the server came, so that its bars are there.
const BEGIN_AFTER_MS: f64 = 300.0;
/// A scripted edge is handed over this long before its stamp, and a block: a foot is known ahead only here.
const SCRIPT_AHEAD_MS: f64 = 60.0;
/// A scripted take waits this long at the most for the first phrases to be rendered.
const WARM_UP: Duration = Duration::from_secs(10);

/// The bounds, and how far the run is.
pub struct Scripted {
    steps: Option<Vec<FootStep>>,
    seconds: Option<f64>,
    inputs: VecDeque<ScriptedInput>,
    begun_at: Option<Frame>,
    /// Since when the phrases of a scripted take are being rendered.
    warming: Option<Instant>,
}

impl Scripted {
    /// A foot script, with which the take begins by itself, and seconds from the first count to the end.
    pub fn new(steps: Option<Vec<FootStep>>, seconds: Option<f64>) -> Scripted {
        Scripted {
            steps,
            seconds,
            inputs: VecDeque::new(),
            begun_at: None,
            warming: None,
        }
    }

    /// A take with a script begins by itself: when a server and the first phrases are there.
    pub fn begin(&mut self, rig: &mut Rig, now: Frame, outcome: &mut RigOutcome) {
        let Some(steps) = self.steps.as_deref() else {
            return;
        };
        if self.begun_at.is_some() || rig.end.is_none() {
            return;
        }
        let since = *self.warming.get_or_insert_with(|| {
            rig.warm();
            Instant::now()
        });
        if rig.is_warm() || since.elapsed() > WARM_UP {
            let base = now.plus_ms(BEGIN_AFTER_MS, rig.rate());
            let (count_in, tempo) = rig.core.count_in();
            self.inputs = script::inputs(steps, base, count_in, tempo, rig.rate());
            self.begun_at = Some(base);
            let what = EventKind::Begin { at: base };
            rig.handle(Event { at: now, what }, outcome);
        }
    }

    /// The first take began otherwise.
    pub fn has_begun(&mut self, at: Frame) {
        self.begun_at.get_or_insert(at);
    }

    /// Up to where the foot is known: its edges are handed over early, and what they come to; their stamps decide.
    pub fn known_until(&self, now: Frame, rate: u32, period_frames: u32) -> Option<Frame> {
        let ahead = now.plus_ms(SCRIPT_AHEAD_MS, rate).0 + u64::from(period_frames);
        self.steps.as_ref().map(|_| Frame(ahead))
    }

    /// The next thing that comes in up to a frame.
    pub fn input_until(&mut self, known: Frame) -> Option<ScriptedInput> {
        self.inputs.pop_front_if(|input| input.at() <= known)
    }

    /// Whether it bounds anything: then the loop looks often.
    pub fn is_some(&self) -> bool {
        self.steps.is_some() || self.seconds.is_some()
    }

    /// Whether the seconds are over.
    pub fn is_over(&self, now: Frame, rate: u32) -> bool {
        let (Some(seconds), Some(begun)) = (self.seconds, self.begun_at) else {
            return false;
        };
        now.0.saturating_sub(begun.0) as f64 / f64::from(rate) >= seconds
    }
}
