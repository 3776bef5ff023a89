//! The rules that may speak over the key's own notes, each with its name and its reason.

use super::ScaleName as Scale;

/// What decided a chord's scale. [`Rule::OwnNotes`] is the principle; every other is a rule of the trade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Rule {
    /// The local key's notes from the chord's root up, the chord's own tones over them.
    OwnNotes,
    /// A teacher's note in the chart.
    Hint,
    /// A blues keeps whole tones on its three dominants.
    Blues,
    /// A half-diminished two stands before a dominant.
    AfterHalfDiminished,
    /// A dominant goes to a minor chord, whose key owns the flat nine.
    ToMinor,
    /// The dominant of a minor degree leaves its flat nine where it goes on to another dominant.
    ToDominant,
    /// A half-diminished chord that is a two: borrowed from minor, or of a passing key.
    HalfDiminishedTwo,
    /// The half-diminished six of minor.
    SixOfMinor,
    /// A diminished seventh that passes.
    Diminished,
    /// A raised fifth without a seventh.
    Augmented,
    /// A two-five that goes to a major chord from outside the key.
    PassingTwoFive,
    /// The minor two of a minor key.
    MinorTwo,
    /// The minor chord on the third degree of major.
    ThreeChord,
    /// The minor tonic.
    MinorTonic,
    /// The major tonic of a minor key.
    BorrowedTonic,
    /// The minor four of a major key.
    BorrowedFour,
    /// A minor chord from outside the key.
    Outside,
}

impl Rule {
    /// All of them.
    pub const ALL: [Rule; 17] = [
        Rule::OwnNotes,
        Rule::Hint,
        Rule::Blues,
        Rule::AfterHalfDiminished,
        Rule::ToMinor,
        Rule::ToDominant,
        Rule::HalfDiminishedTwo,
        Rule::SixOfMinor,
        Rule::Diminished,
        Rule::Augmented,
        Rule::PassingTwoFive,
        Rule::MinorTwo,
        Rule::ThreeChord,
        Rule::MinorTonic,
        Rule::BorrowedTonic,
        Rule::BorrowedFour,
        Rule::Outside,
    ];

    /// Its name, for lines that programs read.
    pub fn name(self) -> &'static str {
        match self {
            Rule::OwnNotes => "own notes",
            Rule::Hint => "hint",
            Rule::Blues => "blues",
            Rule::AfterHalfDiminished => "after half-diminished",
            Rule::ToMinor => "to minor",
            Rule::ToDominant => "to dominant",
            Rule::HalfDiminishedTwo => "half-diminished two",
            Rule::SixOfMinor => "six of minor",
            Rule::Diminished => "diminished",
            Rule::Augmented => "augmented",
            Rule::PassingTwoFive => "passing two-five",
            Rule::MinorTwo => "minor two",
            Rule::ThreeChord => "three-chord",
            Rule::MinorTonic => "minor tonic",
            Rule::BorrowedTonic => "borrowed tonic",
            Rule::BorrowedFour => "borrowed four",
            Rule::Outside => "outside",
        }
    }

    /// Why, in a few words.
    pub(super) fn why(self) -> &'static str {
        match self {
            Rule::OwnNotes => "the key's own notes from the chord's root",
            Rule::Hint => "the chart's hint",
            Rule::Blues => "a blues: natural nine on every main degree",
            Rule::AfterHalfDiminished => "a half-diminished two stands before it: flat nine",
            Rule::ToMinor => "it goes to a minor chord: flat nine",
            Rule::ToDominant => "it goes on to another dominant: natural nine",
            Rule::HalfDiminishedTwo => "a half-diminished two of minor: flat two, passing",
            Rule::SixOfMinor => "the six of minor: natural two",
            Rule::Diminished => "passing diminished: whole and half steps",
            Rule::Augmented => "a raised fifth",
            Rule::PassingTwoFive => "a two-five into a passing major key: its own notes",
            Rule::MinorTwo => "the two with a natural fifth: natural two",
            Rule::ThreeChord => "the three of the key: natural two",
            Rule::MinorTonic => "minor tonic: natural sixth",
            Rule::BorrowedTonic => "the tonic borrowed from major",
            Rule::BorrowedFour => "the four borrowed from minor",
            Rule::Outside => "outside the key: by its own tones",
        }
    }
}

/// What a rule says; `None`: it is silent, and the key's own notes stand.
pub(super) type Ruled = Option<(Scale, Rule)>;
