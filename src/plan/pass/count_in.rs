//! The count before the first bar, with the pickup where there is one.

use crate::band;
use crate::chart::{Lap, LapBar, LapChord, PlayedNote};
use crate::drill::{self, Help, TargetSet};
use crate::plan::pass::{Pass, PassKind, PassSettings};
use crate::plan::{Material, Standing};
use crate::time::{Part, Tick, TimedNote, UsPerQuarter};
use std::sync::Arc;

impl Pass {
    /// The count-in before the pass at `standing`, with the pickup when `with_pickup`.
    pub fn count_in(
        material: &Arc<Material>,
        standing: Standing,
        with_pickup: bool,
        tempo: UsPerQuarter,
        playing: &PassSettings,
    ) -> Pass {
        let stage = standing.stage_of(material);
        let help = playing.help(stage, &standing);
        let form_bar = standing.form_bars(material).first().copied().unwrap_or(0);
        let meter = material.form.bars[form_bar].meter;
        let pickup = material.form.pickup.as_ref().filter(|_| with_pickup);
        let sounding = pickup.map_or(Tick(0), |(_, chords)| {
            chords
                .first()
                .map_or(Tick(0), |chord| Tick(-chord.timed.start.0))
        });
        let mut lap = Lap::default();
        let mut notes = Vec::new();
        for bar in band::count_in(meter, tempo, sounding) {
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
        let mut targets = Vec::new();
        if with_pickup && help.melody {
            notes.extend(pickup_melody(material, &lap, tempo));
        }
        if let Some((_, chords)) = pickup {
            let bar = lap.bars.len().saturating_sub(1);
            for (index, chord) in chords.iter().enumerate() {
                let start = Tick(lap.len.0 + chord.timed.start.0);
                lap.chords.push(LapChord {
                    form_chord: index,
                    start,
                    len: chord.timed.len,
                    bar,
                });
                targets.push(TargetSet::default());
            }
            notes.extend(pickup_notes(
                material, &lap, &targets, tempo, &help, playing,
            ));
        }
        notes.sort_by_key(|note| (note.at, note.part, note.key));
        let notes = unmuted_band(notes, playing);
        Pass {
            kind: PassKind::CountIn,
            material: material.clone(),
            standing,
            lap,
            of_pickup: true,
            targets,
            places: Vec::new(),
            rests: Vec::new(),
            notes,
            tempo,
            help,
        }
    }
}

/// The count-in is never muted: without it nobody comes in together.
fn unmuted_band(notes: Vec<TimedNote>, playing: &PassSettings) -> Vec<TimedNote> {
    let kept = |note: &TimedNote| note.part == Part::Click || !playing.muted.contains(&note.part);
    notes.into_iter().filter(kept).collect()
}

fn pickup_notes(
    material: &Material,
    lap: &Lap,
    targets: &[TargetSet],
    tempo: UsPerQuarter,
    help: &Help,
    playing: &PassSettings,
) -> Vec<TimedNote> {
    let (contexts, feel) = (&material.pickup_contexts, material.form.feel);
    let score = band::Score {
        targets,
        next: material.contexts.first(),
        seed: playing.seed,
        // A pickup has no targets of its own, so what is to be hidden there is not known: then none is comped.
        comping: match help.comping {
            drill::Comping::Full => drill::Comping::Full,
            _ => drill::Comping::Off,
        },
        bass: help.bass,
        ..band::Score::silent(lap, contexts, feel, tempo)
    };
    let first = lap.chords.first().map_or(lap.len, |chord| chord.start);
    band::play(&score)
        .into_iter()
        .filter(|note| note.at >= first)
        .collect()
}

/// The tune's own pickup, at the end of the count.
fn pickup_melody(material: &Material, lap: &Lap, tempo: UsPerQuarter) -> Vec<TimedNote> {
    let is_pickup = |note: &&PlayedNote| note.start < Tick(0) && note.start + lap.len >= Tick(0);
    let mut melody: Vec<PlayedNote> = material.melody.iter().filter(is_pickup).copied().collect();
    for note in &mut melody {
        note.start += lap.len;
    }
    let score = band::Score {
        melody: &melody,
        ..band::Score::silent(lap, &[], material.form.feel, tempo)
    };
    band::play(&score)
}
