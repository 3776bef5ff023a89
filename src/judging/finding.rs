//! How far the player is with a chord out of time: the notes of the figure found in their order, as often as the stage has
//! passes. A wrong note takes nothing away.

use crate::drill::TargetNote;
use crate::judging::ear_event::EarEvent;
use crate::judging::verdict::{NoteName, Outcome, Verdict};
use crate::judging::wanted::names_over;
use crate::plan::pass::Pass;
use crate::time::Frame;

/// A note that was meant lasts at least so long, in ms.
const MEANT_MS: f64 = 120.0;
/// The chord stays for so long after it was right, in ms, so that it is heard.
const RING_MS: f64 = 1200.0;

/// How far the player is with a chord out of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Finding {
    /// The note that was found last; struck once more it is no other place.
    last: Option<u8>,
    /// All that were found, each octave once.
    keys: Vec<u8>,
    /// Notes of the figure that were found, one after the other.
    found: usize,
    /// How often all of them were.
    times: u32,
    /// The note that sounds and may still be a slip.
    sounding: Option<MeantNote>,
    /// When the next chord comes.
    goes_on: Option<Frame>,
}

/// A note that was heard out of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MeantNote {
    pub(crate) onset: Frame,
    pub(crate) midi: u8,
    /// How sure the ear is, 0 to 1.
    pub(crate) confidence: f32,
}

impl Finding {
    /// Takes in what the ear tells; gives a note that has lasted long enough to be meant.
    pub(crate) fn heard(&mut self, told: EarEvent, rate: u32) -> Option<MeantNote> {
        let until = match told {
            EarEvent::Began { onset, .. } => onset,
            EarEvent::Ended { off } => off,
            EarEvent::Upto { frame } => frame,
            EarEvent::Reading { .. } | EarEvent::Input(_) => return None,
        };
        let is_meant = |note: &mut MeantNote| until >= note.onset.plus_ms(MEANT_MS, rate);
        let meant = self.sounding.take_if(is_meant);
        match told {
            EarEvent::Began {
                onset,
                midi,
                confidence,
                ..
            } => {
                self.sounding = Some(MeantNote {
                    onset,
                    midi,
                    confidence,
                });
            }
            EarEvent::Ended { .. } => self.sounding = None,
            EarEvent::Upto { .. } | EarEvent::Reading { .. } | EarEvent::Input(_) => {}
        }
        meant
    }

    /// What a note is beside the one that is looked for in a chord's pass; `None` once all were found.
    pub(crate) fn verdict(&self, pass: &Pass, note: MeantNote) -> Option<Verdict> {
        let want = figure(pass)
            .get(self.found)
            .filter(|_| self.goes_on.is_none())?;
        let context = pass.context(0)?;
        let got = names_over(context, context.root()?)[usize::from(note.midi % 12)];
        let outcome = match note.midi % 12 == want.midi % 12 {
            true => Outcome::Right,
            false => Outcome::Wrong,
        };
        Some(Verdict {
            target: Some(self.found),
            want: Some(NoteName {
                degree: want.degree,
                pitch: want.pitch,
            }),
            got: Some(got),
            ..Verdict::blank(pass.lap.chords.first()?.form_chord, 0.0, outcome)
        })
    }

    /// The note that was looked for was there, in a figure of `whole` notes. After `times` figures the chord goes on. A
    /// single note is to be found in several places, not several times in one; where so many `octaves` are asked for, in all.
    pub(crate) fn found(
        &mut self,
        note: MeantNote,
        whole: usize,
        (times, octaves): (u32, usize),
        rate: u32,
    ) {
        if whole == 1 && self.last == Some(note.midi) {
            return;
        }
        self.last = Some(note.midi);
        if !self.keys.contains(&note.midi) {
            self.keys.push(note.midi);
        }
        self.found += 1;
        if self.found == whole {
            self.found = 0;
            self.times += 1;
        }
        if self.times >= times && self.keys.len() >= octaves {
            self.goes_on = Some(note.onset.plus_ms(RING_MS, rate));
        }
    }

    /// How often it was found.
    pub(crate) fn times(&self) -> u32 {
        self.times
    }

    /// When what was right has rung, and the next chord may come.
    pub(crate) fn goes_on_at(&self) -> Option<Frame> {
        self.goes_on
    }

    /// Whether that is by `now`.
    pub(crate) fn goes_on_by(&self, now: Frame) -> bool {
        self.goes_on.is_some_and(|at| now >= at)
    }
}

/// The notes to be found over the chord of a pass out of time.
pub(crate) fn figure(pass: &Pass) -> &[TargetNote] {
    pass.targets.first().map_or(&[], |set| &set.notes)
}
