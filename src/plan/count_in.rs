//! The count before the first bar, with the pickup where there is one.

use super::pass::{Pass, PassKind};
use super::pass_writer::PassWriter;
use crate::band;
use crate::chart::{Lap, LapBar, LapChord, PlayedNote};
use crate::drill::{Comping, Help, TargetSet};
use crate::time::{Part, Tick, TimedNote};

impl PassWriter<'_> {
    /// The count-in before the pass, with the pickup when `with_pickup`.
    pub fn count_in(&self, with_pickup: bool) -> Pass {
        let (form_bar, meter) = self.first_bar();
        let pickup = self.material.form.pickup.as_ref();
        let pickup = pickup.filter(|_| with_pickup).map(|(_, chords)| chords);
        let first = pickup.and_then(|chords| chords.first());
        let sounding = first.map_or(Tick(0), |chord| Tick(-chord.timed.start.0));
        let mut lap = Lap::default();
        let mut notes = Vec::new();
        let bars = self.material.played().count_in_bars;
        for bar in band::count_in_bars(meter, self.tempo, sounding, bars) {
            notes.extend(bar.notes.iter().map(|note| TimedNote {
                at: note.at + lap.len,
                ..*note
            }));
            lap.bars.push(LapBar {
                form_bar,
                start: lap.len,
                meter: bar.meter,
            });
            lap.len += bar.meter.bar_ticks();
        }
        let bar = lap.bars.len().saturating_sub(1);
        let chords = pickup.into_iter().flatten().enumerate();
        let len = lap.len;
        lap.chords.extend(chords.map(|(index, chord)| LapChord {
            form_chord: index,
            start: len + chord.timed.start,
            len: chord.timed.len,
            bar,
        }));
        let empty = self.silent(PassKind::CountIn, lap);
        let (lap, help) = (&empty.lap, &empty.help);
        let targets = vec![TargetSet::default(); lap.chords.len()];
        if with_pickup && help.melody {
            notes.extend(self.pickup_melody(lap));
        }
        if !lap.chords.is_empty() {
            notes.extend(self.pickup_notes(lap, &targets, help));
        }
        notes.sort_by_key(|note| (note.at, note.part, note.key));
        // The click is never muted: without it nobody comes in together.
        let muted = &self.settings.muted;
        notes.retain(|note| note.part == Part::Click || !muted.contains(&note.part));
        Pass {
            targets,
            notes,
            ..empty
        }
    }

    fn pickup_notes(&self, lap: &Lap, targets: &[TargetSet], help: &Help) -> Vec<TimedNote> {
        let (contexts, feel) = (&self.material.pickup_contexts, self.material.form.feel);
        let score = band::Score {
            targets,
            next: self.material.contexts.first(),
            seed: self.settings.seed,
            // A pickup has no targets of its own, so what is to be hidden there is not known: then none is comped.
            comping: match help.comping {
                Comping::Full => Comping::Full,
                _ => Comping::Off,
            },
            bass: help.bass,
            ..band::Score::silent(lap, contexts, feel, self.tempo)
        };
        let first = lap.chords.first().map_or(lap.len, |chord| chord.start);
        let mut notes = band::play(&score);
        notes.retain(|note| note.at >= first);
        notes
    }

    /// The tune's own pickup, at the end of the count.
    fn pickup_melody(&self, lap: &Lap) -> Vec<TimedNote> {
        let is_pickup =
            |note: &&PlayedNote| note.start < Tick(0) && note.start + lap.len >= Tick(0);
        let pickup = self.material.melody.iter().filter(is_pickup);
        let mut melody: Vec<PlayedNote> = pickup.copied().collect();
        melody.iter_mut().for_each(|note| note.start += lap.len);
        let score = band::Score {
            melody: &melody,
            ..band::Score::silent(lap, &[], self.material.form.feel, self.tempo)
        };
        band::play(&score)
    }
}
