//! Which note a degree word of a drill is over a chord.

use super::figure::{Approach, DegreeWord};
use super::model::Stage;
use crate::harmony::{ChordInContext, ChordSymbol, Degree, DegreeRole, Pitch, Role, ScaleName};

/// A degree found over a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct DegreeTone {
    pub degree: Degree,
    pub pitch: Pitch,
    pub role: Role,
}

impl From<&DegreeRole> for DegreeTone {
    fn from(found: &DegreeRole) -> DegreeTone {
        DegreeTone {
            degree: found.degree,
            pitch: found.pitch,
            role: found.role,
        }
    }
}

impl DegreeTone {
    /// Semitones above the root, 0 to 11.
    pub fn semitones(self, root: Pitch) -> u8 {
        root.up_to(self.pitch)
    }
}

/// The note that `word` is over the chord; `set` are all degrees of the stage, because what stands in for a
/// missing degree must not double one that is asked for too. `None` where the chord has nothing like it.
pub(super) fn resolve(
    word: DegreeWord,
    chord: &ChordInContext,
    set: &[DegreeWord],
) -> Option<DegreeTone> {
    let symbol = chord.symbol()?;
    match word {
        DegreeWord::Absolute(degree) => Some(absolute(degree, chord, symbol)),
        DegreeWord::InScale(number) => {
            let number = Degree::new(number, 0).simple().number;
            stand_in(number, chord, symbol, set)
                .or_else(|| in_scale(number, chord, symbol))
                .or_else(|| nearest_in_scale(number, chord, symbol, set))
        }
    }
}

impl Stage {
    /// The pitch classes of the stage's set over a chord, a bit each.
    pub fn classes_over(&self, chord: &ChordInContext) -> u16 {
        let tones = self.degrees.iter();
        let tones = tones.filter_map(|word| resolve(*word, chord, &self.degrees));
        tones.fold(0, |set, tone| set | 1 << tone.pitch.class())
    }

    /// Whether the stage leaves a chord out: it is of another kind than it asks over, or the stage asks for what is certain, and
    /// a degree that it asks for is not.
    pub fn leaves_out(&self, chord: &ChordInContext) -> bool {
        let uncertain = |word: &DegreeWord| {
            let tone = match word {
                DegreeWord::InScale(_) => resolve(*word, chord, &self.degrees),
                DegreeWord::Absolute(_) => None,
            };
            tone.is_some_and(|tone| !chord.is_certain_of(tone.pitch))
        };
        let is_of_kind = |symbol: &ChordSymbol| {
            self.chords.is_empty() || self.chords.contains(&symbol.quality())
        };
        !chord.symbol().is_none_or(is_of_kind) || self.certain && self.degrees.iter().any(uncertain)
    }
}

/// The note that leads into `tone`.
pub(super) fn lead_in(
    tone: DegreeTone,
    approach: Approach,
    chord: &ChordInContext,
) -> Option<DegreeTone> {
    let root = chord.root()?;
    let pitch = match approach {
        Approach::SemitoneBelow => semitone_below(tone.pitch),
        Approach::StepAbove => {
            chord
                .degrees
                .iter()
                .filter(|other| other.pitch.class() != tone.pitch.class())
                .min_by_key(|other| tone.pitch.up_to(other.pitch))?
                .pitch
        }
    };
    Some(DegreeTone {
        degree: Degree::of(pitch, root),
        pitch,
        role: Role::Passing,
    })
}

/// A leading note is spelled on the letter below; where that needs a double sign, as the plain note.
fn semitone_below(pitch: Pitch) -> Pitch {
    let letter = pitch.letter.up(-1);
    let whole = (pitch.letter.semitones() - letter.semitones()).rem_euclid(12);
    let leading = Pitch::new(letter, pitch.alter + whole as i8 - 1);
    if leading.alter.abs() <= 1 {
        leading
    } else {
        Pitch::new(pitch.letter, pitch.alter - 1)
    }
}

fn absolute(degree: Degree, chord: &ChordInContext, symbol: &ChordSymbol) -> DegreeTone {
    let pitch = degree.above(symbol.root);
    let known = chord
        .degrees
        .iter()
        .find(|other| other.pitch.class() == pitch.class());
    DegreeTone {
        degree: degree.simple(),
        pitch,
        role: known.map_or(Role::Colour, |other| other.role),
    }
}

/// The part that one degree takes for another: the sixth for the seventh on sixth chords, the fourth for the
/// third on suspended ones, and what an altered chord has instead of fourth and fifth.
fn stand_in(
    number: u8,
    chord: &ChordInContext,
    symbol: &ChordSymbol,
    set: &[DegreeWord],
) -> Option<DegreeTone> {
    let asked = |other: u8| {
        set.iter().any(|word| {
            matches!(word, DegreeWord::InScale(n) if Degree::new(*n, 0).simple().number == other)
        })
    };
    let has = |other: u8| symbol.degrees.iter().any(|degree| degree.number == other);
    let has_simple = |other: u8| {
        symbol
            .degrees
            .iter()
            .any(|degree| degree.simple().number == other)
    };
    match number {
        7 if has(6) && !has(7) && !asked(6) => in_scale(6, chord, symbol),
        3 if !has(3) && has_simple(4) && !asked(4) => in_scale(4, chord, symbol),
        3 if !has(3) && !has_simple(4) && has_simple(2) && !asked(2) => in_scale(2, chord, symbol),
        4 | 5 if chord.scale == Some(ScaleName::Altered) => {
            // The five notes of an altered chord are 1 b9 3 b13 b7.
            let semitones = if number == 5 && asked(4) { 10 } else { 8 };
            at_semitones(semitones, chord, symbol)
        }
        _ => None,
    }
}

fn in_scale(number: u8, chord: &ChordInContext, symbol: &ChordSymbol) -> Option<DegreeTone> {
    // The second is always the scale's: over an altered chord with its sharp nine it is the flat nine.
    let tone_of_chord = symbol
        .degrees
        .iter()
        .find(|degree| number != 2 && degree.simple().number == number);
    if let Some(degree) = tone_of_chord {
        let semitones = degree.semitones().rem_euclid(12) as u8;
        let fallback = DegreeTone {
            degree: degree.simple(),
            pitch: degree.above(symbol.root),
            role: Role::ChordTone,
        };
        let found = at_semitones(semitones, chord, symbol).unwrap_or(fallback);
        return Some(plain(found, symbol.root));
    }
    let candidates = chord
        .degrees
        .iter()
        .filter(|other| other.degree.number == number);
    candidates
        .min_by_key(|other| other.degree.semitones())
        .map(DegreeTone::from)
}

/// Where a diminished seventh would need a double flat it is named by its plain letter: A over Cdim7.
fn plain(tone: DegreeTone, root: Pitch) -> DegreeTone {
    if tone.degree != Degree::new(7, -2) || tone.pitch.alter > -2 {
        return tone;
    }
    let sixth = Degree::new(6, 0);
    DegreeTone {
        degree: sixth,
        pitch: sixth.above(root),
        ..tone
    }
}

fn at_semitones(semitones: u8, chord: &ChordInContext, symbol: &ChordSymbol) -> Option<DegreeTone> {
    chord
        .degrees
        .iter()
        .find(|other| symbol.root.up_to(other.pitch) == semitones)
        .map(DegreeTone::from)
}

/// Where a scale lacks a number: the note a semitone beside it, if nothing else in the set claims that. A run
/// leaves the number out otherwise; a stage about this number alone gets what stands for it.
fn nearest_in_scale(
    number: u8,
    chord: &ChordInContext,
    symbol: &ChordSymbol,
    set: &[DegreeWord],
) -> Option<DegreeTone> {
    let wanted = Degree::new(number, 0).semitones();
    let claimed: Vec<Pitch> = set
        .iter()
        .filter_map(|word| match word {
            DegreeWord::InScale(n) => in_scale(Degree::new(*n, 0).simple().number, chord, symbol),
            DegreeWord::Absolute(degree) => Some(absolute(*degree, chord, symbol)),
        })
        .map(|tone| tone.pitch)
        .collect();
    chord
        .degrees
        .iter()
        .filter(|other| !claimed.contains(&other.pitch))
        .find(|other| (i32::from(symbol.root.up_to(other.pitch)) - wanted).abs() == 1)
        .map(DegreeTone::from)
        .or_else(|| {
            let alone = set.len() == 1;
            alone
                .then(|| chord.scale_degree(number))
                .flatten()
                .as_ref()
                .map(DegreeTone::from)
        })
}
