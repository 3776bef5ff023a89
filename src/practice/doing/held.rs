//! Stages out of time: one chord held until the foot goes on.

use crate::foot::action::Action;
use crate::judging::{EarEvent, NoteName, Outcome, Verdict, names_over};
use crate::plan::cursor::Cursor;
use crate::plan::standing::distinct_chords;
use crate::practice::core::Core;
use crate::practice::event::Recorded;
use crate::time::{Frame, Tick};

/// A note that was meant lasts at least so long.
const MEANT_MS: f64 = 120.0;
/// The chord stays for so long after it was right, so that it is heard.
const RING_MS: f64 = 1200.0;

/// How far the player is with a chord out of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::practice) struct Finding {
    /// The note that was found last; struck once more it is no other place.
    last: Option<u8>,
    /// Notes of the figure that were found, one after the other.
    found: usize,
    /// How often all of them were.
    times: u32,
    /// The note that sounds and may still be a slip: where it began, its key, how sure it is.
    sounding: Option<(Frame, u8, f32)>,
    /// When the next chord comes.
    goes_on: Option<Frame>,
}

impl Core {
    pub(in crate::practice) fn is_held(&self) -> bool {
        self.take.is_some() && !self.standing.stage_of(&self.material).pulse
    }

    /// The next held chord, or the one before; after the last one the next stage, counted in.
    pub(in crate::practice) fn next_held(&mut self, action: Action, stamp: Frame) {
        let at = self.earliest(stamp);
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let now = take.timeline.tick(at);
        let first = take.timeline.bar_line(Tick(now.0 + 1));
        let chords = distinct_chords(&self.material, &self.standing.lap(&self.material)).len();
        let back = action == Action::PreviousStage;
        let held = if back {
            self.standing.held.checked_sub(1)
        } else {
            Some(self.standing.held + 1)
        };
        let armed = take.armed.clone();
        match held.filter(|held| *held < chords) {
            Some(held) => {
                self.standing.held = held;
                let cursor = self.here();
                self.jump(cursor, at, first);
                self.name_held();
            }
            None => {
                let mut standing = self
                    .standing
                    .with_stage(&self.material, if back { -1 } else { 1 });
                if standing.stage == self.standing.stage && !back {
                    // The last stage goes round its chords.
                    standing.held = 0;
                }
                let pulse = standing.stage_of(&self.material).pulse;
                let cursor = Cursor {
                    count_in: pulse.then_some(false),
                    ..Cursor::pass(&self.material, standing)
                };
                self.jump(cursor, at, first);
                self.announce_stage();
                self.name_held();
            }
        }
        // What is armed (a section, a key) is not lost with the chord.
        if let Some(armed) = armed {
            self.arm_again(armed, stamp);
        }
    }

    /// Out of time the ear decides when it goes on: when the notes of the figure were found in their order, as often
    /// as the stage has passes. A wrong note takes nothing away.
    pub(in crate::practice) fn heard_out_of_time(&mut self, sounded: EarEvent) {
        let until = match sounded {
            EarEvent::Began { onset, .. } => onset,
            EarEvent::Ended { off } => off,
            EarEvent::Upto { frame } => frame,
            EarEvent::Reading { .. } => return,
        };
        if let Some((onset, midi, confidence)) = self.finding.sounding
            && until >= onset.plus_ms(MEANT_MS, self.settings.rate)
        {
            self.finding.sounding = None;
            if confidence >= self.settings.rules.confidence {
                self.found_out_of_time(onset, midi);
            }
        }
        match sounded {
            EarEvent::Began {
                onset,
                midi,
                confidence,
                ..
            } => self.finding.sounding = Some((onset, midi, confidence)),
            EarEvent::Ended { .. } => self.finding.sounding = None,
            EarEvent::Upto { .. } | EarEvent::Reading { .. } => {}
        }
    }

    fn found_out_of_time(&mut self, onset: Frame, midi: u8) {
        let Some(segment) = self.take.as_ref().and_then(|take| {
            let now = take.timeline.tick(self.now);
            take.timeline.segment_at(now).cloned()
        }) else {
            return;
        };
        let pass = &segment.pass;
        let notes = pass.targets.first().map_or(&[][..], |set| &set.notes[..]);
        let (Some(want), Some(context)) = (notes.get(self.finding.found), pass.context(0)) else {
            return;
        };
        let Some(root) = context.root().filter(|_| self.finding.goes_on.is_none()) else {
            return;
        };
        let is_right = midi % 12 == want.midi % 12;
        let outcome = if is_right {
            Outcome::Right
        } else {
            Outcome::Wrong
        };
        let chord = pass.lap.chords.first().map_or(0, |chord| chord.form_chord);
        let verdict = Verdict {
            target: Some(self.finding.found),
            want: Some(NoteName {
                degree: want.degree,
                pitch: want.pitch,
            }),
            got: Some(names_over(context, root)[usize::from(midi % 12)]),
            ..Verdict::blank(chord, 0.0, outcome)
        };
        let whole = notes.len();
        self.record_on(onset, Recorded::Verdict(Box::new(verdict), Some(onset)));
        // A single note is to be found in several places, not several times in one.
        let is_new = whole > 1 || self.finding.last != Some(midi);
        if !is_right || !is_new {
            return;
        }
        self.finding.last = Some(midi);
        self.finding.found += 1;
        if self.finding.found == whole {
            self.finding.found = 0;
            self.finding.times += 1;
        }
        let stage = self.standing.stage_of(&self.material);
        if self.finding.times >= stage.passes.max(1) {
            self.finding.goes_on = Some(onset.plus_ms(RING_MS, self.settings.rate));
        }
    }

    /// What was right has rung: the next chord.
    pub(in crate::practice) fn go_on_when_found(&mut self) {
        if self.finding.goes_on.is_none_or(|at| self.now < at) {
            return;
        }
        self.finding = Finding::default();
        if self.is_held() {
            self.next_held(Action::NextStage, self.now);
            self.bind_switches();
            self.acknowledge();
        }
    }
}
