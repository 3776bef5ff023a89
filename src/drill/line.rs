//! Which octave: the line of a drill in a guitar's range.

use super::degrees::{DegreeTone, lead_in, resolve};
use super::figure::{Approach, DegreeWord, Direction, FigureNote, Order};
use super::range::{KeyRange, Octave};
use crate::harmony::{ChordInContext, Pitch, Role};

/// The line so far.
#[derive(Debug, Clone, Copy)]
pub(super) struct NoteLine {
    last: Option<u8>,
    rising: bool,
    range: KeyRange,
}

/// What a line needs to know of the figure it goes through.
#[derive(Debug, Clone, Copy)]
pub(super) struct Over<'a> {
    pub chord: &'a ChordInContext,
    pub set: &'a [DegreeWord],
    /// The stage's figure, of which a chord may have room for a part.
    pub ring: &'a [FigureNote],
    pub order: Order,
    /// Where the root is taken.
    pub octave: Octave,
}

impl NoteLine {
    /// A line that has no note yet, through these keys.
    pub fn new(range: KeyRange) -> NoteLine {
        NoteLine {
            last: None,
            rising: true,
            range,
        }
    }

    /// The notes of a figure over a chord with their keys. A note the chord has nothing for is left out.
    pub fn through(
        &mut self,
        figure: &[FigureNote],
        over: Over<'_>,
    ) -> Vec<(Direction, DegreeTone, u8)> {
        let Some(root) = over.chord.root() else {
            return Vec::new();
        };
        if over.order == Order::OnFromTheNearest {
            return self.onward(figure.len(), over, root);
        }
        let directed = figure
            .iter()
            .any(|note| matches!(note.direction, Direction::Above | Direction::Below));
        let root_key = root_key(figure, over, root, self.range);
        let mut notes = Vec::new();
        for note in figure {
            let Some(tone) = self.choose(note, over) else {
                continue;
            };
            let semitones = tone.semitones(root);
            let first = notes.is_empty();
            let key = match note.direction {
                Direction::Above => root_key + above(semitones),
                Direction::Below => root_key - under(semitones),
                Direction::Free if first || (directed && semitones == 0) => root_key + semitones,
                Direction::Free | Direction::Near => self.nearest_key(tone.pitch, self.last),
            };
            let (tone, key) = approached(note.approach, tone, key, over.chord, self.range.low);
            self.last = Some(key);
            notes.push((note.direction, tone, key));
        }
        notes
    }

    /// The key of `pitch` nearest to the last note (the lower of two equally near).
    fn nearest_key(&self, pitch: Pitch, last: Option<u8>) -> u8 {
        let from = last.map_or(self.range.middle_halves(), |key| 2 * i32::from(key));
        let keys = self.range.keys_of(pitch.class());
        keys.min_by_key(|key| (2 * i32::from(*key) - from).abs())
            .unwrap_or_else(|| over_the_lowest(pitch, self.range))
    }

    /// The tone a figure note is: of several choices the one nearest to the last note.
    fn choose(&self, note: &FigureNote, over: Over<'_>) -> Option<DegreeTone> {
        let alone = note.or[0].is_none();
        let tones = note.choices().filter_map(|word| {
            let tone = resolve(word, over.chord, over.set)?;
            let counts = alone || word_in_scale(word) || tone.role == Role::ChordTone;
            counts.then_some(tone)
        });
        match self.last {
            Some(last) => {
                tones.min_by_key(|tone| self.nearest_key(tone.pitch, Some(last)).abs_diff(last))
            }
            None => tones.take(1).last(),
        }
    }

    /// The figure as a ring of tones: `count` of them running, on from the last note in the line's direction; at the edge of
    /// the range the other way. The nearest run that has the root is taken, where the ring has it: without it an arpeggio
    /// is none of its chord.
    fn onward(
        &mut self,
        count: usize,
        over: Over<'_>,
        root: Pitch,
    ) -> Vec<(Direction, DegreeTone, u8)> {
        let ring: Vec<DegreeTone> = over
            .ring
            .iter()
            .filter_map(|note| resolve(note.degree, over.chord, over.set))
            .collect();
        let Some(first) = ring.first() else {
            return Vec::new();
        };
        let ways = [self.rising, !self.rising];
        let run = match self.last {
            None => {
                let key = root_key(over.ring, over, root, self.range) + first.semitones(root);
                run_from((*first, key), count, &ring, (true, self.range)).map(|run| (true, run))
            }
            Some(last) => ways.into_iter().find_map(|rising| {
                Some((
                    rising,
                    run_on(last, count, &ring, (rising, self.range), root)?,
                ))
            }),
        };
        let Some((rising, run)) = run else {
            // More notes than the range holds: back and forth.
            return self.back_and_forth(count, &ring);
        };
        self.rising = rising;
        self.last = run.last().map(|(_, key)| *key).or(self.last);
        let free = |(tone, key)| (Direction::Free, tone, key);
        run.into_iter().map(free).collect()
    }

    /// `count` tones of the ring one by one, turned at each edge of the range.
    fn back_and_forth(
        &mut self,
        count: usize,
        ring: &[DegreeTone],
    ) -> Vec<(Direction, DegreeTone, u8)> {
        let mut notes = Vec::new();
        for _ in 0..count {
            let last = self.last.unwrap_or(self.range.low.saturating_sub(1));
            let found = next_key(ring, last, (self.rising, self.range)).or_else(|| {
                self.rising = !self.rising;
                next_key(ring, last, (self.rising, self.range))
            });
            if let Some((tone, key)) = found {
                self.last = Some(key);
                notes.push((Direction::Free, tone, key));
            }
        }
        notes
    }
}

/// The nearest run of `count` tones after `last` in one direction that has the root, if any tone of the ring is the root.
fn run_on(
    last: u8,
    count: usize,
    ring: &[DegreeTone],
    rising: (bool, KeyRange),
    root: Pitch,
) -> Option<Vec<(DegreeTone, u8)>> {
    let is_root = |tone: &DegreeTone| tone.semitones(root) == 0;
    let needs_root = ring.iter().any(is_root);
    let starts = std::iter::successors(next_key(ring, last, rising), |(_, key)| {
        next_key(ring, *key, rising)
    });
    let runs = starts
        .take(ring.len())
        .filter_map(|start| run_from(start, count, ring, rising));
    let has_root = |run: &Vec<(DegreeTone, u8)>| run.iter().any(|(tone, _)| is_root(tone));
    let mut runs = runs.filter(|run| !needs_root || has_root(run));
    runs.next()
}

/// `count` tones running from `start` in one direction; nothing where the range ends before.
fn run_from(
    start: (DegreeTone, u8),
    count: usize,
    ring: &[DegreeTone],
    rising: (bool, KeyRange),
) -> Option<Vec<(DegreeTone, u8)>> {
    let next = |(_, key): &(DegreeTone, u8)| next_key(ring, *key, rising);
    let run: Vec<(DegreeTone, u8)> = std::iter::successors(Some(start), next)
        .take(count)
        .collect();
    (run.len() == count).then_some(run)
}

fn word_in_scale(word: DegreeWord) -> bool {
    matches!(word, DegreeWord::InScale(_))
}

/// Semitones up to a note over the root: the root itself over the root is the octave.
fn above(semitones: u8) -> u8 {
    if semitones == 0 { 12 } else { semitones }
}

/// Semitones down to a note under the root.
fn under(semitones: u8) -> u8 {
    12 - semitones
}

/// The root that a figure is measured from: of those from which it fits the range the one in its octave.
fn root_key(figure: &[FigureNote], over: Over<'_>, root: Pitch, range: KeyRange) -> u8 {
    let (mut up, mut down) = (0, 0);
    for note in figure {
        let Some(tone) = resolve(note.degree, over.chord, over.set) else {
            continue;
        };
        match note.direction {
            Direction::Above => up = up.max(above(tone.semitones(root))),
            Direction::Below => down = down.max(under(tone.semitones(root))),
            Direction::Free | Direction::Near => {}
        }
    }
    let fits = |key: &u8| *key >= range.low + down && *key + up <= range.high;
    let mut keys = range.keys_of(root.class()).filter(fits);
    let found = match over.octave {
        Octave::Low => keys.next(),
        Octave::Middle => {
            keys.min_by_key(|key| (2 * i32::from(*key) - range.middle_halves()).abs())
        }
        Octave::High => keys.last(),
    };
    found.unwrap_or_else(|| over_the_lowest(root, range))
}

/// Where nothing fits: the lowest key of a note.
fn over_the_lowest(pitch: Pitch, range: KeyRange) -> u8 {
    let lowest = range.keys_of(pitch.class()).next();
    lowest.unwrap_or(range.low)
}

/// The next of `tones` strictly above (or below) `last` within the range.
fn next_key(
    tones: &[DegreeTone],
    last: u8,
    (rising, range): (bool, KeyRange),
) -> Option<(DegreeTone, u8)> {
    let all = tones
        .iter()
        .flat_map(|tone| range.keys_of(tone.pitch.class()).map(|key| (*tone, key)));
    if rising {
        all.filter(|(_, key)| *key > last)
            .min_by_key(|(_, key)| *key)
    } else {
        all.filter(|(_, key)| *key < last)
            .max_by_key(|(_, key)| *key)
    }
}

/// The note that leads into a tone, beside it; the tone itself where it is not approached.
fn approached(
    approach: Option<Approach>,
    tone: DegreeTone,
    key: u8,
    chord: &ChordInContext,
    low: u8,
) -> (DegreeTone, u8) {
    let Some(lead) = approach.and_then(|approach| lead_in(tone, approach, chord)) else {
        return (tone, key);
    };
    if approach == Some(Approach::SemitoneBelow) {
        let key = if key > low { key } else { key + 12 };
        (lead, key - 1)
    } else {
        (lead, key + tone.pitch.up_to(lead.pitch))
    }
}
