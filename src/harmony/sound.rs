//! What the analysis needs of a chord and of those around it.

use super::{ChordSymbol, Key, Mode, Quality};

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

    /// The pitch classes that sound, counted from this one.
    pub(super) fn above_class(self, class: u8) -> u16 {
        let class = u32::from(class % 12);
        (self.classes >> class | self.classes << (12 - class)) & 0xfff
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
    pub after: Option<ChordSound>,
    /// The chord after `after`.
    pub after_that: Option<ChordSound>,
    /// The key's home is a blues: dominants on every main degree.
    pub blues: bool,
    /// The home key.
    pub home: Option<Key>,
}

impl Neighbours {
    /// The next root lies a fourth up (a fifth down).
    pub(super) fn falls_a_fifth(&self) -> Option<ChordSound> {
        self.after.filter(|after| after.above(self.chord) == 5)
    }

    /// The next root lies a semitone up.
    pub(super) fn rises(&self) -> bool {
        self.after.is_some_and(|after| after.above(self.chord) == 1)
    }

    /// A half-diminished two stands before this dominant.
    pub(super) fn after_half_diminished_two(&self) -> bool {
        self.before.is_some_and(|before| {
            before.quality == Quality::HalfDiminished && before.above(self.chord) == 7
        })
    }

    /// This minor chord, on a degree of a key, is the two of a two-five-one into a major chord from outside the key.
    pub(super) fn two_of_major(&self, mode: Mode, degree: u8) -> bool {
        let dominant = self.falls_a_fifth().filter(|after| after.is_dominant());
        dominant.zip(self.after_that).is_some_and(|(five, one)| {
            one.above(five) == 5 && one.is_major() && !has_major_chord(mode, degree + 10)
        })
    }

    /// This dominant, on a degree of a key, is the five of such a two-five-one.
    pub(super) fn five_of_major(&self, mode: Mode, degree: u8) -> bool {
        let two = |before: ChordSound| {
            let minor = before.is_minor() && before.quality != Quality::HalfDiminished;
            minor && before.above(self.chord) == 7
        };
        // The key's own five stays the key's, wherever it goes.
        degree != 7
            && self.before.is_some_and(two)
            && self.falls_a_fifth().is_some_and(ChordSound::is_major)
            && !has_major_chord(mode, degree + 5)
    }

    /// Its own dominant leads to it, and it goes on to no dominant and not to the chord a fourth above.
    pub(super) fn is_passing_tonic(&self) -> bool {
        let led = self
            .before
            .is_some_and(|before| before.above(self.chord) == 7 && before.is_dominant());
        led && self
            .after
            .is_none_or(|after| !after.is_dominant() && after.above(self.chord) != 5)
    }

    /// A dominant a fifth below follows: this may be its two.
    pub(super) fn is_two(&self) -> bool {
        self.falls_a_fifth()
            .is_some_and(|after| after.is_dominant() || after.quality == Quality::Suspended)
    }
}

/// Whether a key has a major chord of its own on a degree.
fn has_major_chord(mode: Mode, degree: u8) -> bool {
    match mode {
        Mode::Major => matches!(degree % 12, 0 | 5 | 7),
        Mode::Minor => matches!(degree % 12, 3 | 7 | 8 | 10),
    }
}
