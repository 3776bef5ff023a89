//! How far the player is with a chord out of time: the notes of the figure found in their order, as often as the stage has
//! passes. A wrong note takes nothing away.

use crate::judging::EarEvent;
use crate::time::Frame;

/// A note that was meant lasts at least so long, in ms.
const MEANT_MS: f64 = 120.0;
/// The chord stays for so long after it was right, in ms, so that it is heard.
const RING_MS: f64 = 1200.0;

/// How far the player is with a chord out of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Finding {
    /// The note that was found last; struck once more it is no other place.
    last: Option<u8>,
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
pub(super) struct MeantNote {
    pub onset: Frame,
    pub midi: u8,
    /// How sure the ear is, 0 to 1.
    pub confidence: f32,
}

impl Finding {
    /// Takes in what the ear tells; gives a note that has lasted long enough to be meant.
    pub fn heard(&mut self, told: EarEvent, rate: u32) -> Option<MeantNote> {
        let until = match told {
            EarEvent::Began { onset, .. } => onset,
            EarEvent::Ended { off } => off,
            EarEvent::Upto { frame } => frame,
            EarEvent::Reading { .. } => return None,
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
            EarEvent::Upto { .. } | EarEvent::Reading { .. } => {}
        }
        meant
    }

    /// Which note of the figure is looked for, from 0; `None` once all were found.
    pub fn looks_for(&self) -> Option<usize> {
        self.goes_on.is_none().then_some(self.found)
    }

    /// The note that was looked for was there, in a figure of `whole` notes. After `times` figures the chord goes on. A
    /// single note is to be found in several places, not several times in one.
    pub fn found(&mut self, note: MeantNote, whole: usize, times: u32, rate: u32) {
        if whole == 1 && self.last == Some(note.midi) {
            return;
        }
        self.last = Some(note.midi);
        self.found += 1;
        if self.found == whole {
            self.found = 0;
            self.times += 1;
        }
        if self.times >= times {
            self.goes_on = Some(note.onset.plus_ms(RING_MS, rate));
        }
    }

    /// Whether what was right has rung, and the next chord may come.
    pub fn goes_on_by(&self, now: Frame) -> bool {
        self.goes_on.is_some_and(|at| now >= at)
    }
}
