//! How much what counts for the local key: round weights by theory, nothing fitted.
//!
//! Tonic and dominant establish a key, predominants prepare it, other chords of the key agree with it; a chord that the key
//! explains as applied or borrowed says nothing; the parallel tonic speaks against it, and so does a stranger. The choice of
//! such weights follows the way in which rule-based key finders score chords by function (D. Temperley, "The Cognition of
//! Basic Musical Structures", 2001, chapters 6 and 7: scores for each key, a penalty for change, dynamic programming; F.
//! Lerdahl, "Tonal Pitch Space", 2001: near keys are the relative, the parallel and the fifths; both from memory).
//! What moving each by a third does stands in DEVELOPERS.md.

/// Tenths of a point, whole so that sums are exact and ties are ties: a cadence is one point, ten tenths.
pub(super) type Tenths = i32;

macro_rules! weights {
    ($($(#[$doc:meta])* $name:ident = $tenths:literal,)*) => {
        /// What the search for the local key goes by, in tenths of a point.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub struct Weights {
            $($(#[$doc])* pub $name: i32,)*
        }

        impl Weights {
            /// As built in.
            pub const BY_THEORY: Weights = Weights { $($name: $tenths,)* };
            /// Their names.
            pub const NAMES: [&str; [$($tenths),*].len()] = [$(stringify!($name)),*];

            /// A weight by its name.
            pub(super) fn named(&mut self, name: &str) -> Option<&mut i32> {
                match name {
                    $(stringify!($name) => Some(&mut self.$name),)*
                    _ => None,
                }
            }
        }
    };
}

weights! {
    /// The tonic.
    tonic = 30,
    /// A dominant with its seventh.
    dominant_seventh = 30,
    /// A dominant without.
    dominant_triad = 20,
    /// Two and four.
    predominant = 20,
    /// Any other chord of major.
    other = 10,
    /// Of minor. It has more chords, by its movable sixth and seventh; so each says less.
    other_in_minor = 5,
    /// Chords of minor's raised sixth, which other keys have by nature.
    raised_sixth = 0,
    /// The dominant of minor's relative major.
    relative_dominant = 0,
    /// An applied dominant, its two, a diminished chord, a chord borrowed from the parallel key.
    explained = 0,
    /// The tonic of the parallel key.
    parallel_tonic = -10,
    /// Any other chord.
    stranger = -20,
    /// What a dominant before its tonic adds.
    cadence = 10,
    /// The least that a change of key costs.
    change = 50,
    /// What a change adds to a key that is not near: not the relative, the parallel, nor a fifth away.
    far = 30,
    /// What each chord of its own scale adds for the home key: of two readings that explain as much, the one that stays.
    at_home = 1,
    /// The same in a minor home, whose own chords are to say as much as those of its relative: a passing minor key must be
    /// shown by its dominants, the declared one need not.
    at_home_in_minor = 6,
    /// What the first chord adds for the key whose tonic it is, where the home key is not declared.
    first = 20,
    /// And the last one.
    last = 30,
    /// How often a pattern says something, in tenths: a loop goes round as often as it likes.
    heard = 20,
}

impl Default for Weights {
    fn default() -> Weights {
        Weights::BY_THEORY
    }
}
