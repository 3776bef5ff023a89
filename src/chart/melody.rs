//! The melody beside a chart: one note at a time, written by bars like the chords.

use super::{Chart, Form, Lap, Melody, MelodyNote};
use crate::time::Tick;

/// A note of the melody as the form plays it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlayedNote {
    /// Where it starts in the form; the pickup is negative.
    pub start: Tick,
    /// How long it lasts, ties joined.
    pub len: Tick,
    pub midi: u8,
    /// Whether it is tied to what follows and nothing of its pitch does.
    tied: bool,
}

impl Melody {
    /// The melody of the whole form in the order of playing, tied notes joined.
    pub fn play(&self, chart: &Chart, form: &Form) -> Vec<PlayedNote> {
        let mut played: Vec<PlayedNote> = Vec::new();
        let pickup_start = Tick(-chart.meter.bar_ticks().0);
        push(&mut played, pickup_start, &self.pickup);
        for bar in &form.bars {
            let section = self.sections.get(bar.section);
            let notes = section.and_then(|bars| bars.get((bar.bar as usize).wrapping_sub(1)));
            push(&mut played, bar.start, notes.map_or(&[], Vec::as_slice));
        }
        played
    }

    /// What of it sounds over a lap of the form, in ticks of the lap. A note that began before the lap's bars did is left
    /// out; one that lasts beyond bars that follow one another ends with them.
    pub fn over(played: &[PlayedNote], form: &Form, lap: &Lap) -> Vec<PlayedNote> {
        let mut found = Vec::new();
        for stretch in lap
            .bars
            .chunk_by(|one, next| one.form_bar + 1 == next.form_bar)
        {
            let (first, last) = (stretch[0], stretch[stretch.len() - 1]);
            let from = form.bars[first.form_bar].start;
            let to = form.bars[last.form_bar].end();
            let inside = played
                .iter()
                .skip_while(|note| note.start < from)
                .take_while(|note| note.start < to);
            found.extend(inside.map(|note| PlayedNote {
                start: note.start - from + first.start,
                len: note.len.min(to - note.start),
                ..*note
            }));
        }
        found
    }

    /// Whether there is no note in it.
    pub fn is_empty(&self) -> bool {
        self.pickup.is_empty() && self.sections.iter().flatten().all(Vec::is_empty)
    }
}

fn push(played: &mut Vec<PlayedNote>, bar_start: Tick, notes: &[MelodyNote]) {
    for note in notes {
        let start = bar_start + note.at;
        let midi = note.midi();
        match played.last_mut() {
            Some(last) if last.tied && last.midi == midi && last.start + last.len == start => {
                last.len += note.len;
                last.tied = note.tied;
            }
            _ => played.push(PlayedNote {
                start,
                len: note.len,
                midi,
                tied: note.tied,
            }),
        }
    }
}
