//! A foot script on the frames of a take.

use crate::pedal::script::{FootStep, ScriptedInput};
use crate::time::{Anchor, Frame, Tick, UsPerQuarter};
use std::collections::VecDeque;

/// What comes in by a script for a take whose first count sounds on `base`, `count_in` before the first full bar.
/// Beats are quarters at the tempo of the start, whatever the foot does to it later: they are a clock, not a
/// place in the music.
pub fn inputs(
    steps: &[FootStep],
    base: Frame,
    count_in: Tick,
    tempo: UsPerQuarter,
    rate: u32,
) -> VecDeque<ScriptedInput> {
    let anchor = Anchor::new(Tick(-count_in.0), base, tempo, rate);
    steps
        .iter()
        .map(|step| step.on(anchor.frame(step.at)))
        .collect()
}
