//! What the analysis needs of a chord and of those around it, and how a chord is read.

use super::{ChordSymbol, Quality, ScaleName as Scale};

/// What the analysis needs of a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct ChordSound {
    /// The root's pitch class.
    pub root: u8,
    pub quality: Quality,
    /// The pitch classes that sound, one bit each.
    classes: u16,
}

impl ChordSound {
    pub(super) fn of(symbol: &ChordSymbol) -> ChordSound {
        ChordSound {
            root: symbol.root.class(),
            quality: symbol.quality(),
            classes: symbol.degrees.iter().fold(0, |all, degree| {
                all | 1 << degree.above(symbol.root).class()
            }),
        }
    }

    /// Whether the note so many semitones above another chord's root sounds.
    pub(super) fn holds(self, semitones: u8, above: ChordSound) -> bool {
        self.classes & 1 << ((above.root + semitones) % 12) != 0
    }

    pub(super) fn is_dominant(self) -> bool {
        matches!(self.quality, Quality::Dominant | Quality::AugmentedSeventh)
    }

    pub(super) fn is_minor(self) -> bool {
        matches!(
            self.quality,
            Quality::Minor
                | Quality::Minor6
                | Quality::Minor7
                | Quality::MinorMajor7
                | Quality::HalfDiminished
        )
    }

    pub(super) fn is_major(self) -> bool {
        matches!(
            self.quality,
            Quality::Major | Quality::Major6 | Quality::Major7
        )
    }

    pub(super) fn is_diminished(self) -> bool {
        matches!(self.quality, Quality::Diminished | Quality::Diminished7)
    }

    /// Semitones from `other`'s root up to this one's.
    pub(super) fn above(self, other: ChordSound) -> u8 {
        (12 + self.root - other.root) % 12
    }
}

/// A chord with the nearest chords of another root on both sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Neighbours {
    pub chord: ChordSound,
    pub before: Option<ChordSound>,
    /// As `before`, but of a dominant the chord before its tonic where that stands between (a cadential six-four
    /// written by its own name).
    pub led_by: Option<ChordSound>,
    /// The chord before `before`.
    pub before_that: Option<ChordSound>,
    pub after: Option<ChordSound>,
    /// The key's home is a blues: dominants on every main degree.
    pub blues: bool,
    /// The key that the chord is read in is the home key.
    pub home: bool,
}

impl Neighbours {
    /// The next root lies a fourth up (a fifth down).
    pub(super) fn falls_a_fifth(&self) -> Option<ChordSound> {
        self.after.filter(|after| after.above(self.chord) == 5)
    }

    /// The next root lies a semitone down.
    pub(super) fn falls_a_semitone(&self) -> bool {
        self.after
            .is_some_and(|after| after.above(self.chord) == 11)
    }

    /// A half-diminished two stands before this dominant.
    pub(super) fn after_half_diminished_two(&self) -> bool {
        self.before.is_some_and(|before| {
            before.quality == Quality::HalfDiminished && before.above(self.chord) == 7
        })
    }

    /// More than the two of this dominant is borrowed from minor: the chord before it holds the minor third or sixth
    /// of the key too.
    pub(super) fn comes_out_of_minor(&self) -> bool {
        self.before_that
            .is_some_and(|chord| chord.holds(8, self.chord) || chord.holds(1, self.chord))
    }

    /// A diminished chord leads to this dominant that is the dominant itself with its flat nine (D dim over G7: D F
    /// Ab), so that the flat nine sounds already.
    pub(super) fn flat_nine_sounds_before(&self) -> bool {
        self.led_by.is_some_and(|before| {
            matches!(
                (before.quality, before.above(self.chord)),
                (Quality::Diminished | Quality::Diminished7, 1 | 7 | 10)
                    | (Quality::Diminished7, 4)
            )
        })
    }

    /// A dominant a fifth below follows: this may be its two.
    pub(super) fn is_two(&self) -> bool {
        self.falls_a_fifth()
            .is_some_and(|after| after.is_dominant() || after.quality == Quality::Suspended)
    }
}

/// A chord read in a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SoundReading {
    /// The cost of hearing the chord so: 0 where it is at home.
    pub cost: f32,
    pub numeral: &'static str,
    /// The scale before the symbol's own tones are put in.
    pub scale: Scale,
    /// The reason for the scale.
    pub why: &'static str,
}

pub(super) fn reading(
    cost: f32,
    numeral: &'static str,
    scale: Scale,
    why: &'static str,
) -> SoundReading {
    SoundReading {
        cost,
        numeral,
        scale,
        why,
    }
}

/// The reason that needs no other.
pub(super) const SIGNATURE: &str = "the key's own notes from the chord's root";
