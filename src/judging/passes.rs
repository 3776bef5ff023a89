//! What was asked for and what was heard, pass by pass, until a pass can be judged. Times are frames of the audio clock,
//! told in milliseconds.
//!
//! # Why is a pass judged a moment after it ended?
//!
//! Its last note may come late and needs a name; and a push over the seam
//! belongs to the next pass, which is why the first targets of that one are put beside it. The judge waits for the ear's
//! word that it has heard so far, not for a time: a busy machine makes verdicts late, never wrong. Targets get their
//! frames when their bar begins, so tempo changes, jumps and a clock from outside need nothing of their own.

use crate::judging::bias::PlayerBias;
use crate::judging::ear_event::EarEvent;
use crate::judging::judge_pass::{BEFORE_MS, JudgedPass, PassJudge};
use crate::judging::pass_record::{PassKey, PassRecord};
use crate::judging::rules::Rules;
use crate::judging::verdict::HeardNote;
use crate::time::Frame;
use std::collections::VecDeque;

/// Notes that are kept until they are judged; a hand is never as quick.
const MOST_NOTES: usize = 4096;
/// Passes that can wait to be judged.
const MOST_PASSES: usize = 16;
/// A pass is judged without the ear's word for having heard all of it after so long: the ear is gone.
const GIVE_UP_MS: f64 = 3000.0;

/// Everything heard and asked for that is not judged yet.
#[derive(Debug)]
pub(crate) struct PassRecords {
    rate: u32,
    notes: Vec<HeardNote>,
    records: VecDeque<PassRecord>,
    upto: Frame,
    bias: PlayerBias,
    /// Where the last pass began and ended that was to be played.
    last_pass: Option<(Frame, Frame)>,
    /// The pass that sounds, and how many of its bars came from the first on.
    sounding: Option<(PassKey, usize)>,
}

impl PassRecords {
    /// Nothing asked for, nothing heard, on a clock of `rate` frames a second.
    pub(crate) fn new(rate: u32) -> PassRecords {
        PassRecords {
            rate,
            notes: Vec::new(),
            records: VecDeque::new(),
            upto: Frame(0),
            bias: PlayerBias::default(),
            last_pass: None,
            sounding: None,
        }
    }

    /// A take begins: how the player stood in the last one says nothing any more.
    pub(crate) fn take_begins(&mut self) {
        self.bias = PlayerBias::default();
    }

    /// Takes in what the ear tells.
    pub(crate) fn sounded(&mut self, sounded: EarEvent) {
        match sounded {
            EarEvent::Began {
                onset,
                midi,
                cents,
                confidence,
                also,
                struck,
            } => self.began(HeardNote {
                onset_ms: onset.ms(self.rate),
                off_ms: None,
                midi,
                cents: f64::from(cents),
                confidence,
                also,
                struck,
            }),
            EarEvent::Ended { off } => {
                if let Some(last) = self.notes.last_mut() {
                    last.off_ms = Some(off.ms(self.rate).max(last.onset_ms));
                }
            }
            EarEvent::Reading { .. } | EarEvent::Input(_) => {}
            EarEvent::Upto { frame } => self.upto = self.upto.max(frame),
        }
    }

    fn began(&mut self, note: HeardNote) {
        if self.records.is_empty() || self.notes.len() >= MOST_NOTES {
            let from_ms = note.onset_ms - 2.0 * BEFORE_MS;
            self.notes.retain(|note| note.onset_ms >= from_ms);
        }
        if self.notes.len() < MOST_NOTES {
            let is_before = |before: &HeardNote| before.onset_ms <= note.onset_ms;
            let at = self.notes.partition_point(is_before);
            self.notes.insert(at, note);
        }
    }

    /// Asks for some notes of the pass that `asked` describes.
    pub(crate) fn ask(&mut self, asked: PassRecord) {
        if let Some(known) = self.open(asked.key) {
            return known.extend(asked);
        }
        if self.records.len() == MOST_PASSES {
            self.records.pop_front();
        }
        self.records.push_back(asked);
    }

    /// A pass that has not ended.
    fn open(&mut self, key: PassKey) -> Option<&mut PassRecord> {
        let mut records = self.records.iter_mut();
        records.find(|record| record.key == key && record.ends.is_none())
    }

    /// Bar `bar` of a pass of `bars` bars comes.
    pub(crate) fn bar_comes(&mut self, key: PassKey, bar: usize, bars: usize) {
        let came = match self.sounding {
            Some((known, came)) if known == key => came,
            _ => 0,
        };
        // A bar may be served twice; where one is left out the pass is never whole.
        let came = if bar == came { came + 1 } else { came };
        self.sounding = Some((key, came));
        if let Some(record) = self.open(key) {
            record.whole = came == bars;
        }
    }

    /// Passes of this take before the one that begins, or goes on, end on `at`.
    pub(crate) fn end_before(&mut self, key: PassKey, at: Frame) {
        for record in self.records.iter_mut().filter(|r| r.ends.is_none()) {
            if record.key.take == key.take && record.key != key && record.begins < at {
                record.ends = Some(at);
                self.last_pass = Some((record.begins, at));
            }
        }
        self.drop_empty();
    }

    /// Everything that is asked for from `at` on is not asked for any more; what came before is to be judged.
    pub(crate) fn cut(&mut self, at: Frame) {
        for record in self.records.iter_mut().filter(|r| r.ends.is_none()) {
            record.cut(at, self.rate);
            if record.begins < at {
                self.last_pass = Some((record.begins, at));
            }
        }
        self.drop_empty();
    }

    fn drop_empty(&mut self) {
        self.records
            .retain(|record| record.ends.is_none() || !record.is_empty());
    }

    /// Where the last pass began and ended that was to be played.
    pub(crate) fn last_pass(&self) -> Option<(Frame, Frame)> {
        self.last_pass
    }

    /// Whether a pass that is over waits for its verdicts.
    pub(crate) fn is_waiting(&self) -> bool {
        self.records.iter().any(|record| record.ends.is_some())
    }

    /// The next pass that can be judged by `now`; a pass in which nothing was heard is passed over: the player rested, or
    /// no guitar is there.
    pub(crate) fn judge_due(&mut self, now: Frame, rules: &Rules) -> Option<JudgedPass> {
        while let Some(front) = self.records.front() {
            let due_ms = front.due_ms(front.ends?.ms(self.rate), rules);
            let is_heard = self.upto.ms(self.rate) >= due_ms;
            if !is_heard && now.ms(self.rate) < due_ms + GIVE_UP_MS {
                return None;
            }
            let record = self.records.pop_front()?;
            let judge = PassJudge {
                notes: &mut self.notes,
                bias: &mut self.bias,
                rules,
                rate: self.rate,
            };
            let judged = judge.judge(record, self.records.front());
            if judged.is_some() {
                return judged;
            }
        }
        None
    }

    /// Judges everything that is over, whether the ear is done with it or not.
    pub(crate) fn judge_now(&mut self, rules: &Rules) -> Option<JudgedPass> {
        self.judge_due(Frame(u64::MAX / 2), rules)
    }
}
