//! Passes written out: what the band plays, what is asked for, and where that lies on the neck.

use super::pass::{Pass, PassKind, PassSettings, as_drilled};
use super::silence;
use super::standing::distinct_chords;
use super::{Material, Standing};
use crate::band;
use crate::chart::{Feel, Form, Lap, LapBar, LapChord, Melody};
use crate::drill::{self, Help, LapChordView, LayOut, Stage, TargetSet};
use crate::fretboard::{NeckPlace, places_of};
use crate::harmony::ChordInContext;
use crate::time::{Meter, PPQ, Part, Tick, TimedNote, UsPerQuarter};
use std::sync::Arc;

/// Quarters that a chord is held out of time before it is struck again.
const HELD_QUARTERS: i64 = 8;

/// What a pass is written from.
#[derive(Debug, Clone, Copy)]
pub struct PassWriter<'a> {
    /// Chart and drill, as they come at `standing`.
    pub material: &'a Arc<Material>,
    /// Which pass of which stage, over what.
    pub standing: &'a Standing,
    /// The tempo at which it will sound: swing and voicings go by it.
    pub tempo: UsPerQuarter,
    /// What the player wants of every pass.
    pub settings: &'a PassSettings,
}

impl<'a> PassWriter<'a> {
    /// The pass over `lap`. `next` is the first chord after it (`None`: nothing sounds there); `last_time`: the take ends
    /// with this pass.
    pub fn music(&self, lap: Lap, next: Option<&ChordInContext>, last_time: bool) -> Pass {
        let (stage, form) = (self.stage(), &self.material.form);
        let views = as_drilled(&lap, &self.material.contexts);
        let over = self.lay_out(&views);
        let now = self.standing.stage_now(self.material);
        let mut targets = drill::lay_out(&now, &over);
        let rests = drill::resting(stage, &over);
        let places = self.places(&now, &mut targets);
        let empty = self.silent(PassKind::Music(self.standing.phase(self.material)), lap);
        let (lap, help) = (&empty.lap, &empty.help);
        let melody = match help.melody {
            true => Melody::over(&self.material.melody, form, lap),
            false => Vec::new(),
        };
        let sections = section_starts(form, lap);
        let score = band::Score {
            next,
            sections: &sections,
            pass: self.standing.pass + self.standing.vamped,
            feel_amount: self.settings.feel_amount,
            drums: help.drums,
            melody: &melody,
            tune_tempo: UsPerQuarter::from_qpm(self.material.chart.tempo_qpm),
            band: stage.band,
            last_time,
            ..self.score(lap, help, &targets, form.feel)
        };
        let mut notes = self.unmuted(band::play(&score));
        if stage.silence {
            notes = silence::keep_silence(notes, lap, &targets);
        }
        let notes = silence::drop_out(notes, &empty);
        Pass {
            targets,
            places,
            rests,
            notes,
            ..empty
        }
    }

    /// The breath: time is kept, nothing else sounds.
    pub fn breath(&self) -> Pass {
        let (form_bar, meter) = self.first_bar();
        let lap = empty_lap(form_bar, meter, self.stage().cycle.breathe_bars.max(1));
        let empty = self.silent(PassKind::Breathe, lap);
        let form = &self.material.form;
        let score = band::Score {
            pass: self.standing.pass,
            seed: self.settings.seed,
            feel_amount: self.settings.feel_amount,
            drums: empty.help.drums,
            ..band::Score::silent(&empty.lap, &self.material.contexts, form.feel, self.tempo)
        };
        let notes = self.unmuted(band::play(&score));
        Pass { notes, ..empty }
    }

    /// A stage out of time: the chord that `standing.held` names, held.
    pub fn held(&self) -> Pass {
        let material = self.material;
        let whole = self.standing.lap(material);
        let distinct = distinct_chords(self.stage(), material, &whole);
        let index = distinct.get(self.standing.held).or(distinct.first());
        let chord = index.map(|index| whole.chords[*index]);
        let form_bar = chord.map_or(0, |chord| whole.bars[chord.bar].form_bar);
        let bars = (HELD_QUARTERS * PPQ / Meter::COMMON.bar_ticks().0) as u32;
        let mut lap = empty_lap(form_bar, Meter::COMMON, bars);
        lap.chords.extend(chord.map(|chord| LapChord {
            start: Tick(0),
            len: lap.len,
            bar: 0,
            ..chord
        }));
        let views = as_drilled(&lap, &material.contexts);
        let mut targets = drill::lay_out(self.stage(), &self.lay_out(&views));
        let places = self.places(self.stage(), &mut targets);
        let empty = self.silent(PassKind::Held, lap);
        let score = band::Score {
            next: chord.map(|chord| &material.contexts[chord.form_chord]),
            ..self.score(&empty.lap, &empty.help, &targets, Feel::Ballad)
        };
        let notes = held_notes(self.unmuted(band::play(&score)), empty.lap.len);
        Pass {
            targets,
            places,
            notes,
            ..empty
        }
    }

    /// A pass in which nothing sounds and nothing is asked for.
    pub(super) fn silent(&self, kind: PassKind, lap: Lap) -> Pass {
        Pass {
            kind,
            material: self.material.clone(),
            standing: self.standing.clone(),
            lap,
            of_pickup: kind == PassKind::CountIn,
            targets: Vec::new(),
            places: Vec::new(),
            rests: Vec::new(),
            notes: Vec::new(),
            tempo: self.tempo,
            help: self.help(),
        }
    }

    /// The form's bar with which the pass begins, and its meter.
    pub(super) fn first_bar(&self) -> (usize, Meter) {
        let first = self.standing.form_bars(self.material).first().copied();
        let form_bar = first.unwrap_or(0);
        (form_bar, self.material.form.bars[form_bar].meter)
    }

    fn stage(&self) -> &'a Stage {
        self.standing.stage_of(self.material)
    }

    fn help(&self) -> Help {
        let help = self.stage().help_in(self.standing.pass);
        let model = self.settings.model.unwrap_or(help.model);
        Help { model, ..help }
    }

    fn lay_out<'b>(&self, views: &'b [LapChordView<'b>]) -> LayOut<'b> {
        LayOut {
            chords: views,
            pass: self.standing.turn(self.material),
            seed: self.settings.seed,
            tempo: self.tempo,
            range: self.settings.neck.range(),
        }
    }

    /// Comping, bass and model tones as the help wants them, over chords of the form.
    fn score<'b>(
        &'b self,
        lap: &'b Lap,
        help: &Help,
        targets: &'b [TargetSet],
        feel: Feel,
    ) -> band::Score<'b> {
        band::Score {
            targets,
            seed: self.settings.seed,
            comping: help.comping,
            bass: help.bass,
            model: help.model,
            ..band::Score::silent(lap, &self.material.contexts, feel, self.tempo)
        }
    }

    fn places(&self, stage: &Stage, targets: &mut [TargetSet]) -> Vec<Vec<Option<NeckPlace>>> {
        let turn = self.standing.turn(self.material);
        places_of(&self.settings.neck, targets, stage, turn)
    }

    fn unmuted(&self, mut notes: Vec<TimedNote>) -> Vec<TimedNote> {
        notes.retain(|note| !self.settings.muted.contains(&note.part));
        notes
    }
}

/// The bars of a lap, but for the first, with which an item of the form begins.
fn section_starts(form: &Form, lap: &Lap) -> Vec<usize> {
    let item = |bar: usize| form.bars[lap.bars[bar].form_bar].item;
    let begins = |bar: &usize| item(*bar) != item(*bar - 1);
    (1..lap.bars.len()).filter(begins).collect()
}

fn empty_lap(form_bar: usize, meter: Meter, bars: u32) -> Lap {
    let len = meter.bar_ticks();
    let bar = |index: i64| LapBar {
        form_bar,
        start: Tick(index * len.0),
        meter,
    };
    Lap {
        len: Tick(len.0 * i64::from(bars)),
        bars: (0..i64::from(bars)).map(bar).collect(),
        chords: Vec::new(),
    }
}

/// Held means held: what is struck on the first tick rings to the end, nothing else is struck (model tones excepted).
fn held_notes(mut notes: Vec<TimedNote>, len: Tick) -> Vec<TimedNote> {
    notes.retain(|note| note.part == Part::Model || note.at == Tick(0));
    let band = notes.iter_mut().filter(|note| note.part != Part::Model);
    band.for_each(|note| note.len = len);
    notes
}
