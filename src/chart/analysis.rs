//! The harmony of a whole chart: the form as it loops, the pickup that leads into it, and what the form
//! never plays.

use super::{Chart, Form, WrittenChord};
use crate::harmony::{ChordInContext, Habits, TimedChord, in_context};

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
    /// without it.
    pub fn of(form: &Form, habits: &Habits) -> Analysis {
        let timed = form.timed_chords();
        let pickup = form.pickup.as_ref().map_or(Vec::new(), |(_, chords)| {
            let mut all: Vec<TimedChord> = chords.iter().map(|chord| chord.timed.clone()).collect();
            let count = all.len();
            all.extend(timed.iter().cloned());
            let mut found = in_context(&all, habits);
            found.truncate(count);
            found
        });
        Analysis {
            chords: in_context(&timed, habits),
            pickup,
        }
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
