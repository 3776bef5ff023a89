//! What a drill is.

use super::KeyWalk;
use super::band_style::BandStyle;
use super::figure::{DegreeWord, Each, FigureNote, Order, Place, Places, StringRule};
use super::help::Help;
use super::over::{GoesRound, TempoSteps};
use super::range::Octave;
use super::rotation::Rotation;
use super::rounds::{Advance, Cycle};
use crate::harmony::Quality;
use crate::time::Tick;

/// An ordered list of stages.
#[derive(Debug, Clone, PartialEq)]
pub struct Drill {
    pub title: String,
    /// The stages, at least one.
    pub stages: Vec<Stage>,
}

impl Drill {
    /// The stage to go to where stage `index` is too hard: the one it names, else the one before.
    pub fn easier(&self, index: usize) -> Option<usize> {
        let named = self.stages.get(index)?.easier.as_ref();
        self.named(named).or_else(|| index.checked_sub(1))
    }

    /// The stage to go to where stage `index` is too easy: the one it names, else the next.
    pub fn harder(&self, index: usize) -> Option<usize> {
        let named = self.stages.get(index)?.harder.as_ref();
        let next = Some(index + 1).filter(|next| *next < self.stages.len());
        self.named(named).or(next)
    }

    fn named(&self, name: Option<&String>) -> Option<usize> {
        let name = name?;
        self.stages.iter().position(|stage| stage.name == *name)
    }

    /// No drill at all: the tune is just played, the player chooses every note.
    pub fn just_play() -> Drill {
        let stage = Stage {
            name: "play".to_string(),
            ..Stage::blank()
        };
        Drill {
            title: "just play".to_string(),
            stages: vec![stage],
        }
    }
}

impl Stage {
    /// A stage that asks for nothing.
    pub(super) fn blank() -> Stage {
        Stage {
            name: String::new(),
            call: None,
            goal: None,
            easier: None,
            harder: None,
            degrees: Vec::new(),
            figure: Vec::new(),
            order: Order::AsWritten,
            places: Places::All(Vec::new()),
            step: Tick(crate::time::PPQ / 2),
            length: None,
            rest_bars: 0,
            play_bars: 1,
            each: Each::Chord,
            string: StringRule::Free,
            keys: KeyWalk::Stay,
            position: None,
            octave: None,
            rotation: None,
            passes: 1,
            find: None,
            answer_phrase: false,
            advance: Advance::Foot,
            help: Help::default(),
            fade: Vec::new(),
            // A tune that is just played goes round without a breath.
            cycle: Cycle {
                listen: 0,
                sing: 0,
                play: 1,
                breathe_bars: 0,
            },
            pulse: true,
            silence: false,
            in_time: true,
            tempo_by_ear: false,
            chords_last: 1,
            certain: false,
            chords: Vec::new(),
            over: None,
            tempo: None,
            band: BandStyle::Free,
            band_out: 0,
        }
    }
}

/// A stage of a drill.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    pub name: String,
    /// What the voice calls it where the name takes too long.
    pub call: Option<String>,
    /// What it is for, in a line.
    pub goal: Option<String>,
    /// The stage to go to where it is too hard, if not the one before.
    pub easier: Option<String>,
    /// The stage to go to where it is too easy, if not the next.
    pub harder: Option<String>,
    /// The chosen set of degrees.
    pub degrees: Vec<DegreeWord>,
    /// The order of the degrees over one chord; empty in an open-choice stage.
    pub figure: Vec<FigureNote>,
    /// How that order varies.
    pub order: Order,
    /// Where the notes fall; in an open-choice stage its rhythm, or empty.
    pub places: Places,
    /// Distance of a figure's notes when the places name only the first.
    pub step: Tick,
    /// Duration of each note; `None`: up to the next note, as long as it may.
    pub length: Option<Tick>,
    /// Bars of rest after `play_bars`; 0: no rest.
    pub rest_bars: u32,
    /// Bars with figures before a rest, at least 1. From pass to pass the rests move on, so that every chord
    /// gets its turn.
    pub play_bars: u32,
    /// Each chord or each bar.
    pub each: Each,
    pub string: StringRule,
    /// In which key the tune comes in each round of the cycle.
    pub keys: KeyWalk,
    /// The fret under the first finger, 1 to 12, where the stage stays in one position of the hand.
    pub position: Option<u8>,
    /// In which octave its figures begin; `None`: in the middle.
    pub octave: Option<Octave>,
    /// What turns from pass to pass, besides [`Stage::places`].
    pub rotation: Option<Rotation>,
    /// Passes of the stage.
    pub passes: u32,
    pub advance: Advance,
    /// How often its one note is to be found out of time, each time elsewhere; the page does not say where.
    pub find: Option<u32>,
    /// Whether the box plays a short phrase of its notes over each chord, for the player to repeat.
    pub answer_phrase: bool,
    /// Help in the first pass.
    pub help: Help,
    /// Help from later passes on: `(pass from 1, help)`, ascending; each holds until the next.
    pub fade: Vec<(u32, Help)>,
    /// Listen, sing, play, breathe.
    pub cycle: Cycle,
    /// `false`: out of time, one chord held until the foot (or until it was right).
    pub pulse: bool,
    /// Whether the band leaves a silence between the chord and the figure, so that it is heard before it is played.
    pub silence: bool,
    /// How richly the band plays.
    pub band: BandStyle,
    /// The band plays so many bars and drops out for as many, in turn, while the player plays; 0: it stays.
    pub band_out: u32,
    /// Whether the tempo goes by what is heard: up after two clean choruses, down after two rough ones.
    pub tempo_by_ear: bool,
    /// Whether notes must stand in time for the stage to be secure; else time is only told.
    pub in_time: bool,
    /// Each chord lasts so many times as long as written, at the same tempo: 1 to 8.
    pub chords_last: u32,
    /// Whether chords are left out over which a degree that is asked for is not certain.
    pub certain: bool,
    /// The kinds of chords that something is asked over; empty: all.
    pub chords: Vec<Quality>,
    /// What goes round from its beginning on; `None`: what went round before.
    pub over: Option<GoesRound>,
    /// How its tempo rises; `None`: it stays.
    pub tempo: Option<TempoSteps>,
}

impl Stage {
    /// Whether the player chooses the notes and places within the set.
    pub fn is_open_choice(&self) -> bool {
        self.figure.is_empty()
    }

    /// The places named for `pass` (from 0).
    pub fn places_in(&self, pass: u32) -> &[Place] {
        match &self.places {
            Places::All(places) => places,
            Places::Rotate(turns) if turns.is_empty() => &[],
            Places::Rotate(turns) => &turns[pass as usize % turns.len()],
        }
    }

    /// The places of pass `turn` of what turns.
    pub fn places_at(&self, turn: u32, seed: u64) -> &[Place] {
        let rotation = self
            .rotation
            .as_ref()
            .filter(|rotation| !rotation.places.is_empty());
        let turning = rotation.and_then(|rotation| {
            let row = rotation.indices(turn, seed);
            rotation.places.get(row.first().copied().unwrap_or(0))
        });
        turning.map_or_else(|| self.places_in(turn), Vec::as_slice)
    }

    /// The help in `pass`, counted from 0.
    pub fn help_in(&self, pass: u32) -> Help {
        self.fade
            .iter()
            .rev()
            .find(|(from, _)| *from <= pass + 1)
            .map_or(self.help, |(_, help)| *help)
    }
}
