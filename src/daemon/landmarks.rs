//! Where something new begins in a rendering: what a listener wants to jump to.

use crate::drill::Phase;
use crate::practice::Record;
use crate::time::{Frame, Tick};

/// A place at which something new begins.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Landmark {
    /// From the first count on.
    pub frame: Frame,
    /// In the take: the first full bar is 0.
    pub tick: Tick,
    pub section: String,
    /// The pass of the stage, from 1.
    pub pass: u32,
    /// What is to be done; `None`: the count-in.
    pub phase: Option<Phase>,
}

impl Landmark {
    /// In a few words.
    pub fn words(&self) -> String {
        let what = match self.phase {
            None => return "count-in".to_string(),
            Some(Phase::Breathe) => return "break".to_string(),
            Some(Phase::Listen) => "listen",
            Some(Phase::Sing) => "sing",
            Some(Phase::Play) => "play",
        };
        match self.section.as_str() {
            "" => format!("{what}, pass {}", self.pass),
            section => format!("{what}, {section}, pass {}", self.pass),
        }
    }
}

/// Notes a bar that began, if something new began with it.
pub(super) fn note(landmarks: &mut Vec<Landmark>, bar: &Record, phase: Phase, base: Frame) {
    let Some(tick) = bar.tick else { return };
    let here = Landmark {
        frame: Frame(bar.frame.0.saturating_sub(base.0)),
        tick,
        section: bar.section.clone(),
        pass: bar.pass,
        phase: bar.bar.map(|_| phase),
    };
    let is_same = |last: &Landmark| {
        let what = |mark: &Landmark| (mark.phase, mark.pass);
        what(last) == what(&here) && (last.section == here.section || here.phase.is_none())
    };
    if !landmarks.last().is_some_and(is_same) {
        landmarks.push(here);
    }
}
