//! Call and answer: the box plays a few of the stage's own notes, and the player repeats them. And the rhythm of open choice:
//! where its notes are to fall.
//!
//! # How long is a phrase?
//!
//! Half of what its chord lasts, in whole counts, a bar at the most, so that the answer has the same room and the chord has not
//! changed by then; two counts at the least, or there is nothing to hear. It begins with its first count, has two to four notes on
//! the grid of eighths, moves to the neighbour in the stage's list of degrees, and rests on a chord tone: common practice of
//! teachers, no source.

use super::figure::{DegreeWord, Direction, FigureNote, Place};
use super::model::Stage;
use super::orders::Numbers;
use super::places::{Spacing, Stretch, offset, room};
use crate::time::{Meter, Tick};

/// The fewest counts of a phrase.
const LEAST_COUNTS: i64 = 2;
/// The most notes of a phrase.
const MOST_NOTES: usize = 4;

/// A phrase over a chord.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Phrase {
    pub figure: Vec<FigureNote>,
    /// Where its notes begin, from the chord's start.
    pub offsets: Vec<Tick>,
    /// How long it is: the answer begins so much later.
    pub len: Tick,
}

impl Phrase {
    /// Phrase number `number` of a stage over a stretch; `None` where the chord has no room for it and its answer.
    pub fn new(
        stage: &Stage,
        stretch: &Stretch,
        spacing: Spacing,
        (seed, number): (u64, u64),
    ) -> Option<Phrase> {
        let meter = stretch.meter;
        let count = meter.count_ticks().0;
        let counts = (stretch.len.0 / count / 2).min(i64::from(meter.counts()));
        if counts < LEAST_COUNTS || stage.degrees.is_empty() {
            return None;
        }
        let grid = grid(meter, spacing);
        // Its last note has half a beat at the least.
        let slots = (counts * count / grid) as usize;
        let mut numbers = Numbers::new(seed ^ number.wrapping_mul(0x9fb2_1c65_1e98_df25));
        let most = MOST_NOTES.min(counts as usize + 1).min(slots);
        let notes = 2 + numbers.below(most.saturating_sub(1).max(1));
        let mut later: Vec<usize> = (1..slots).collect();
        while later.len() > notes - 1 {
            later.remove(numbers.below(later.len()));
        }
        let slots = std::iter::once(0).chain(later);
        let offsets: Vec<Tick> = slots.map(|slot| Tick(slot as i64 * grid)).collect();
        let figure = line(stage, offsets.len(), &mut numbers);
        Some(Phrase {
            figure,
            offsets,
            len: Tick(counts * count),
        })
    }

    /// How long its note `index` lasts: up to the next one, or to the end.
    pub fn len_of(&self, index: usize) -> Tick {
        let next = self.offsets.get(index + 1).copied().unwrap_or(self.len);
        next - self.offsets[index]
    }
}

/// Half a beat, an eighth in compound meters; a whole beat where that is too quick for a hand.
fn grid(meter: Meter, spacing: Spacing) -> i64 {
    let beat = meter.beat_ticks().0;
    let fine = if meter.is_compound() { beat } else { beat / 2 };
    if fine >= spacing.narrowest().0 {
        fine
    } else {
        meter.count_ticks().0
    }
}

/// Degrees from neighbour to neighbour in the stage's list.
fn line(stage: &Stage, notes: usize, numbers: &mut Numbers) -> Vec<FigureNote> {
    let degrees = &stage.degrees;
    let mut at = numbers.below(degrees.len());
    let step = |index: usize, numbers: &mut Numbers| {
        let up = numbers.below(2) == 1;
        match (degrees.len(), index) {
            (1, _) => 0,
            (_, 0) => 1,
            (len, index) if index + 1 == len => index - 1,
            (_, index) if up => index + 1,
            (_, index) => index - 1,
        }
    };
    let note = |number: usize| {
        if number > 0 {
            at = step(at, numbers);
        }
        if number + 1 == notes {
            at = resting(degrees, at);
        }
        let direction = match number {
            0 => Direction::Free,
            _ => Direction::Near,
        };
        FigureNote::new(degrees[at], direction)
    };
    (0..notes).map(note).collect()
}

/// Where a phrase can end: at a chord tone, the nearest in the list; where the list has none, anywhere.
fn resting(degrees: &[DegreeWord], at: usize) -> usize {
    let is_tone = |index: &usize| match degrees[*index] {
        DegreeWord::InScale(number) => matches!(number, 1 | 3 | 5 | 7),
        DegreeWord::Absolute(degree) => matches!(degree.number, 1 | 3 | 5 | 7),
    };
    let tones = (0..degrees.len()).filter(is_tone);
    tones.min_by_key(|index| index.abs_diff(at)).unwrap_or(at)
}

/// Where the notes of open choice are to fall over a stretch; what does not fit is not asked for there.
pub(super) fn rhythm_over(named: &[Place], stretch: &Stretch) -> Vec<(Place, Tick)> {
    let room = room(named, stretch.meter, stretch.len);
    let placed = named.iter().map(|place| {
        let at = offset(place, stretch.meter);
        (place.clone(), at)
    });
    let fits = placed.filter(|(_, at)| *at < room);
    fits.map(|(place, at)| (place, stretch.start + at))
        .collect()
}
