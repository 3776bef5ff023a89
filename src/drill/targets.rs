//! From a stage and a lap to the notes to play over each chord.

use super::degrees::DegreeTone;
use super::figure::{Direction, FigureNote, Order, Place};
use super::line::{NoteLine, Over};
use super::model::Stage;
use super::orders::Orders;
use super::phrase::{Phrase, rhythm_over};
use super::places::{self, LapChordView, Spacing, Stretch, figures_before, offsets, stretches};
use super::range::KeyRange;
use crate::harmony::{ChordInContext, Degree, Pitch, Role};
use crate::time::{Meter, Tick, UsPerQuarter};

/// What `lay_out` needs besides the stage.
#[derive(Debug, Clone, Copy)]
pub struct LayOut<'a> {
    /// The lap's chords in order.
    pub chords: &'a [LapChordView<'a>],
    /// How often the lap was played in this stage, from 0: rotation, orders and rests go by it.
    pub pass: u32,
    /// Chooses where there is a choice; the same seed gives the same notes.
    pub seed: u64,
    /// How fast it will be played: what does not fit its chord is crowded no closer than a hand can.
    pub tempo: UsPerQuarter,
    /// The keys that the line may go through.
    pub range: KeyRange,
}

impl LayOut<'_> {
    /// How its notes are spaced that have no place of their own.
    pub(super) fn spacing(&self, stage: &Stage) -> Spacing {
        Spacing {
            step: stage.step,
            tempo: self.tempo,
        }
    }
}

/// One note to play.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetNote {
    /// The degree over the root, within the octave.
    pub degree: Degree,
    pub pitch: Pitch,
    pub direction: Direction,
    /// The place as the drill wrote it; for later notes of a stepped figure, and for notes whose place did
    /// not fit their chord, where they fall as it is counted.
    pub place: Place,
    /// Where it starts in the lap, straight (swing is put on when it sounds). May lie before the chord (a
    /// push), then also before the lap's start.
    pub at: Tick,
    /// How long it is meant to sound.
    pub len: Tick,
    /// The MIDI key, within the range where it can: the model tone and the neck use it.
    pub midi: u8,
}

/// The notes of a stage over one chord, in playing order; empty for silence and for open choice.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TargetSet {
    pub notes: Vec<TargetNote>,
    /// What of the figure finds no room over the chord: not asked for there, and not to be given away either.
    pub left_out: Vec<Pitch>,
    /// What the box plays first where the player answers: the same notes, before `notes`.
    pub call: Vec<TargetNote>,
    /// Where the notes of open choice are to fall, in the order of time.
    pub rhythm: Vec<(Place, Tick)>,
}

/// Lays a stage out over a lap: one set a chord, in the chords' order. The notes of all sets are one line:
/// none sounds into the next.
pub fn lay_out(stage: &Stage, over: &LayOut<'_>) -> Vec<TargetSet> {
    let stage = &*stage.in_turn(over.pass, over.seed);
    let mut sets: Vec<TargetSet> = over.chords.iter().map(|_| TargetSet::default()).collect();
    if stage.is_open_choice() {
        let named = stage.places_in(over.pass);
        for stretch in stretches(stage, over.chords, over.pass) {
            let rhythm = rhythm_over(named, &stretch);
            sets[stretch.chord].rhythm.extend(rhythm);
        }
        return sets;
    }
    if stage.answer_phrase {
        answer_phrases(stage, over, &mut sets);
        return sets;
    }
    let orders = Orders::of(&ordered(stage), over.seed);
    let first = match stage.order {
        Order::EveryOrderAChord => figures_before(stage, over.chords, over.pass),
        _ => u64::from(over.pass),
    };
    let each_chord = u64::from(stage.order == Order::EveryOrderAChord);
    let mut line = NoteLine::new(over.range);
    let mut ends = Vec::new();
    for (index, stretch) in (0u64..).zip(stretches(stage, over.chords, over.pass)) {
        let figure = match stage.order {
            Order::EveryOrderAChord | Order::EveryOrderAPass => {
                orders.at(first + each_chord * index)
            }
            Order::AsWritten | Order::OnFromTheNearest => &stage.figure,
        };
        let context = over.chords[stretch.chord].context;
        let named = stage.places_in(over.pass);
        let placed = (named, over.spacing(stage));
        let (notes, left_out) = notes_over(stage, figure, placed, &stretch, context, &mut line);
        sets[stretch.chord].left_out.extend(left_out);
        for note in notes {
            ends.push((stretch, sets[stretch.chord].notes.len()));
            sets[stretch.chord].notes.push(note);
        }
    }
    trim(&mut sets, &ends);
    sets
}

/// Phrases and their answers: over each stretch another one.
fn answer_phrases(stage: &Stage, over: &LayOut<'_>, sets: &mut [TargetSet]) {
    let first = figures_before(stage, over.chords, over.pass);
    let mut line = NoteLine::new(over.range);
    for (index, stretch) in (0u64..).zip(stretches(stage, over.chords, over.pass)) {
        let numbered = (over.seed, first + index);
        let Some(phrase) = Phrase::new(stage, &stretch, over.spacing(stage), numbered) else {
            continue;
        };
        let tones = line.through(
            &phrase.figure,
            Over {
                chord: over.chords[stretch.chord].context,
                set: &stage.degrees,
                ring: &stage.figure,
                order: Order::AsWritten,
                octave: stage.octave.unwrap_or_default(),
            },
        );
        let note = |index: usize, (direction, tone, midi): (Direction, DegreeTone, u8)| {
            let at = phrase.offsets[index];
            let room = phrase.len_of(index);
            let len = stage.length.unwrap_or(room).min(room);
            TargetNote {
                degree: tone.degree,
                pitch: tone.pitch,
                direction,
                place: places::counted_at(at, stretch.meter),
                at: stretch.start + at,
                len: Tick(len.min(longest(tone, stretch.meter)).0 - breath(room)),
                midi,
            }
        };
        let call: Vec<TargetNote> = (0..).zip(tones).map(|(i, tone)| note(i, tone)).collect();
        let answer = call.iter().map(|note| TargetNote {
            place: places::counted_at(note.at - stretch.start + phrase.len, stretch.meter),
            at: note.at + phrase.len,
            // How a figure lies over the root says nothing of a phrase that is heard.
            direction: Direction::Free,
            ..note.clone()
        });
        let set = &mut sets[stretch.chord];
        set.notes.extend(answer);
        set.call.extend(call);
    }
}

/// How much shorter than its room a note is.
fn breath(room: Tick) -> i64 {
    (room.0 / 16).min(60)
}

/// The longest that a note may last. A flat second passes, whatever chord has it.
fn longest(tone: DegreeTone, meter: Meter) -> Tick {
    match tone.role {
        _ if tone.degree.semitones().rem_euclid(12) == 1 => short(meter),
        Role::Passing | Role::Avoid => short(meter),
        Role::ChordTone | Role::Colour => Tick(i64::MAX),
    }
}

/// Which chords of a lap lie in a bar that rests: one entry a chord.
pub fn resting(stage: &Stage, over: &LayOut<'_>) -> Vec<bool> {
    places::resting(stage, over.chords, over.pass)
}

/// The figure of which orders are asked; nothing where none are, so that none are worked out.
fn ordered(stage: &Stage) -> Vec<FigureNote> {
    match stage.order {
        Order::EveryOrderAChord | Order::EveryOrderAPass => stage.figure.clone(),
        Order::AsWritten | Order::OnFromTheNearest => Vec::new(),
    }
}

/// One figure over one stretch, and what of it finds no room. Where there are more places than notes, the figure goes round.
fn notes_over(
    stage: &Stage,
    figure: &[FigureNote],
    (named, spacing): (&[Place], Spacing),
    stretch: &Stretch,
    context: &ChordInContext,
    line: &mut NoteLine,
) -> (Vec<TargetNote>, Vec<Pitch>) {
    let round: Vec<FigureNote> = (0..figure.len().max(named.len()))
        .map(|index| figure[index % figure.len()])
        .collect();
    let over = Over {
        chord: context,
        set: &stage.degrees,
        ring: &stage.figure,
        order: stage.order,
        octave: stage.octave.unwrap_or_default(),
    };
    let before = *line;
    let mut tones = line.through(&round, over);
    let places = offsets(named, tones.len(), spacing, stretch.meter, stretch.len);
    let left_out = tones.iter().skip(places.len());
    let left_out = left_out.map(|(_, tone, _)| tone.pitch).collect();
    if places.len() < tones.len() {
        // What found no time was not played: the line goes on from the last note that was.
        *line = before;
        tones = line.through(&round[..places.len()], over);
    }
    let notes = tones.into_iter().zip(places);
    let notes = notes
        .map(|((direction, tone, midi), (place, at))| TargetNote {
            degree: tone.degree,
            pitch: tone.pitch,
            direction,
            place,
            at: stretch.start + at,
            // Not yet cut to the room there is.
            len: stage
                .length
                .unwrap_or(Tick(i64::MAX))
                .min(longest(tone, stretch.meter)),
            midi,
        })
        .collect();
    (notes, left_out)
}

/// The longest that a passing note may last: half a beat, an eighth in compound meters.
fn short(meter: Meter) -> Tick {
    if meter.is_compound() {
        meter.beat_ticks()
    } else {
        Tick(meter.beat_ticks().0 / 2)
    }
}

/// Cuts each note to the room up to the next note or the end of its chord, a breath shorter. `ends` are the
/// notes in order of time: the stretch and the index within the set.
fn trim(sets: &mut [TargetSet], ends: &[(Stretch, usize)]) {
    let starts: Vec<Tick> = ends
        .iter()
        .map(|(stretch, index)| sets[stretch.chord].notes[*index].at)
        .collect();
    // The lap loops: a push into its first chord comes before its end.
    let seam = ends
        .first()
        .zip(ends.last())
        .map(|((first, _), (last, _))| {
            let early = (first.start - starts[0]).0.max(0);
            last.start + last.len - Tick(early)
        });
    for (number, (stretch, index)) in ends.iter().enumerate() {
        let note = &mut sets[stretch.chord].notes[*index];
        let end = stretch.start + stretch.len;
        let next = starts.get(number + 1).copied().or(seam);
        let limit = next
            .filter(|next| *next > note.at)
            .map_or(end, |next| next.min(end));
        let room = (limit - note.at).0.max(1);
        note.len = note.len.min(Tick(room - breath(Tick(room))));
    }
}
