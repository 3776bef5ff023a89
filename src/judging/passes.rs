//! What was asked for and what was heard, pass by pass, until a pass can be judged. Times are frames of the audio
//! clock, told in milliseconds.

mod judging;

use crate::judging::choice::{Choice, Span};
use crate::judging::judge::{HeardNote, Judged, Outcome, PlayerBias, Verdict, Wanted};
use crate::judging::summary::Summary;
use crate::judging::trading::{BandReturn, Reentry};
use crate::plan::material::Tune;
use crate::plan::standing::Loop;
use crate::time::{Frame, Tick};
use std::collections::VecDeque;

/// What the ear tells the core.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EarEvent {
    /// A note has its name.
    Began {
        /// Where it began, as the player meant it: all latency is taken out.
        onset: Frame,
        /// The nearest MIDI note.
        midi: u8,
        /// How far above it, -50 to 50.
        cents: f32,
        /// How sure the ear is, 0 to 1.
        confidence: f32,
    },
    /// The note that was named last ended.
    Ended {
        /// Where.
        off: Frame,
    },
    /// The pitch as it sounds, told now and then where it is asked for; none: nothing clear.
    Reading {
        /// In Hz.
        hz: Option<f32>,
    },
    /// Everything before this frame has been listened to.
    Upto {
        /// The frame.
        frame: Frame,
    },
}

/// Notes that are kept until they are judged; a hand is never as quick.
const MOST_NOTES: usize = 4096;
/// Passes that can wait to be judged.
const MOST_STRETCHES: usize = 16;
/// A pass is judged without the ear's word for having heard all of it after so long: the ear is gone.
const GIVE_UP_MS: f64 = 3000.0;
/// Notes this long before the first place belong to nothing.
const BEFORE_MS: f64 = 1000.0;

/// A note that is asked for, and where it stands in the music.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Target {
    pub(crate) wanted: Wanted,
    pub(crate) tick: Tick,
    pub(crate) bar: Option<u32>,
    pub(crate) section: String,
    /// Its chord's symbol.
    pub(crate) symbol: String,
}

/// Which pass of which take: where its lap begins, its stage and its number there. A stage that changes within a lap makes
/// another pass of the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct PassKey {
    pub(crate) take: u32,
    pub(crate) origin: Tick,
    pub(crate) stage: usize,
    pub(crate) pass: u32,
}

/// What one pass asks for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PassRecord {
    /// Which pass it is.
    pub(crate) key: PassKey,
    /// The chart and the key that are practised.
    pub(crate) tune: Tune,
    /// The stage's name, its pass from 1, its round of the cycle.
    pub(crate) stage: String,
    pub(crate) pass: u32,
    pub(crate) round: u32,
    /// Whether it is sung.
    pub(crate) sung: bool,
    /// What goes round.
    pub(crate) looping: Loop,
    /// Whether it is the stage as its drill wants it: no hard spot, no longer chords by foot.
    pub(crate) as_asked: bool,
    /// Whether all its bars came, from the first to the last.
    pub(crate) whole: bool,
    pub(crate) targets: Vec<Target>,
    /// The chords over which the player chooses.
    pub(crate) spans: Vec<Span>,
    /// Where the band comes back.
    pub(crate) returns: Vec<BandReturn>,
    /// Where it began.
    pub(crate) begins: Frame,
    /// Where it ended.
    pub(crate) ends: Option<Frame>,
}

impl PassRecord {
    fn is_empty(&self) -> bool {
        self.targets.is_empty() && self.spans.is_empty() && self.returns.is_empty()
    }
}

/// A pass with its verdicts.
pub(crate) struct JudgedPass {
    pub(crate) stretch: PassRecord,
    pub(crate) judged: Judged,
    /// When each verdict's note was heard.
    pub(crate) heard: Vec<Option<Frame>>,
    /// How many notes were played in it.
    pub(crate) notes: usize,
    /// What was played where the stage leaves the choice.
    pub(crate) choice: Option<Choice>,
    /// Where the player was when the band came back.
    pub(crate) backs: Vec<Reentry>,
}

/// Everything heard and asked for that is not judged yet.
#[derive(Debug)]
pub(crate) struct PassRecords {
    rate: u32,
    notes: Vec<HeardNote>,
    stretches: VecDeque<PassRecord>,
    upto: Frame,
    bearing: PlayerBias,
    /// Where the last pass began and ended that was to be played.
    last_pass: Option<(Frame, Frame)>,
    /// The pass that sounds, and how many of its bars came from the first on.
    sounding: Option<(PassKey, usize)>,
    pub(crate) summary: Summary,
}

impl PassRecords {
    pub(crate) fn new(rate: u32) -> PassRecords {
        PassRecords {
            rate,
            notes: Vec::new(),
            stretches: VecDeque::new(),
            upto: Frame(0),
            bearing: PlayerBias::default(),
            last_pass: None,
            sounding: None,
            summary: Summary::default(),
        }
    }

    pub(crate) fn ms(&self, frame: Frame) -> f64 {
        frame.0 as f64 * 1000.0 / f64::from(self.rate)
    }

    /// The frame of a time.
    pub(crate) fn frame_of(&self, ms: f64) -> Frame {
        Frame((ms * f64::from(self.rate) / 1000.0).round().max(0.0) as u64)
    }

    /// Another clock: what was heard before cannot be put beside what comes.
    pub(crate) fn restart(&mut self, rate: u32) {
        *self = PassRecords {
            summary: std::mem::take(&mut self.summary),
            ..PassRecords::new(rate)
        };
    }

    /// A take begins: how the player stood in the last one says nothing any more.
    pub(crate) fn take_begins(&mut self) {
        self.bearing = PlayerBias::default();
    }

    /// Takes in what the ear tells.
    pub(crate) fn sounded(&mut self, sounded: EarEvent) {
        match sounded {
            EarEvent::Began {
                onset,
                midi,
                cents,
                confidence,
            } => {
                let note = HeardNote {
                    onset_ms: self.ms(onset),
                    off_ms: None,
                    midi,
                    cents: f64::from(cents),
                    confidence,
                };
                if self.stretches.is_empty() || self.notes.len() >= MOST_NOTES {
                    self.forget_before(note.onset_ms - 2.0 * BEFORE_MS);
                }
                if self.notes.len() < MOST_NOTES {
                    let at = self
                        .notes
                        .partition_point(|before| before.onset_ms <= note.onset_ms);
                    self.notes.insert(at, note);
                }
            }
            EarEvent::Ended { off } => {
                let off_ms = self.ms(off);
                if let Some(last) = self.notes.last_mut() {
                    last.off_ms = Some(off_ms.max(last.onset_ms));
                }
            }
            EarEvent::Reading { .. } => {}
            EarEvent::Upto { frame } => self.upto = self.upto.max(frame),
        }
    }

    fn forget_before(&mut self, ms: f64) {
        self.notes.retain(|note| note.onset_ms >= ms);
    }

    /// Asks for some notes of the pass that `like` describes.
    pub(crate) fn ask(&mut self, like: PassRecord) {
        let known = self
            .stretches
            .iter_mut()
            .find(|stretch| stretch.key == like.key && stretch.ends.is_none());
        match known {
            Some(stretch) => {
                // The foot moved it to another key: it is no whole chorus of either.
                stretch.as_asked &= stretch.tune == like.tune;
                // A bar may be served twice where the plan grew with it.
                let last = stretch.targets.last().map(|target| target.tick);
                let new = like.targets.into_iter();
                let new = new.filter(|target| last.is_none_or(|last| target.tick > last));
                stretch.targets.extend(new);
                let last = stretch.spans.last().map(|span| span.from_ms);
                let new = like.spans.into_iter();
                let new = new.filter(|span| last.is_none_or(|last| span.from_ms > last + 1.0));
                stretch.spans.extend(new);
                let last = stretch.returns.last().map(|band| band.at_ms);
                let new = like.returns.into_iter();
                let new = new.filter(|band| last.is_none_or(|last| band.at_ms > last + 1.0));
                stretch.returns.extend(new);
            }
            None => {
                if self.stretches.len() == MOST_STRETCHES {
                    self.stretches.pop_front();
                }
                self.stretches.push_back(like);
            }
        }
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
        let mut stretches = self.stretches.iter_mut();
        let here = stretches.find(|stretch| stretch.key == key && stretch.ends.is_none());
        if let Some(stretch) = here {
            stretch.whole = came == bars;
        }
    }

    /// Passes of this take before the one that begins, or goes on, end on `at`.
    pub(crate) fn end_before(&mut self, key: PassKey, at: Frame) {
        for stretch in &mut self.stretches {
            let other = stretch.key.take == key.take && stretch.key != key;
            if other && stretch.begins < at && stretch.ends.is_none() {
                stretch.ends = Some(at);
                self.last_pass = Some((stretch.begins, at));
            }
        }
        self.drop_empty();
    }

    /// Everything that is asked for from `at` on is not asked for any more; what came before is to be judged.
    pub(crate) fn cut(&mut self, at: Frame) {
        let at_ms = self.ms(at);
        for stretch in self
            .stretches
            .iter_mut()
            .filter(|stretch| stretch.ends.is_none())
        {
            stretch.ends = Some(at);
            stretch.whole = false;
            if stretch.begins < at {
                self.last_pass = Some((stretch.begins, at));
            }
            stretch.spans.retain(|span| span.from_ms < at_ms - 1.0);
            // Who had no bar left to come back in was not late.
            stretch
                .returns
                .retain(|band| band.at_ms + band.bar_ms < at_ms + 1.0);
            stretch
                .targets
                .retain(|target| target.wanted.at_ms < at_ms - 1.0);
        }
        self.drop_empty();
    }

    fn drop_empty(&mut self) {
        self.stretches
            .retain(|stretch| stretch.ends.is_none() || !stretch.is_empty());
    }

    /// Where the last pass began and ended that was to be played.
    pub(crate) fn last_pass(&self) -> Option<(Frame, Frame)> {
        self.last_pass
    }

    /// Whether a pass that is over waits for its verdicts.
    pub(crate) fn is_waiting(&self) -> bool {
        self.stretches.iter().any(|stretch| stretch.ends.is_some())
    }
}

/// Whether a verdict says that the note was there.
pub(crate) fn is_right(verdict: &Verdict) -> bool {
    verdict.outcome == Outcome::Right
}
