//! What a player chose where the stage leaves the choice: which degrees, where in the bar, how high, in which order.
//! Counted, not judged. On which string a note was played cannot be heard; how many positions of the hand all of them need
//! at the least can be told.

use crate::harmony::Degree;
use crate::judging::notes::clear_notes;
use crate::judging::phrases::repeated_notes;
use crate::judging::rules::Rules;
use crate::judging::verdict::HeardNote;

/// A chord over which the player chooses.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ChoiceSpan {
    pub(crate) from_ms: f64,
    pub(crate) to_ms: f64,
    pub(crate) beat_ms: f64,
    /// What degree of it every pitch class is.
    pub(crate) degrees: [Degree; 12],
    /// The degrees that the stage allows, by number.
    pub(crate) allowed: Vec<u8>,
}

/// Over fewer chords nothing is a habit, ...
const SEVERAL: usize = 6;
/// ... and from this share of them on something is. Both are ours.
const MOSTLY: f64 = 0.7;
/// From so many notes on, and from this share of them, phrases that come again are worth a word.
const LINE: usize = 16;
const AGAIN: f64 = 0.5;

/// What was chosen in a pass.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Choice {
    /// How many notes were clear and long enough.
    pub notes: usize,
    /// The degrees, each once, in the order in which they came.
    pub degrees: Vec<Degree>,
    /// Every pitch, once, ascending: MIDI keys.
    pub keys: Vec<u8>,
    /// The fewest positions of the hand from which all of them can be played.
    pub positions: usize,
    /// From the lowest to the highest note, octaves begun.
    pub octaves: usize,
    /// Half beats of the chord that notes began on, each once.
    pub beats: usize,
    /// Notes that began off the beat.
    pub off_beats: usize,
    /// Different beginnings: the first three notes over a chord, as degrees.
    pub orders: usize,
    /// Notes in a phrase that came before in this pass, in whatever key.
    pub repeated: usize,
    /// The degrees, by number, that a chord was begun with, and how often.
    pub starts: Vec<(u8, usize)>,
    /// The degrees that could have been, by number.
    pub allowed: Vec<u8>,
}

impl Choice {
    /// The degree that nearly every chord was begun with: its number, how often, of how many. None where others were begun
    /// with, too, or nothing else could be.
    pub(crate) fn usual_start(&self) -> Option<(u8, usize, usize)> {
        let of: usize = self.starts.iter().map(|(_, times)| times).sum();
        let (number, times) = *self.starts.iter().max_by_key(|(_, times)| *times)?;
        let is_habit = of >= SEVERAL && times as f64 >= MOSTLY * of as f64;
        let has_other = self.allowed.iter().any(|other| *other != number);
        (is_habit && has_other).then_some((number, times, of))
    }

    /// With which degree, by number, chords could begin instead: the one that was least begun with, where nearly every one was
    /// begun with another. `begun`: how often each was, by its number, in all that is kept in mind.
    pub(crate) fn start_instead(&self, begun: &[usize; 8]) -> Option<u8> {
        let (usual, ..) = self.usual_start()?;
        let others = self.allowed.iter().filter(|number| **number != usual);
        others
            .copied()
            .min_by_key(|number| begun[usize::from(*number % 8)])
    }

    /// Whether most of it lies in phrases that had come before.
    pub(crate) fn repeats_itself(&self) -> bool {
        self.notes >= LINE && self.repeated as f64 >= AGAIN * self.notes as f64
    }
}

/// Counts what was chosen over some chords, from notes in the order of time.
pub(crate) fn choice(spans: &[ChoiceSpan], notes: &[HeardNote], rules: &Rules) -> Choice {
    let mut choice = Choice::default();
    let mut half_beats: Vec<i64> = Vec::new();
    let mut orders: Vec<Vec<Degree>> = Vec::new();
    let clear = clear_notes(notes, rules);
    // Where each note fell, in beats of the chords chosen over.
    let (mut line, mut beats) = (Vec::new(), 0.0);
    for span in spans {
        // A little early is still this chord's.
        let early = span.beat_ms / 4.0;
        let here = span.from_ms - early..span.to_ms - early;
        let mut order = Vec::new();
        for note in clear.iter().filter(|note| here.contains(&note.onset_ms)) {
            let degree = span.degrees[usize::from(note.midi % 12)];
            let half_beat = (2.0 * (note.onset_ms - span.from_ms) / span.beat_ms).round() as i64;
            choice.notes += 1;
            choice.keys.push(note.midi);
            choice.off_beats += usize::from(half_beat.rem_euclid(2) == 1);
            insert_new(&mut choice.degrees, degree);
            insert_new(&mut half_beats, half_beat);
            order.push(degree);
            line.push((
                beats + (note.onset_ms - span.from_ms) / span.beat_ms,
                note.midi,
            ));
        }
        for number in &span.allowed {
            insert_new(&mut choice.allowed, *number);
        }
        if let Some(first) = order.first() {
            add_one(&mut choice.starts, first.simple().number);
        }
        beats += (span.to_ms - span.from_ms) / span.beat_ms;
        order.truncate(3);
        if !order.is_empty() {
            insert_new(&mut orders, order);
        }
    }
    choice.beats = half_beats.len();
    choice.orders = orders.len();
    choice.repeated = repeated_notes(&line);
    choice.keys.sort_unstable();
    choice.keys.dedup();
    choice.octaves = match choice.keys[..] {
        [low, .., high] => usize::from(high - low) / 12 + 1,
        _ => choice.keys.len(),
    };
    choice
}

fn add_one(counts: &mut Vec<(u8, usize)>, number: u8) {
    match counts.iter_mut().find(|(known, _)| *known == number) {
        Some((_, times)) => *times += 1,
        None => counts.push((number, 1)),
    }
}

fn insert_new<T: PartialEq>(known: &mut Vec<T>, item: T) {
    if !known.contains(&item) {
        known.push(item);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Notes as `(onset in beats, key)`, over two chords of four beats of 500 ms, the second a fourth up.
    fn told(notes: &[(f64, u8)]) -> String {
        let span = |bar: usize| {
            let root = [0, 5][bar];
            let name = |class: usize| Degree::new(1, ((class + 12 - root) % 12) as i8);
            ChoiceSpan {
                from_ms: 2_000.0 * bar as f64,
                to_ms: 2_000.0 * (bar + 1) as f64,
                beat_ms: 500.0,
                degrees: std::array::from_fn(name),
                allowed: vec![1, 3],
            }
        };
        let played = |&(beat, midi): &(f64, u8)| HeardNote {
            onset_ms: 500.0 * beat,
            off_ms: Some(500.0 * beat + 200.0),
            midi,
            cents: 0.0,
            confidence: 0.9,
            also: None,
            struck: true,
        };
        let notes: Vec<HeardNote> = notes.iter().map(played).collect();
        let c = choice(&[span(0), span(1)], &notes, &Rules::default());
        let degrees: Vec<String> = c.degrees.iter().map(|d| d.alter.to_string()).collect();
        format!(
            "{} {} {} {} {} {}",
            c.notes,
            degrees.join(","),
            c.octaves,
            c.beats,
            c.off_beats,
            c.orders
        )
    }

    #[test]
    fn what_was_chosen_is_counted() {
        // notes, degrees (in semitones), octaves, half beats used, off the beat, orders
        for (notes, expected) in [
            (&[][..], "0  0 0 0 0"),
            (&[(0.0, 48)], "1 0 1 1 0 1"),
            (
                &[(0.0, 48), (1.0, 52), (4.0, 53), (5.0, 57)],
                "4 0,4 1 2 0 1",
            ),
            (
                &[(0.0, 48), (0.5, 52), (4.5, 57), (5.0, 65)],
                "4 0,4 2 3 2 2",
            ),
            // A push is the next chord's.
            (&[(3.95, 53)], "1 0 1 1 0 1"),
        ] {
            assert_eq!(told(notes), expected, "{notes:?}");
        }
    }

    #[test]
    fn what_nearly_every_chord_begins_with_is_a_habit() {
        for (starts, allowed, told) in [
            (&[(1, 9), (3, 1)][..], &[1, 3][..], Some((1, 9, 10))),
            (&[(3, 3), (1, 7)], &[1, 3, 5], Some((1, 7, 10))),
            (&[(1, 6), (3, 4)], &[1, 3], None),
            (&[(1, 5)], &[1, 3], None),
            (&[(1, 9)], &[1], None),
            (&[], &[1, 3], None),
        ] {
            let choice = Choice {
                starts: starts.to_vec(),
                allowed: allowed.to_vec(),
                ..Choice::default()
            };
            assert_eq!(choice.usual_start(), told, "{starts:?}");
        }
        let choice = Choice {
            starts: vec![(1, 8)],
            allowed: vec![1, 3, 5],
            ..Choice::default()
        };
        assert_eq!(choice.start_instead(&[0, 8, 0, 0, 0, 0, 0, 0]), Some(3));
        assert_eq!(choice.start_instead(&[0, 8, 0, 8, 0, 0, 0, 0]), Some(5));
    }
}
