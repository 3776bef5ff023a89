//! The bounded queues between the control thread and the callback.

use super::synth::{LateBand, SynthMaker};
use super::{Command, Cue, Notice, Synth};
use crate::time::Bar;
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

/// Commands that can wait.
const COMMANDS: usize = 128;
/// Notices that can wait.
const NOTICES: usize = 512;
/// Boxes that can be on the player's side. The garbage queue has room for all of them, so handing one back
/// cannot fail.
const BOXES: usize = 256;

/// What comes back to be freed.
#[derive(Debug)]
// Nobody looks inside: coming back to be dropped is the whole purpose.
#[allow(dead_code)]
pub(crate) enum Garbage {
    Bar(Box<Bar>),
    Cue(Box<Cue>),
    Synth(Box<Synth>),
}

/// What the callback counts, readable from any thread.
#[derive(Debug, Default)]
pub struct Counters {
    /// Commands that came after their frame and took effect at once.
    pub late_commands: AtomicU32,
    /// Note-ons dropped because they were more than 30 ms late or had no room.
    pub dropped_notes: AtomicU32,
    /// Bars dropped because all slots were taken.
    pub dropped_bars: AtomicU32,
    /// Times a bar should have begun and none was there.
    pub starved: AtomicU32,
    /// Notices lost because the queue was full.
    pub lost_notices: AtomicU32,
    /// Gaps in the audio clock.
    pub gaps: AtomicU32,
    /// Clicks, reference notes and words with a place in the take that were handed over when their frame had passed.
    pub late_cues: AtomicU32,
    /// By how much the worst of them had passed, in microseconds.
    pub worst_late_cue_us: AtomicU32,
}

impl Counters {
    /// One more. Wraps around.
    pub(crate) fn bump(counter: &AtomicU32) {
        counter.fetch_add(1, Ordering::Relaxed);
    }

    /// A cue was handed over so many frames after its own. Called by the callback: two atomic additions, no lock.
    pub(crate) fn late_cue(&self, frames: u64, rate: u32) {
        Counters::bump(&self.late_cues);
        let us = frames.saturating_mul(1_000_000) / u64::from(rate.max(1));
        let us = u32::try_from(us).unwrap_or(u32::MAX);
        self.worst_late_cue_us.fetch_max(us, Ordering::Relaxed);
    }

    /// Every counter by name; zero is good.
    pub fn all(&self) -> Counts {
        let of = |counter: &AtomicU32| u64::from(counter.load(Ordering::Relaxed));
        Counts([
            ("late_commands", of(&self.late_commands)),
            ("dropped_notes", of(&self.dropped_notes)),
            ("dropped_bars", of(&self.dropped_bars)),
            ("starved", of(&self.starved)),
            ("lost_notices", of(&self.lost_notices)),
            ("gaps", of(&self.gaps)),
            ("late_cues", of(&self.late_cues)),
            (WORST, of(&self.worst_late_cue_us)),
        ])
    }
}

/// What players counted, by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts(pub [(&'static str, u64); 8]);

/// The one of them that is no count.
const WORST: &str = "worst_late_cue_us";

impl Counts {
    /// What was counted before, and by one more player.
    #[must_use]
    pub fn and(mut self, then: Counts) -> Counts {
        for ((name, both), (_, then)) in self.0.iter_mut().zip(then.0) {
            *both = match *name {
                WORST => (*both).max(then),
                _ => *both + then,
            };
        }
        self
    }
}

/// The callback's side of the queues.
pub(crate) struct Queues {
    pub(crate) commands: Consumer<Command>,
    notices: Producer<Notice>,
    garbage: Producer<Garbage>,
    pub(crate) counters: Arc<Counters>,
}

impl Queues {
    /// Reports; a full queue loses the notice and counts it.
    pub(crate) fn notice(&mut self, notice: Notice) {
        if self.notices.push(notice).is_err() {
            Counters::bump(&self.counters.lost_notices);
        }
    }

    /// Hands a box back to be freed.
    pub(crate) fn discard(&mut self, garbage: Garbage) {
        if let Err(rtrb::PushError::Full(garbage)) = self.garbage.push(garbage) {
            // Cannot happen (see BOXES); leaking is the only thing allowed here if it did.
            std::mem::forget(garbage);
        }
    }
}

/// The control thread's side of a player.
pub struct PlayerEnd {
    commands: Producer<Command>,
    notices: Consumer<Notice>,
    garbage: Consumer<Garbage>,
    counters: Arc<Counters>,
    maker: SynthMaker,
    boxes_out: usize,
    refused: u32,
}

/// The queues and both their ends.
pub(crate) fn queues(maker: SynthMaker) -> (Queues, PlayerEnd) {
    let (commands_in, commands_out) = RingBuffer::new(COMMANDS);
    let (notices_in, notices_out) = RingBuffer::new(NOTICES);
    let (garbage_in, garbage_out) = RingBuffer::new(BOXES);
    let counters = Arc::new(Counters::default());
    let queues = Queues {
        commands: commands_out,
        notices: notices_in,
        garbage: garbage_in,
        counters: Arc::clone(&counters),
    };
    let end = PlayerEnd {
        commands: commands_in,
        notices: notices_out,
        garbage: garbage_out,
        counters,
        maker,
        boxes_out: 0,
        refused: 0,
    };
    (queues, end)
}

impl PlayerEnd {
    /// Sends a command. For a `Start` a fresh synth is made and sent ahead, so that the take sounds the same
    /// whatever was played before.
    ///
    /// # Errors
    /// The command itself, when the queue is full or the player holds as many bars and cues as it may; the
    /// refusal is counted.
    // The value handed back is the contract of a full queue; boxing it would allocate for each refusal.
    #[allow(clippy::result_large_err)]
    pub fn send(&mut self, command: Command) -> Result<(), Command> {
        self.collect_garbage();
        // The master may begin a take with the bars of `Home`: that take wants a synth of its own too.
        let is_start = matches!(command, Command::Start { .. } | Command::Home { .. });
        let boxes = boxes_in(&command) + usize::from(is_start);
        let slots = 1 + usize::from(is_start);
        if self.commands.slots() < slots || self.boxes_out + boxes > BOXES {
            self.refused = self.refused.wrapping_add(1);
            return Err(command);
        }
        if is_start && let Some(synth) = self.maker.take() {
            self.boxes_out += 1;
            // There is room: both slots were counted above and nobody else pushes.
            let _ = self.commands.push(Command::SwapSynth(synth));
        }
        self.boxes_out += boxes_in(&command);
        self.commands
            .push(command)
            .map_err(|rtrb::PushError::Full(command)| command)
    }

    /// Whether takes have a band, not only click, reference notes and cues.
    pub fn has_band(&self) -> bool {
        self.maker.has_font()
    }

    /// A band joins a player that was made without, at this rate: at once where a take plays, and every take from now on has one.
    pub fn join(&mut self, late: LateBand, rate: u32) {
        if late.rate != rate {
            return;
        }
        self.collect_garbage();
        self.maker = late.maker;
        if self.commands.slots() > 0
            && self.boxes_out < BOXES
            && let Some(synth) = self.maker.take()
        {
            self.boxes_out += 1;
            // There is room, and nobody else pushes.
            let _ = self.commands.push(Command::SwapSynth(synth));
        }
    }

    /// The next notice, if there is one.
    pub fn notice(&mut self) -> Option<Notice> {
        self.notices.pop().ok()
    }

    /// Frees what the player has done with. [`PlayerEnd::send`] does it too; call it now and then when
    /// nothing is sent.
    pub fn collect_garbage(&mut self) {
        while self.garbage.pop().is_ok() {
            self.boxes_out = self.boxes_out.saturating_sub(1);
        }
    }

    /// Bars, cues and synths that the player holds or has not been cleared of yet.
    pub fn boxes_out(&self) -> usize {
        self.boxes_out
    }

    /// Commands that found no room.
    pub fn refused(&self) -> u32 {
        self.refused
    }

    /// What the callback counts.
    pub fn counters(&self) -> &Arc<Counters> {
        &self.counters
    }
}

fn boxes_in(command: &Command) -> usize {
    match command {
        Command::Replace { bars, .. } | Command::Home { bars, .. } => bars.len(),
        Command::Cue(_) | Command::SwapSynth(_) => 1,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_of_players_add_up_and_the_worst_stays_the_worst() {
        let counted = |frames: &[u64]| {
            let counters = Counters::default();
            frames
                .iter()
                .for_each(|late| counters.late_cue(*late, 48_000));
            counters.all()
        };
        let both = counted(&[48, 480]).and(counted(&[96]));
        let of = |name| {
            both.0
                .iter()
                .find(|(known, _)| *known == name)
                .map(|(_, count)| *count)
        };
        assert_eq!(of("late_cues"), Some(3));
        assert_eq!(of("worst_late_cue_us"), Some(10_000));
        assert_eq!(of("starved"), Some(0));
    }
}
