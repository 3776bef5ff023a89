//! The words of a stage: degrees, notes of a figure, orders, places, strings.

use crate::harmony::Degree;
use std::fmt;

/// A degree as a drill names it: by number in the chord's scale, or absolute.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DegreeWord {
    /// `"3"`: whatever third the chord's scale has.
    InScale(u8),
    /// `"b9"`, `"#11"`: this degree over any chord.
    Absolute(Degree),
}

impl DegreeWord {
    /// The number of its degree within the octave, 1 to 7, however it bends.
    pub fn number(self) -> u8 {
        let degree = match self {
            DegreeWord::InScale(number) => Degree::new(number, 0),
            DegreeWord::Absolute(degree) => degree,
        };
        degree.simple().number
    }
}

/// Where a note of a figure lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Direction {
    /// Wherever it comes to lie.
    #[default]
    Free,
    Above,
    Below,
    /// Nearest to the last note.
    Near,
}

/// A note that leads into a degree instead of being it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Approach {
    /// `"semitone below 3"`.
    SemitoneBelow,
    /// `"step above 3"`: the next note of the chord's scale above it.
    StepAbove,
}

/// The most degrees that one note of a figure may choose among.
pub const FIGURE_CHOICES: usize = 6;

/// One note of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct FigureNote {
    pub degree: DegreeWord,
    /// Other degrees it may be (`"3 or 7 near"`): whichever lies nearest to the last note. An absolute one
    /// counts only over chords that have it as a chord tone.
    pub or: [Option<DegreeWord>; FIGURE_CHOICES - 1],
    /// Whether it leads into that degree.
    pub approach: Option<Approach>,
    pub direction: Direction,
}

impl FigureNote {
    /// A note that is `degree`, lying in `direction`.
    pub const fn new(degree: DegreeWord, direction: Direction) -> FigureNote {
        FigureNote {
            degree,
            or: [None; FIGURE_CHOICES - 1],
            approach: None,
            direction,
        }
    }

    /// All degrees it may be, as written.
    pub fn choices(&self) -> impl Iterator<Item = DegreeWord> + use<> {
        std::iter::once(self.degree).chain(self.or.into_iter().flatten())
    }
}

/// How the order of a figure varies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Order {
    /// The figure as written.
    #[default]
    AsWritten,
    /// Every order of its notes, another each chord; every order once before any comes twice.
    EveryOrderAChord,
    /// Every order of its notes, another each pass.
    EveryOrderAPass,
    /// The figure taken as a ring, entered at the tone nearest to the last note; the line keeps its direction
    /// over the change and turns only at the edge of its range.
    OnFromTheNearest,
}

/// A place in the bar, counted from the chord's start: `1`, `2&`, `3a`.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Place {
    /// As written; events and the `rhythm` of `targets` repeat it.
    pub text: String,
    /// The beat, from 1, in denominator notes.
    pub beat: u8,
    /// How far after the beat, in twelfths of it (`&` is 6; `e` 3, `a` 9). The push, "before 1", is beat 1
    /// with -6 (in compound meters it sounds a whole eighth early).
    pub twelfths: i8,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// Where a figure's notes fall.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Places {
    All(Vec<Place>),
    /// These alternatives in turn, one a pass.
    Rotate(Vec<Vec<Place>>),
}

/// Whether a figure is played for each chord or once a bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Each {
    /// For each chord.
    #[default]
    Chord,
    /// For each bar (a chord of two bars gets it twice).
    Bar,
}

/// Some strings, numbered from 1, the highest, to 16.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct StringSet(u16);

impl StringSet {
    /// The set of these strings; numbers beyond 16 are left out.
    pub fn of(strings: impl IntoIterator<Item = u8>) -> StringSet {
        let bit = |string: u8| {
            1u16.checked_shl(u32::from(string).wrapping_sub(1))
                .unwrap_or(0)
        };
        StringSet(strings.into_iter().fold(0, |set, string| set | bit(string)))
    }

    /// Whether a string is in it.
    pub fn holds(self, string: u8) -> bool {
        StringSet::of([string]).0 & self.0 != 0
    }
}

/// On which strings a figure is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum StringRule {
    /// Any strings.
    #[default]
    Free,
    /// All notes of a figure on one string.
    Same,
    /// Only on these, where the note lies there.
    On(StringSet),
    /// Every place that the note has in twelve frets, in turn, one a pass.
    EveryPlace,
}
