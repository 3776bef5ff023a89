//! What is played between start and stop: the bars to come, and the walk through their events in time.

use super::bars::Bars;
use super::command::REPLACE_BARS;
use super::desk::Desk;
use super::following::CLOCK_TICK;
use super::notice::Notice;
use super::played::{MidiSink, Played};
use super::queue::{Counters, Queues};
use super::voices::{SynthVoice, Voices};
use crate::clock::ClockMessage;
use crate::time::{Anchor, Bar, Frame, Part, Tick, UsPerQuarter};
use arrayvec::ArrayVec;

/// A note-on later than this is dropped.
const LATE_MS: f64 = 30.0;
/// Farther than any take; keeps the arithmetic of ticks from overflowing.
const FAR: Tick = Tick(1 << 50);

/// What happens next in a take; at the same tick in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Next {
    Release,
    EndBar,
    BeginBar,
    Starve,
    Clock,
    Strike,
}

/// What the walk acts on.
pub(crate) struct TakeStage<'a> {
    pub(crate) desk: &'a mut Desk,
    pub(crate) voices: &'a mut Voices,
    pub(crate) queues: &'a mut Queues,
    pub(crate) sink: &'a mut dyn MidiSink,
    /// The first frame of the sub-block.
    pub(crate) now: Frame,
}

impl TakeStage<'_> {
    /// Lets go of everything that sounds.
    pub(crate) fn release_all(&mut self, at: Frame, tick: Tick) {
        while let Some(voice) = self.voices.take_any() {
            self.release(voice, at, tick);
        }
    }

    fn release(&mut self, voice: SynthVoice, at: Frame, tick: Tick) {
        self.desk.note_off(at, voice.part, voice.key);
        self.sink.played(Played::Off {
            tick,
            part: voice.part,
            key: voice.key,
        });
    }
}

/// A take in progress.
#[derive(Debug)]
pub(crate) struct Take {
    anchor: Anchor,
    bars: Bars,
    /// The first slot's bar sounds.
    running: bool,
    /// Some bar has begun: the anchor's tempo is a real one.
    begun: bool,
    /// Where a bar should begin while none sounds.
    due: Tick,
    starved: bool,
    late_frames: u64,
    /// The last note that was struck, or was too late to be: what replaces its bar does not strike it again.
    struck: Tick,
    /// A clock drives the take: nothing at or after this tick happens before the clock says so.
    until: Option<Tick>,
    /// The next tick to be sent as MIDI clock; none: none is sent.
    clock: Option<Tick>,
}

impl Take {
    /// A take whose `tick` sounds on `at`.
    pub(crate) fn new(tick: Tick, at: Frame, rate: u32, bars: Bars) -> Take {
        let tempo = bars
            .slots
            .first()
            .map_or(UsPerQuarter(500_000), |slot| slot.bar.tempo);
        Take {
            anchor: Anchor::new(tick, at, tempo, rate),
            bars,
            running: false,
            begun: false,
            due: tick,
            starved: false,
            until: None,
            clock: None,
            struck: Tick(i64::MIN),
            late_frames: (LATE_MS * f64::from(rate) / 1000.0) as u64,
        }
    }

    /// The last tick on or before a frame.
    pub(crate) fn tick(&self, frame: Frame) -> Tick {
        self.anchor.tick(frame)
    }

    /// A clock says where the take is: `tick` sounds on `at`, and nothing beyond the next tick of the clock before
    /// it says so again.
    pub(crate) fn drive(&mut self, tick: Tick, at: Frame, tempo: UsPerQuarter, step: Tick) {
        self.anchor = Anchor::new(tick, at, tempo, self.anchor.rate());
        self.until = Some(tick + step);
    }

    /// Nothing happens before the clock says so.
    pub(crate) fn wait_for_clock(&mut self) {
        self.until = Some(self.anchor.anchored_tick());
    }

    /// Sends MIDI clock from the next of its ticks on.
    pub(crate) fn send_clock(&mut self) {
        let first = self.anchor.anchored_tick().0;
        self.clock = Some(Tick(
            (first + CLOCK_TICK - 1).div_euclid(CLOCK_TICK) * CLOCK_TICK,
        ));
    }

    /// The frame of a tick, through the tempos of the bars to come.
    pub(crate) fn frame_of(&self, tick: Tick) -> Frame {
        let tick = Tick(tick.0.clamp(-FAR.0, FAR.0));
        let mut anchor = self.anchor;
        if self.until.is_some() {
            return anchor.frame(tick);
        }
        let begun = usize::from(self.running);
        for slot in self.bars.slots.iter().skip(begun) {
            if slot.from > tick {
                break;
            }
            anchor = anchor.moved_to(slot.from.max(anchor.anchored_tick()), slot.bar.tempo);
        }
        anchor.frame(tick)
    }

    /// The bars from `from` on are written anew.
    pub(crate) fn replace(
        &mut self,
        from: Tick,
        bars: ArrayVec<Box<Bar>, REPLACE_BARS>,
        now: Frame,
        queues: &mut Queues,
    ) {
        let kept = self
            .bars
            .slots
            .iter()
            .filter(|slot| slot.from < from)
            .count();
        if self.bars.replace(from, bars, queues) && self.running {
            self.running = false;
            self.due = self.anchor.tick(now);
        }
        let (anchor, begun, struck) = (self.anchor, self.begun, self.struck);
        for slot in self.bars.slots.iter_mut().skip(kept) {
            slot.late = begun && anchor.frame(slot.from) < now;
            // Where the decision came later than its moment, the old notes have been heard in the new ones' place.
            let heard = slot.bar.notes.partition_point(|note| note.at <= struck);
            slot.next = slot.next.max(heard);
        }
        self.count_late_cues(kept, now, queues);
    }

    /// Clicks and reference notes of the bars after the first `kept` ones whose frame had passed when they came: they sound later
    /// than they should, or not at all.
    fn count_late_cues(&self, kept: usize, now: Frame, queues: &mut Queues) {
        let new = self.bars.slots.iter().skip(kept);
        let tempo = self.bars.slots.first().map(|slot| slot.bar.tempo);
        let anchor = match tempo.filter(|_| !self.begun) {
            // The take's start is the only fixed point.
            Some(tempo) => self.anchor.moved_to(self.anchor.anchored_tick(), tempo),
            None => self.anchor,
        };
        for slot in new {
            let notes = slot.bar.notes.iter().skip(slot.next);
            let passed = notes.take_while(|note| anchor.frame(note.at) < now);
            for note in passed.filter(|note| matches!(note.part, Part::Click | Part::Model)) {
                let late = now.0 - anchor.frame(note.at).0;
                queues.counters.late_cue(late, anchor.rate());
            }
        }
    }

    /// Drops all bars.
    pub(crate) fn clear(&mut self, queues: &mut Queues) {
        self.bars.clear(queues);
    }

    /// Does what happens before the frame `end`, in the order of time. Says whether the take ended by itself.
    pub(crate) fn run_until(&mut self, end: Frame, stage: &mut TakeStage<'_>) -> bool {
        while let Some((tick, next)) = self.next(stage.voices) {
            let frame = self.anchor.frame(tick);
            if frame >= end || self.until.is_some_and(|until| tick >= until) {
                break;
            }
            match next {
                Next::Release => {
                    if let Some(voice) = stage.voices.take_ended(tick) {
                        stage.release(voice, frame, tick);
                    }
                }
                Next::EndBar => {
                    if self.end_bar(tick, frame, stage) {
                        return true;
                    }
                }
                Next::BeginBar => self.begin_bar(stage),
                Next::Starve => {
                    self.starved = true;
                    Counters::bump(&stage.queues.counters.starved);
                }
                Next::Clock => {
                    self.clock = Some(tick + Tick(CLOCK_TICK));
                    if tick == Tick(0) {
                        stage.desk.real_time(frame, ClockMessage::Start);
                    }
                    stage.desk.real_time(frame, ClockMessage::Tick);
                }
                Next::Strike => self.strike(frame, stage),
            }
        }
        false
    }

    fn next(&self, voices: &Voices) -> Option<(Tick, Next)> {
        let mut found = voices.next_end().map(|tick| (tick, Next::Release));
        let mut offer = |tick: Tick, next: Next| {
            if found.is_none_or(|best| (tick, next) < best) {
                found = Some((tick, next));
            }
        };
        if let Some(tick) = self.clock {
            offer(tick, Next::Clock);
        }
        let waiting = self.bars.slots.get(usize::from(self.running));
        if let (true, Some(slot)) = (self.running, self.bars.slots.first()) {
            offer(slot.end(), Next::EndBar);
            if let Some(note) = slot.next_note() {
                offer(note.at, Next::Strike);
            }
        } else if !self.starved {
            offer(self.due, Next::Starve);
        }
        if let Some(slot) = waiting {
            offer(slot.from, Next::BeginBar);
        }
        found
    }

    /// Whether the take ends with it.
    fn end_bar(&mut self, tick: Tick, frame: Frame, stage: &mut TakeStage<'_>) -> bool {
        let last = self.bars.slots.first().is_some_and(|slot| slot.bar.last);
        self.bars.drop_at(0, stage.queues);
        self.running = false;
        self.due = tick;
        if last {
            stage.release_all(frame, tick);
            self.clear(stage.queues);
            stage.queues.notice(Notice::Ended { frame });
            stage.sink.played(Played::TakeEnded { tick, frame });
        }
        last
    }

    fn begin_bar(&mut self, stage: &mut TakeStage<'_>) {
        if self.running {
            self.bars.drop_at(0, stage.queues);
        }
        let Some(slot) = self.bars.slots.first() else {
            return;
        };
        let (tempo, mut tick) = (slot.bar.tempo, slot.from);
        if self.until.is_some() {
            // The clock has the tempo.
            let frame = self.anchor.frame(slot.bar.start);
            let tempo = self.anchor.tempo();
            return self.bar_began(frame, tick, tempo, stage);
        }
        if !self.begun {
            // Until now no tempo was known: the take's start is the only fixed point.
            let start = self.anchor.anchored_tick();
            self.anchor = Anchor::new(start, self.anchor.frame(start), tempo, self.anchor.rate());
        } else if slot.late {
            // A late change of tempo starts from here: the phase does not jump.
            tick = tick.max(self.anchor.tick(stage.now));
        }
        // Where its first tick lay, by the tempo that held then.
        let frame = self.anchor.frame(slot.bar.start);
        self.anchor = self.anchor.moved_to(tick, tempo);
        self.bar_began(frame, tick, tempo, stage);
    }

    fn bar_began(
        &mut self,
        frame: Frame,
        tick: Tick,
        tempo: UsPerQuarter,
        stage: &mut TakeStage<'_>,
    ) {
        let Some(slot) = self.bars.slots.first() else {
            return;
        };
        (self.running, self.begun, self.starved) = (true, true, false);
        stage.queues.notice(Notice::BarStarted {
            epoch: slot.bar.epoch,
            start: slot.bar.start,
            frame,
        });
        stage.sink.played(Played::Bar {
            tick,
            meter: slot.bar.meter,
            tempo,
        });
    }

    fn strike(&mut self, frame: Frame, stage: &mut TakeStage<'_>) {
        let Some(slot) = self.bars.slots.first_mut() else {
            return;
        };
        let Some(note) = slot.next_note() else {
            return;
        };
        slot.next += 1;
        self.struck = note.at;
        let end = Tick(note.at.0 + note.len.0.clamp(1, FAR.0));
        let age = stage.now.0.saturating_sub(frame.0);
        let over = self.anchor.frame(end) <= stage.now;
        if age > self.late_frames || (age > 0 && over) || !stage.desk.has_room(stage.voices.len()) {
            Counters::bump(&stage.queues.counters.dropped_notes);
            return;
        }
        let same = stage.voices.take_same(note.part, note.key);
        let surplus = stage.voices.take_surplus();
        for voice in [same, surplus].into_iter().flatten() {
            stage.release(voice, frame, note.at);
        }
        stage.voices.add(SynthVoice {
            part: note.part,
            key: note.key,
            end,
        });
        stage
            .desk
            .note_on(frame, note.part, note.key, note.velocity);
        stage.sink.played(Played::On {
            tick: note.at,
            part: note.part,
            key: note.key,
            velocity: note.velocity,
        });
    }
}
