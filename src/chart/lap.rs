//! Laps: what loops, cut out of the form.

use super::Form;
use crate::time::{Meter, Tick};

/// What loops: some bars of the form in the order of playing, with their chords. Ticks count from its first
/// bar. A chord that the choice of bars cuts is shortened; one whose start is cut away begins with the lap.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lap {
    /// The bars.
    pub bars: Vec<LapBar>,
    pub chords: Vec<LapChord>,
    /// The length of all bars.
    pub len: Tick,
}

/// A bar of a lap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LapBar {
    /// Index into `Form::bars`.
    pub form_bar: usize,
    /// Where it starts in the lap.
    pub start: Tick,
    pub meter: Meter,
}

/// A chord of a lap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LapChord {
    /// Index into `Form::chords`.
    pub form_chord: usize,
    /// Where it starts in the lap.
    pub start: Tick,
    /// How long it lasts in the lap.
    pub len: Tick,
    /// Index into `Lap::bars` of the bar it starts in.
    pub bar: usize,
}

impl Lap {
    /// The first chord that sounds from one of its bars on.
    pub fn first_chord_from(&self, bar: usize) -> Option<&LapChord> {
        let from = self.bars.get(bar).map_or(Tick(0), |bar| bar.start);
        let sounds = |chord: &&LapChord| chord.start + chord.len > from;
        self.chords.iter().find(sounds)
    }
}

impl Form {
    /// The lap of the given bars (indices into `bars`, in the order of playing). Bars that follow one another
    /// in the form are one stretch, in which chords go on over the bar lines; at every other seam, the end of
    /// the form included, the chord begins anew.
    ///
    /// # Panics
    /// When an index lies outside the form.
    pub fn lap(&self, bars: &[usize]) -> Lap {
        let mut lap = Lap::default();
        for stretch in bars.chunk_by(|before, after| before + 1 == *after) {
            self.add_stretch(&mut lap, stretch);
        }
        lap
    }

    /// Adds bars that follow one another, with the chords over them.
    fn add_stretch(&self, lap: &mut Lap, stretch: &[usize]) {
        let (from, first_bar) = (self.bars[stretch[0]].start, lap.bars.len());
        let to = self.bars[stretch[stretch.len() - 1]].end();
        let shift = lap.len - from;
        for index in stretch {
            let bar = &self.bars[*index];
            lap.bars.push(LapBar {
                form_bar: *index,
                start: bar.start + shift,
                meter: bar.meter,
            });
        }
        let first = self
            .chords
            .partition_point(|chord| chord.timed.start + chord.timed.len <= from);
        for (index, chord) in self.chords.iter().enumerate().skip(first) {
            if chord.timed.start >= to {
                break;
            }
            let start = chord.timed.start.max(from);
            let end = (chord.timed.start + chord.timed.len).min(to);
            lap.chords.push(LapChord {
                form_chord: index,
                start: start + shift,
                len: end - start,
                bar: first_bar + chord.form_bar.saturating_sub(stretch[0]),
            });
        }
        lap.len = to + shift;
    }
}
