//! One pass, written out: its lap, target sets and notes.

mod count_in;
mod silence;

use crate::band;
use crate::chart::{Feel, Lap, LapBar, LapChord, Melody};
use crate::display::Phase;
use crate::drill::{self, Help, LapChordView, LayOut, TargetSet};
use crate::fretboard::{Neck, NeckPlace, way_through};
use crate::harmony::ChordInContext;
use crate::judging::trading;
use crate::plan::standing::distinct_chords;
use crate::plan::{Material, Standing};
use crate::time::{Meter, Part, Tick, TimedNote, UsPerQuarter};
use std::sync::Arc;

/// Bars (of four quarters) that a chord is held out of time before it is struck again.
const HELD_QUARTERS: i64 = 8;

/// What a pass is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PassKind {
    /// The count before the first bar; with the pickup, where there is one.
    CountIn,
    /// Once through what goes round.
    Music(Phase),
    /// Time goes on, the summary stands there.
    Breathe,
    /// One chord held, out of time.
    Held,
}

/// A pass with everything that sounds and is to be played in it. Ticks count from its lap's first bar.
#[derive(Debug, Clone)]
pub struct Pass {
    /// What it is.
    pub kind: PassKind,
    /// The chart and drill it was written from.
    pub material: Arc<Material>,
    /// Where it stands in the course.
    pub standing: Standing,
    /// Its bars and chords.
    pub lap: Lap,
    /// Chords of the lap refer to the pickup's contexts, not the form's.
    pub of_pickup: bool,
    /// The target sets, one a chord of the lap.
    pub targets: Vec<TargetSet>,
    /// Where their notes lie, one list a set; empty where nothing is to be played.
    pub places: Vec<Vec<Option<NeckPlace>>>,
    /// Which chords of the lap lie in a bar of rest; empty where nothing is to be played.
    pub rests: Vec<bool>,
    /// The band's notes.
    pub notes: Vec<TimedNote>,
    /// The tempo it was written for.
    pub tempo: UsPerQuarter,
    /// The help in force.
    pub help: Help,
}

/// Settings of the player that shape every pass.
#[derive(Debug, Clone, PartialEq)]
pub struct PassSettings {
    /// Chooses where there is a choice.
    pub seed: u64,
    /// Parts that the foot muted.
    pub muted: Vec<Part>,
    /// The neck that the notes are looked for on.
    pub neck: Neck,
    /// Model tones wanted whatever the stage says (`None`: as the stage says).
    pub model: Option<drill::Model>,
}

impl PassSettings {
    fn help(&self, stage: &drill::Stage, standing: &Standing) -> Help {
        let mut help = stage.help_in(standing.pass);
        if let Some(model) = self.model {
            help.model = model;
        }
        help
    }
}

impl Pass {
    /// Writes out the pass at `standing`. `lap` is what it goes through; `next` is the first chord after it
    /// (`None`: nothing sounds there); `last_time`: the take ends with this pass.
    pub fn music(
        material: &Arc<Material>,
        standing: Standing,
        lap: Lap,
        next: Option<&ChordInContext>,
        last_time: bool,
        tempo: UsPerQuarter,
        playing: &PassSettings,
    ) -> Pass {
        let stage = standing.stage_of(material);
        let help = playing.help(stage, &standing);
        let views = views(&lap, &material.contexts);
        let over = LayOut {
            chords: &views,
            pass: standing.pass,
            seed: playing.seed,
        };
        let targets = drill::lay_out(stage, &over);
        let rests = drill::resting(stage, &over);
        let places = way_through(&playing.neck, &targets, stage.string, stage.position);
        let melody = if help.melody {
            Melody::over(&material.melody, &material.form, &lap)
        } else {
            Vec::new()
        };
        let score = band::Score {
            targets: &targets,
            next,
            pass: standing.pass,
            seed: playing.seed,
            comping: help.comping,
            bass: help.bass,
            drums: help.drums,
            melody: &melody,
            model: help.model,
            learning: is_learning(stage),
            last_time,
            ..band::Score::silent(&lap, &material.contexts, material.form.feel, tempo)
        };
        let mut notes = unmuted(band::play(&score), playing);
        if stage.silence {
            notes = silence::keep_silence(notes, &lap, &targets);
        }
        let kind = PassKind::Music(standing.phase(material));
        let mut pass = Pass {
            kind,
            material: material.clone(),
            standing,
            lap,
            of_pickup: false,
            targets,
            places,
            rests,
            notes,
            tempo,
            help,
        };
        silence::drop_out(&mut pass);
        pass
    }

    /// Whether the band is out in a bar of the lap: it plays some bars and drops out for as many, in turn, as long as the
    /// player plays.
    pub fn is_band_out(&self, bar: usize) -> bool {
        let stage = self.standing.stage_of(&self.material);
        let played = u64::from(self.standing.played_in_round(&self.material));
        let before = played * self.lap.bars.len() as u64 + bar as u64;
        self.kind == PassKind::Music(Phase::Play) && trading::is_out(stage.band_out, before)
    }

    /// The breath: time is kept, nothing else sounds.
    pub fn breath(
        material: &Arc<Material>,
        standing: Standing,
        tempo: UsPerQuarter,
        playing: &PassSettings,
    ) -> Pass {
        let stage = standing.stage_of(material);
        let help = playing.help(stage, &standing);
        let form_bar = standing.form_bars(material).first().copied().unwrap_or(0);
        let meter = material.form.bars[form_bar].meter;
        let lap = empty_lap(form_bar, meter, stage.cycle.breathe_bars.max(1));
        let score = band::Score {
            pass: standing.pass,
            seed: playing.seed,
            drums: help.drums,
            ..band::Score::silent(&lap, &material.contexts, material.form.feel, tempo)
        };
        let notes = unmuted(band::play(&score), playing);
        Pass {
            kind: PassKind::Breathe,
            material: material.clone(),
            standing,
            lap,
            of_pickup: false,
            targets: Vec::new(),
            places: Vec::new(),
            rests: Vec::new(),
            notes,
            tempo,
            help,
        }
    }

    /// A stage out of time: the chord that `standing.held` names, held.
    pub fn held(
        material: &Arc<Material>,
        standing: Standing,
        tempo: UsPerQuarter,
        playing: &PassSettings,
    ) -> Pass {
        let stage = standing.stage_of(material);
        let help = playing.help(stage, &standing);
        let whole = standing.lap(material);
        let distinct = distinct_chords(material, &whole);
        let chord = distinct
            .get(standing.held)
            .or(distinct.first())
            .map(|index| whole.chords[*index]);
        let form_bar = chord.map_or(0, |chord| {
            material.form.bars.len().min(whole.bars[chord.bar].form_bar)
        });
        let meter = Meter::COMMON;
        let mut lap = empty_lap(
            form_bar,
            meter,
            (HELD_QUARTERS * crate::time::PPQ / meter.bar_ticks().0) as u32,
        );
        if let Some(chord) = chord {
            lap.chords.push(LapChord {
                start: Tick(0),
                len: lap.len,
                bar: 0,
                ..chord
            });
        }
        let views = views(&lap, &material.contexts);
        let targets = drill::lay_out(
            stage,
            &LayOut {
                chords: &views,
                pass: standing.pass,
                seed: playing.seed,
            },
        );
        let next = chord.map(|chord| &material.contexts[chord.form_chord]);
        let places = way_through(&playing.neck, &targets, stage.string, stage.position);
        let score = band::Score {
            targets: &targets,
            next,
            seed: playing.seed,
            comping: help.comping,
            bass: help.bass,
            model: help.model,
            ..band::Score::silent(&lap, &material.contexts, Feel::Ballad, tempo)
        };
        let notes = held_notes(band::play(&score), lap.len, playing);
        Pass {
            kind: PassKind::Held,
            material: material.clone(),
            standing,
            lap,
            of_pickup: false,
            targets,
            places,
            rests: Vec::new(),
            notes,
            tempo,
            help,
        }
    }

    /// The context of a chord of the lap.
    pub fn context(&self, lap_chord: usize) -> Option<&ChordInContext> {
        let chord = self.lap.chords.get(lap_chord)?;
        let from = &self.material;
        let contexts = if self.of_pickup {
            &from.pickup_contexts
        } else {
            &from.contexts
        };
        contexts.get(chord.form_chord)
    }
}

/// A stage where the player still learns the notes: every chord on its first beat, no push, two-feel.
fn is_learning(stage: &drill::Stage) -> bool {
    stage.degrees.len() <= 2 && !stage.figure.is_empty()
}

fn views<'a>(lap: &Lap, contexts: &'a [ChordInContext]) -> Vec<LapChordView<'a>> {
    let view = |chord: &LapChord| LapChordView {
        start: chord.start,
        len: chord.len,
        meter: lap.bars[chord.bar].meter,
        context: &contexts[chord.form_chord],
    };
    lap.chords.iter().map(view).collect()
}

fn empty_lap(form_bar: usize, meter: Meter, bars: u32) -> Lap {
    let len = meter.bar_ticks();
    let bars: Vec<_> = (0..i64::from(bars))
        .map(|index| LapBar {
            form_bar,
            start: Tick(index * len.0),
            meter,
        })
        .collect();
    Lap {
        len: Tick(len.0 * bars.len() as i64),
        bars,
        chords: Vec::new(),
    }
}

fn unmuted(notes: Vec<TimedNote>, playing: &PassSettings) -> Vec<TimedNote> {
    notes
        .into_iter()
        .filter(|note| !playing.muted.contains(&note.part))
        .collect()
}

/// Held means held: what is struck on the first tick rings to the end, nothing else is struck (model tones
/// excepted).
fn held_notes(notes: Vec<TimedNote>, len: Tick, playing: &PassSettings) -> Vec<TimedNote> {
    let held = unmuted(notes, playing)
        .into_iter()
        .filter(|note| note.part == Part::Model || note.at == Tick(0));
    held.map(|note| {
        if note.part == Part::Model {
            note
        } else {
            TimedNote { len, ..note }
        }
    })
    .collect()
}
