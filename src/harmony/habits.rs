//! Where good teachers differ.
//!
//! A school is a named set of habits; each can be set singly. What each row rests on is counted in `DEVELOPERS.md`. The
//! textbook's is the default: analysts' keys and textbook rows decide it by thousands of chords, melodies and solos decide
//! by a few dozen flat seconds, and no measure contradicts it.

use super::{ScaleName, Trial};

/// The scale of a dominant that goes to a minor chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DominantToMinor {
    /// Flat nine, flat thirteen, perfect fifth.
    #[default]
    PhrygianDominant,
    /// Flat and sharp nine, flat five, flat thirteen.
    Altered,
}

/// The scale of the minor chord on the third degree of a major key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ThreeChord {
    /// The key's own notes: flat second, drilled as passing.
    #[default]
    Phrygian,
    /// A natural second where its own dominant leads to it and it goes on to no dominant and not to the six: a tonic
    /// for the moment. Else Phrygian.
    PassingTonic,
    /// A natural second.
    Aeolian,
}

/// The sixth of a minor tonic.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MinorTonic {
    /// Natural, but for a tonic that is written with a minor seventh: that one keeps the signature.
    NaturalSixth,
    /// Natural always: Dorian over a minor seventh.
    NaturalSixthAlways,
    /// The signature's flat sixth, where the symbol does not say otherwise.
    #[default]
    Signature,
}

/// The minor chord with a perfect fifth on the second degree of a minor key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MinorTwo {
    /// The key's own flat second.
    #[default]
    Flat,
    /// A natural second: Dorian, as in major.
    Natural,
}

/// The dominant after a half-diminished two that resolves to major all the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum AfterHalfDiminished {
    /// Flat nine, but for the dominant of the chart's own major key, which keeps the key's notes.
    AwayFromHome,
    Always,
    /// Natural nine where it resolves to major.
    #[default]
    Never,
}

/// A named set of habits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum School {
    /// Functional harmony as textbooks teach it: whose key it is for the moment decides.
    #[default]
    Textbook,
    /// What the melodies of old songs sing.
    Melody,
    /// What improvisers play.
    Improviser,
}

/// Where good teachers differ: a choice, with a default.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Habits {
    /// The dominant of the two takes a flat nine where it goes to a minor chord.
    pub flat_nine_to_two: bool,
    /// The dominant of the four of a minor key takes a flat nine.
    pub flat_nine_to_four: bool,
    /// A dominant whose own nine is flat (of three, of six, the five of minor) keeps it where another dominant follows.
    pub flat_nine_to_dominant: bool,
    /// The dominant after a half-diminished two that resolves to major.
    pub flat_nine_after_half_diminished: AfterHalfDiminished,
    /// A diminished seventh that leads up a semitone takes a flat second, as the leading tone that it is.
    pub flat_two_rising: bool,
    /// The half-diminished chord on the raised sixth of minor takes a natural second, as in melodic minor.
    pub natural_two_on_six: bool,
    /// The minor chord on the third degree of major.
    pub three_chord: ThreeChord,
    /// The minor chord with a perfect fifth on the second degree of minor.
    pub minor_two: MinorTwo,
    /// The minor tonic.
    pub minor_tonic: MinorTonic,
    /// The dominant that goes to a minor chord.
    pub dominant_to_minor: DominantToMinor,
    /// What a measurement changes; no player does.
    pub trial: Trial,
}

impl Habits {
    /// The habits that flatten the most seconds.
    pub(super) const FLATTEST: Habits = Habits {
        flat_nine_to_two: true,
        flat_nine_to_four: true,
        flat_nine_to_dominant: true,
        flat_nine_after_half_diminished: AfterHalfDiminished::Always,
        flat_two_rising: true,
        natural_two_on_six: false,
        three_chord: ThreeChord::Phrygian,
        minor_two: MinorTwo::Flat,
        minor_tonic: MinorTonic::Signature,
        dominant_to_minor: DominantToMinor::PhrygianDominant,
        trial: Trial::NOTHING,
    };
    /// The scale of a dominant with a flat nine.
    pub(super) fn dominant_scale(&self) -> ScaleName {
        match self.dominant_to_minor {
            DominantToMinor::PhrygianDominant => ScaleName::PhrygianDominant,
            DominantToMinor::Altered => ScaleName::Altered,
        }
    }

    /// The habits that flatten the fewest seconds.
    pub(super) const PLAINEST: Habits = Habits {
        flat_nine_to_two: false,
        flat_nine_to_four: false,
        flat_nine_to_dominant: false,
        flat_nine_after_half_diminished: AfterHalfDiminished::Never,
        flat_two_rising: false,
        natural_two_on_six: true,
        three_chord: ThreeChord::Aeolian,
        minor_two: MinorTwo::Natural,
        minor_tonic: MinorTonic::Signature,
        dominant_to_minor: DominantToMinor::PhrygianDominant,
        trial: Trial::NOTHING,
    };
}

impl School {
    /// All schools.
    pub const ALL: [School; 3] = [School::Textbook, School::Melody, School::Improviser];

    /// Its habits.
    pub fn habits(self) -> Habits {
        let textbook = Habits {
            flat_nine_to_two: false,
            flat_nine_to_four: true,
            flat_nine_to_dominant: true,
            flat_nine_after_half_diminished: AfterHalfDiminished::Never,
            flat_two_rising: false,
            natural_two_on_six: false,
            three_chord: ThreeChord::Phrygian,
            minor_two: MinorTwo::Flat,
            minor_tonic: MinorTonic::Signature,
            dominant_to_minor: DominantToMinor::PhrygianDominant,
            trial: Trial::NOTHING,
        };
        match self {
            School::Textbook => textbook,
            School::Melody => Habits {
                flat_nine_to_four: false,
                three_chord: ThreeChord::Aeolian,
                ..textbook
            },
            School::Improviser => Habits {
                flat_nine_to_dominant: false,
                flat_nine_after_half_diminished: AfterHalfDiminished::Always,
                flat_two_rising: true,
                minor_tonic: MinorTonic::NaturalSixth,
                ..textbook
            },
        }
    }
}

impl Default for Habits {
    fn default() -> Habits {
        School::default().habits()
    }
}

/// Habits that are chosen somewhere, such as in a chart; `None` chooses nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct HabitChoices {
    /// A whole set, under those that are chosen singly.
    pub school: Option<School>,
    /// See [`Habits::flat_nine_to_two`].
    pub flat_nine_to_two: Option<bool>,
    /// See [`Habits::flat_nine_to_four`].
    pub flat_nine_to_four: Option<bool>,
    /// See [`Habits::flat_nine_to_dominant`].
    pub flat_nine_to_dominant: Option<bool>,
    /// See [`Habits::flat_nine_after_half_diminished`].
    pub flat_nine_after_half_diminished: Option<AfterHalfDiminished>,
    /// See [`Habits::flat_two_rising`].
    pub flat_two_rising: Option<bool>,
    /// See [`Habits::natural_two_on_six`].
    pub natural_two_on_six: Option<bool>,
    /// See [`Habits::three_chord`].
    pub three_chord: Option<ThreeChord>,
    /// See [`Habits::minor_two`].
    pub minor_two: Option<MinorTwo>,
    /// See [`Habits::minor_tonic`].
    pub minor_tonic: Option<MinorTonic>,
    /// See [`Habits::dominant_to_minor`].
    pub dominant_to_minor: Option<DominantToMinor>,
}

impl HabitChoices {
    /// The habits that are chosen, `usual` where none is.
    pub fn over(self, usual: &Habits) -> Habits {
        let under = self.school.map_or_else(|| usual.clone(), School::habits);
        Habits {
            flat_nine_to_two: self.flat_nine_to_two.unwrap_or(under.flat_nine_to_two),
            flat_nine_to_four: self.flat_nine_to_four.unwrap_or(under.flat_nine_to_four),
            flat_nine_to_dominant: self
                .flat_nine_to_dominant
                .unwrap_or(under.flat_nine_to_dominant),
            flat_nine_after_half_diminished: self
                .flat_nine_after_half_diminished
                .unwrap_or(under.flat_nine_after_half_diminished),
            flat_two_rising: self.flat_two_rising.unwrap_or(under.flat_two_rising),
            natural_two_on_six: self.natural_two_on_six.unwrap_or(under.natural_two_on_six),
            three_chord: self.three_chord.unwrap_or(under.three_chord),
            minor_two: self.minor_two.unwrap_or(under.minor_two),
            minor_tonic: self.minor_tonic.unwrap_or(under.minor_tonic),
            dominant_to_minor: self.dominant_to_minor.unwrap_or(under.dominant_to_minor),
            trial: usual.trial,
        }
    }
}
