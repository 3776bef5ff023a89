//! The bars that the player holds, in the order in which they sound.

use super::command::REPLACE_BARS;
use super::queue::{Counters, Garbage, Queues};
use crate::time::{Bar, Tick, TimedNote};
use arrayvec::ArrayVec;

/// The most bars that wait.
const SLOTS: usize = 8;

/// A bar that waits or sounds.
#[derive(Debug)]
pub(crate) struct BarSlot {
    pub(crate) bar: Box<Bar>,
    /// Where it takes over: its start, or later if only its end was replaced.
    pub(crate) from: Tick,
    /// From here on its notes were called back.
    cut: Tick,
    /// The next of its notes.
    pub(crate) next: usize,
    /// It came when its start had passed.
    pub(crate) late: bool,
}

impl BarSlot {
    pub(crate) fn end(&self) -> Tick {
        self.bar.start + self.bar.len
    }

    pub(crate) fn next_note(&self) -> Option<TimedNote> {
        self.bar
            .notes
            .get(self.next)
            .copied()
            .filter(|note| note.at < self.cut)
    }
}

/// Bars in the order in which they sound.
#[derive(Debug, Default)]
pub(crate) struct Bars {
    pub(crate) slots: ArrayVec<BarSlot, SLOTS>,
}

impl Bars {
    /// The future from `from` on is written anew. Says whether the first slot was dropped.
    pub(crate) fn replace(
        &mut self,
        from: Tick,
        bars: ArrayVec<Box<Bar>, REPLACE_BARS>,
        queues: &mut Queues,
    ) -> bool {
        let first_dropped = self.slots.first().is_some_and(|slot| slot.from >= from);
        while let Some(index) = self.slots.iter().position(|slot| slot.from >= from) {
            self.drop_at(index, queues);
        }
        for slot in &mut self.slots {
            slot.cut = slot.cut.min(from);
        }
        for bar in bars {
            self.append(bar, from, queues);
        }
        first_dropped
    }

    fn append(&mut self, bar: Box<Bar>, from: Tick, queues: &mut Queues) {
        // An append (from the end of time) drops nothing, of the new bars neither.
        let from = if from == Tick(i64::MAX) {
            bar.start
        } else {
            from.max(bar.start)
        };
        let slot = BarSlot {
            next: bar.notes.partition_point(|note| note.at < from),
            from,
            cut: Tick(i64::MAX),
            late: false,
            bar,
        };
        if let Err(full) = self.slots.try_push(slot) {
            Counters::bump(&queues.counters.dropped_bars);
            queues.discard(Garbage::Bar(full.element().bar));
        }
    }

    /// Drops one.
    pub(crate) fn drop_at(&mut self, index: usize, queues: &mut Queues) {
        if index < self.slots.len() {
            queues.discard(Garbage::Bar(self.slots.remove(index).bar));
        }
    }

    /// Drops all.
    pub(crate) fn clear(&mut self, queues: &mut Queues) {
        while !self.slots.is_empty() {
            self.drop_at(self.slots.len() - 1, queues);
        }
    }
}
