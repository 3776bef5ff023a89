//! How sure a skill is by all that was ever played: a seam to whoever keeps that in mind.

use crate::harmony::Degree;
use crate::judging::around::Around;
use crate::judging::verdict::Verdict;
use std::fmt;

/// Where the player is known so many notes of the next chorus are to be right, by all that is known.
const LIKELY: f64 = 0.85;

/// How sure a skill is, here and now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sure {
    /// The chance that its next note is right.
    pub right: f64,
    /// Whether it is right nearly always, on several days, very surely.
    pub is_automatic: bool,
}

/// Whoever keeps in mind how a player's notes went, before this take and in it. Never waits.
pub trait Sureness: fmt::Debug + Send {
    /// Takes in what became of a note that was asked for.
    fn learn(&mut self, verdict: &Verdict, around: &Around);

    /// How sure a degree is over a chord, at a tempo.
    fn of(&self, degree: Degree, around: &Around) -> Sure;
}

/// How likely the next chorus goes well, by all that is known of the player.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Likely {
    NotYet,
    Today,
    /// By skills that are automatic, each of them.
    Automatic,
}

impl Likely {
    /// By how sure the skill of each note of a chorus is; none where it asks for none.
    pub(super) fn of(notes: &[Sure]) -> Option<Likely> {
        let mean = notes.iter().map(|sure| sure.right).sum::<f64>() / notes.len().max(1) as f64;
        Some(match () {
            _ if notes.is_empty() => return None,
            _ if notes.iter().all(|sure| sure.is_automatic) => Likely::Automatic,
            _ if mean >= LIKELY => Likely::Today,
            _ => Likely::NotYet,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_chorus_is_likely_to_go_well_by_its_notes_together() {
        let sure = |right: f64| Sure {
            right,
            is_automatic: right > 0.94,
        };
        for (notes, expected) in [
            (&[][..], None),
            (&[0.95, 0.99], Some(Likely::Automatic)),
            (&[0.95, 0.76], Some(Likely::Today)),
            (&[0.95, 0.74], Some(Likely::NotYet)),
        ] {
            let notes: Vec<Sure> = notes.iter().copied().map(sure).collect();
            assert_eq!(Likely::of(&notes), expected, "{notes:?}");
        }
    }
}
