//! The `degree` elements of a chord: what they do to the tones of its kind.

use super::kind::{HarmonyKind, KINDS, degrees};
use crate::harmony::Degree;

/// What happens to a degree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum DegreeAction {
    Add,
    /// A tone of the kind raised or lowered.
    Alter,
    /// A tone of the kind left out.
    Subtract,
}

/// A `degree` element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Edit {
    pub action: DegreeAction,
    pub number: u8,
    /// In semitones: of an altered tone from the one in the kind, of an added one from the dominant chord's.
    pub alter: i8,
}

impl Edit {
    /// Does it; `false`: there was no such tone to take away.
    pub(super) fn apply(self, tones: &mut Vec<Degree>) -> bool {
        let Edit { number, alter, .. } = self;
        match self.action {
            DegreeAction::Subtract => {
                let before = tones.len();
                tones.retain(|one| one.number != number);
                // The eleventh of a thirteenth chord is not there to begin with.
                return tones.len() < before || number == 11;
            }
            DegreeAction::Alter => match tones.iter_mut().find(|one| one.number == number) {
                // The alteration counts from the tone that the kind has.
                Some(tone) if usual(number).contains(&(tone.alter + alter)) => tone.alter += alter,
                Some(tone) => tone.alter = alter,
                None => add(tones, number, alter),
            },
            DegreeAction::Add => add(tones, number, alter),
        }
        true
    }
}

/// The alterations that a tone of this number can have.
fn usual(number: u8) -> std::ops::RangeInclusive<i8> {
    match number {
        7 => -2..=0,
        _ => -1..=1,
    }
}

/// Adds a tone. Its alteration counts from the dominant chord, whose seventh is minor; a second or fourth beside a
/// third is a ninth or eleventh, a sixth beside a seventh a thirteenth.
fn add(tones: &mut Vec<Degree>, number: u8, alter: i8) {
    let has = |number: u8| tones.iter().any(|one| one.number == number);
    let (number, alter) = match number {
        7 => (7, alter - 1),
        2 | 4 if has(3) => (number + 7, alter),
        6 if has(7) => (13, alter),
        8 | 10 | 12 => (number - 7, alter),
        _ => (number, alter),
    };
    let degree = Degree::new(number, alter);
    if !tones.contains(&degree) {
        tones.push(degree);
    }
}

/// The kind of a chord with these tones and what is to be done to it: read again they are the same tones. Of the
/// kinds that serve the one with the least to do is taken.
pub(crate) fn kind_of(tones: &[Degree]) -> (&'static str, Vec<Edit>) {
    let mut best: Option<(usize, &'static str, Vec<Edit>)> = None;
    for (name, kind) in KINDS {
        let HarmonyKind::Tones(own) = kind else {
            continue;
        };
        let own = degrees(own);
        let edits = edits(&own, tones);
        let cost = edits.iter().map(cost).sum::<usize>() + 3 * usize::from(name == "other");
        let better = best.as_ref().is_none_or(|(least, _, _)| cost < *least);
        if better && read_again(&own, &edits) == sorted(tones) {
            best = Some((cost, name, edits));
        }
    }
    match best {
        Some((_, name, edits)) => (name, edits),
        // No chord symbol has such tones.
        None => ("other", edits(&[Degree::new(1, 0)], tones)),
    }
}

/// What makes one set of tones of another.
fn edits(from: &[Degree], to: &[Degree]) -> Vec<Edit> {
    let lost: Vec<&Degree> = from.iter().filter(|one| !to.contains(one)).collect();
    let won: Vec<&Degree> = to.iter().filter(|one| !from.contains(one)).collect();
    let of = |list: &[&Degree], number: u8| list.iter().filter(|one| one.number == number).count();
    let altered = |number: u8| of(&lost, number) == 1 && of(&won, number) == 1;
    let mut edits = Vec::new();
    for one in &lost {
        let new = won.iter().find(|new| new.number == one.number);
        let (action, alter) = match new {
            Some(new) if altered(one.number) => (DegreeAction::Alter, new.alter - one.alter),
            _ => (DegreeAction::Subtract, 0),
        };
        edits.push(Edit {
            action,
            number: one.number,
            alter,
        });
    }
    for one in won.iter().filter(|one| !altered(one.number)) {
        edits.push(Edit {
            action: DegreeAction::Add,
            number: one.number,
            alter: one.alter + i8::from(one.number == 7),
        });
    }
    edits
}

/// A changed third or seventh is another chord, a changed fifth or an added tone a shade of one.
fn cost(edit: &Edit) -> usize {
    match (edit.action, edit.number) {
        (_, 3 | 7) => 3,
        (DegreeAction::Subtract, _) => 2,
        _ => 1,
    }
}

fn read_again(own: &[Degree], edits: &[Edit]) -> Vec<Degree> {
    let mut tones = own.to_vec();
    for edit in edits {
        edit.apply(&mut tones);
    }
    sorted(&tones)
}

fn sorted(tones: &[Degree]) -> Vec<Degree> {
    let mut tones = tones.to_vec();
    tones.sort_unstable();
    tones.dedup();
    tones
}
