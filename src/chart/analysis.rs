//! The harmony of a whole chart: the form as it loops, the pickup that leads into it, and what the form
//! never plays.

use super::{Chart, Form, WrittenChord};
use crate::harmony::{ChordInContext, Habits, TimedChord, in_context};
use crate::time::Tick;

/// Every chord of a form in context.
#[derive(Debug, Clone, PartialEq)]
pub struct Analysis {
    /// One for each of `Form::chords`.
    pub chords: Vec<ChordInContext>,
    /// One for each chord of the pickup.
    pub pickup: Vec<ChordInContext>,
}

impl Analysis {
    /// Works out a form. The pickup is seen as leading into the form, but the form, which loops, is seen
    /// without it. What comes only once, before the choruses and after them, is seen with a chorus between.
    pub fn of(form: &Form, habits: &Habits) -> Analysis {
        let timed = form.timed_chords();
        let chorus = chorus_chords(form);
        let pickup = form.pickup.as_ref().map_or(Vec::new(), |(_, chords)| {
            let mut all: Vec<TimedChord> = chords.iter().map(|chord| chord.timed.clone()).collect();
            let count = all.len();
            all.extend(timed[..chorus].iter().cloned());
            let mut found = in_context(&all, habits);
            found.truncate(count);
            found
        });
        let mut chords = in_context(&timed[..chorus], habits);
        chords.extend(beside_the_chorus(form, &timed, chorus, habits));
        Analysis { chords, pickup }
    }

    /// The context of each line, one a line. `start` and `len` are the line's own. Lines that the form never
    /// plays (a section left out of it, an ending of a pass it does not reach) are worked out with the bars
    /// that their section puts before them.
    pub fn of_lines(
        &self,
        chart: &Chart,
        lines: &[WrittenChord],
        habits: &Habits,
    ) -> Vec<ChordInContext> {
        let mut found = Vec::with_capacity(lines.len());
        for group in lines.chunk_by(|one, other| stretch(chart, one) == stretch(chart, other)) {
            match group[0].form_chord.or(group[0].pickup_chord) {
                Some(_) => found.extend(group.iter().filter_map(|line| self.played(line))),
                None => found.extend(unplayed(chart, lines, group, habits)),
            }
        }
        for (context, line) in found.iter_mut().zip(lines) {
            context.start = line.at;
            context.len = line.len;
        }
        found
    }

    fn played(&self, line: &WrittenChord) -> Option<ChordInContext> {
        match (line.form_chord, line.pickup_chord) {
            (Some(index), _) => self.chords.get(index).cloned(),
            (None, Some(index)) => self.pickup.get(index).cloned(),
            (None, None) => None,
        }
    }
}

/// How many chords the chorus has: the first ones of the form.
fn chorus_chords(form: &Form) -> usize {
    let bars = form.route.chorus_bars();
    form.chords.partition_point(|chord| chord.form_bar < bars)
}

/// The chords of intro and last time in context: one after the other, with the chorus between.
fn beside_the_chorus(
    form: &Form,
    timed: &[TimedChord],
    chorus: usize,
    habits: &Habits,
) -> Vec<ChordInContext> {
    let intro_bars: usize = form.route.intro.iter().map(|leg| leg.bars.len()).sum();
    let intro_ends = form.route.chorus_bars() + intro_bars;
    let intro = form
        .chords
        .partition_point(|chord| chord.form_bar < intro_ends);
    if chorus == timed.len() {
        return Vec::new();
    }
    let order = (chorus..intro).chain(0..chorus).chain(intro..timed.len());
    let mut start = Tick(0);
    let all: Vec<TimedChord> = order
        .map(|index| {
            let chord = TimedChord {
                start,
                ..timed[index].clone()
            };
            start += chord.len;
            chord
        })
        .collect();
    let found = in_context(&all, habits);
    let own = |index: &usize| *index < intro - chorus || *index >= intro;
    let own: Vec<usize> = (0..found.len()).filter(own).collect();
    own.into_iter()
        .zip(&timed[chorus..])
        .map(|(index, chord)| ChordInContext {
            start: chord.start,
            ..found[index].clone()
        })
        .collect()
}

/// What lines are worked out together: section, ending, and whether the form plays them.
fn stretch(chart: &Chart, line: &WrittenChord) -> (usize, Option<usize>, bool) {
    let ending = chart.sections[line.section].ending_of(line.bar);
    let played = line.form_chord.is_some() || line.pickup_chord.is_some();
    (line.section, ending, played)
}

/// Lines that the form never plays, with the body of their section before an ending.
fn unplayed(
    chart: &Chart,
    lines: &[WrittenChord],
    group: &[WrittenChord],
    habits: &Habits,
) -> Vec<ChordInContext> {
    let (section, ending, _) = stretch(chart, &group[0]);
    let mut all: Vec<TimedChord> = Vec::new();
    if ending.is_some() {
        let body = 1..=chart.sections[section].bars.len() as u32;
        let body = lines
            .iter()
            .filter(|line| line.section == section && body.contains(&line.bar));
        all.extend(body.map(timed));
    }
    let before = all.len();
    all.extend(group.iter().map(timed));
    in_context(&all, habits).split_off(before)
}

fn timed(line: &WrittenChord) -> TimedChord {
    TimedChord {
        start: line.at,
        len: line.len,
        harmony: line.harmony.clone(),
        declared: line.declared,
        hint: line.hint.as_ref().and_then(|hint| hint.scale),
    }
}
