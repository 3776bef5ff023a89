//! What a sheet says: bars, chords, the notes over them and where they lie on the neck. No millimetres.

use crate::display::{accidental, note_name};
use crate::drill::{Names, Place};
use crate::fretboard::{Neck, NeckPlace};
use crate::harmony::{Degree, Harmony, KeyDeclaration, Pitch};
use crate::time::{Meter, Tick};

/// A sheet before it is laid out.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetModel {
    /// The tune.
    pub title: String,
    /// Drill and stage.
    pub subtitle: String,
    /// What stands small below: key, time, tempo, form; what the stage is for; the instrument.
    pub remarks: Vec<String>,
    pub names: Names,
    pub neck: Neck,
    /// Quarter notes a minute.
    pub tempo_qpm: f64,
    /// The bars in the order of their ticks, without gaps but where parts of the chart are left out.
    pub bars: Vec<SheetBar>,
    pub chords: Vec<SheetChord>,
}

/// A bar.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetBar {
    pub start: Tick,
    pub meter: Meter,
    /// The key declared there.
    pub key: Option<KeyDeclaration>,
    /// What begins with it: a section by its name, an ending.
    pub mark: Option<String>,
    /// Its number as a player counts: in the section, or in the form. 0 is the pickup.
    pub number: u32,
}

impl SheetBar {
    /// Where it ends.
    pub fn end(&self) -> Tick {
        self.start + self.meter.bar_ticks()
    }
}

/// A chord and what is to be played over it.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetChord {
    pub at: Tick,
    pub len: Tick,
    pub meter: Meter,
    /// As pages write it.
    pub symbol: String,
    pub harmony: Harmony,
    /// The scale by name.
    pub scale: Option<String>,
    /// Section and bar: `A 3`.
    pub place: String,
    /// In playing order.
    pub notes: Vec<SheetNote>,
    /// Whether the player chooses among the notes, so that they have no places in time.
    pub is_free: bool,
    /// Where the notes fall over the chord; in open choice where they are to fall.
    pub rhythm: Vec<(Place, Tick)>,
}

/// A note to play.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetNote {
    pub pitch: Pitch,
    /// The octave it sounds in: middle C is C4.
    pub octave: i8,
    pub degree: Degree,
    pub at: Tick,
    pub len: Tick,
    pub neck: Option<NeckPlace>,
    /// `false`: it may as well be another.
    pub is_certain: bool,
}

impl SheetNote {
    /// The octave of a pitch that sounds as this MIDI key: it belongs to the letter, so B♯3 is the C of 60.
    pub fn octave_of(pitch: Pitch, midi: u8) -> i8 {
        let natural = i32::from(midi) - i32::from(pitch.alter) - pitch.letter.semitones();
        (natural.div_euclid(12) - 1) as i8
    }

    /// The degree as it stands below its note: `♭3`.
    pub fn degree_text(&self) -> String {
        format!("{}{}", accidental(self.degree.alter), self.degree.number)
    }

    /// The note's name; with a question mark where it may as well be another.
    pub fn name(&self, names: Names) -> String {
        let mark = if self.is_certain { "" } else { "?" };
        format!("{}{mark}", note_name(self.pitch, names))
    }

    /// Steps of the staff above middle C, as it sounds.
    pub fn step(&self) -> i32 {
        i32::from(self.octave - 4) * 7 + self.pitch.letter as i32
    }
}

/// How the staff of an instrument is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clef {
    /// Treble, sounding as written.
    Treble,
    /// Treble, sounding an octave lower: the guitar.
    TrebleOctaveDown,
    /// Bass, sounding an octave lower: the bass guitar.
    BassOctaveDown,
}

/// The mean MIDI key of open strings below which the bass clef is written, and the treble clef an octave down.
const BASS_BELOW: f64 = 44.0;
const OCTAVE_DOWN_BELOW: f64 = 60.0;

impl Clef {
    /// The clef of a neck, by how low its strings are.
    pub fn of(neck: &Neck) -> Clef {
        let open = neck.tuning.open_keys();
        let sum: f64 = open.iter().map(|key| f64::from(*key)).sum();
        match sum / open.len().max(1) as f64 {
            mean if mean < BASS_BELOW => Clef::BassOctaveDown,
            mean if mean < OCTAVE_DOWN_BELOW => Clef::TrebleOctaveDown,
            _ => Clef::Treble,
        }
    }

    /// Octaves from what is written to what sounds.
    pub fn octave_change(self) -> i32 {
        match self {
            Clef::Treble => 0,
            Clef::TrebleOctaveDown | Clef::BassOctaveDown => -1,
        }
    }

    /// Where middle C, as written, stands: half spaces below the top line.
    fn middle_c(self) -> i32 {
        match self {
            Clef::Treble | Clef::TrebleOctaveDown => 10,
            Clef::BassOctaveDown => -2,
        }
    }

    /// Where a note stands: half spaces below the staff's top line.
    pub fn half_spaces(self, step: i32) -> i32 {
        self.middle_c() - (step - 7 * self.octave_change())
    }

    /// The letters of sharps and flats of a signature, and the half spaces below the top line they stand at.
    pub fn signature(self, fifths: i8) -> Vec<i32> {
        let sharps = [0, 3, -1, 2, 5, 1, 4];
        let flats = [4, 1, 5, 2, 6, 3, 7];
        let lower = if self == Clef::BassOctaveDown { 2 } else { 0 };
        let places = if fifths > 0 { sharps } else { flats };
        let count = usize::from(fifths.unsigned_abs()).min(7);
        places[..count].iter().map(|at| at + lower).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_stand_where_their_clef_puts_them() {
        // Half spaces below the top line, common practice: the low E of a guitar under three ledger lines, its open first
        // string in the top space; the lowest string of a bass under one.
        let note = |pitch: &str, midi: u8| {
            let pitch: Pitch = pitch.parse().unwrap();
            let octave = SheetNote::octave_of(pitch, midi);
            i32::from(octave - 4) * 7 + pitch.letter as i32
        };
        let cases = [
            (Clef::TrebleOctaveDown, "E", 40, 15),
            (Clef::TrebleOctaveDown, "E", 64, 1),
            (Clef::TrebleOctaveDown, "B#", 60, 4),
            (Clef::TrebleOctaveDown, "Cb", 59, 3),
            (Clef::BassOctaveDown, "E", 28, 10),
            (Clef::BassOctaveDown, "A", 33, 7),
            (Clef::Treble, "C", 60, 10),
        ];
        for (clef, pitch, midi, at) in cases {
            assert_eq!(clef.half_spaces(note(pitch, midi)), at, "{pitch} {midi}");
        }
    }
}
