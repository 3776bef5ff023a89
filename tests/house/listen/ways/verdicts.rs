//! What the player is told: the notes that were played right, through the judge.

use super::playing::Take;
use underfoot::harmony::{Degree, Pitch};
use underfoot::judging::{HeardNote, NoteName, Outcome, Rules, Wanted, judge};

/// Verdicts on notes that were all played right.
#[derive(Debug, Default, Clone, Copy)]
pub struct Told {
    pub wanted: usize,
    pub right: usize,
    /// Another note in its place, or a strange one beside.
    pub wrong: usize,
    pub missed: usize,
    pub not_judged: usize,
}

impl Told {
    pub fn and(self, other: Told) -> Told {
        Told {
            wanted: self.wanted + other.wanted,
            right: self.right + other.right,
            wrong: self.wrong + other.wrong,
            missed: self.missed + other.missed,
            not_judged: self.not_judged + other.not_judged,
        }
    }

    pub fn per_100(self, count: usize) -> f64 {
        100.0 * count as f64 / self.wanted.max(1) as f64
    }
}

/// A quarter note at 120.
const BEAT_MS: f64 = 500.0;

/// What is asked for: each note at its beginning, over a chord of its own whose set it and where it comes from are.
fn asked(take: &Take) -> Vec<Wanted> {
    const NAMES: [&str; 12] = [
        "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
    ];
    let root: Pitch = "C".parse().expect("a note");
    let names = NAMES.map(|name| {
        let pitch: Pitch = name.parse().expect("a note");
        NoteName {
            degree: Degree::of(pitch, root),
            pitch,
        }
    });
    let want = |(chord, want): (usize, &super::playing::Want)| {
        // Of two at once by turns the one and the other.
        let midi = want.names[chord % want.names.len()];
        let next = take.wants.get(chord + 1);
        let bit = |set: u16, midi: &u8| set | 1 << (midi % 12);
        Wanted {
            chord,
            name: names[usize::from(midi % 12)],
            midi,
            fixed: false,
            choice: false,
            at_ms: 1000.0 * want.at_s,
            at_last_ms: 1000.0 * want.at_s,
            on_change: false,
            beat_ms: BEAT_MS,
            until_ms: 1000.0 * next.map_or(want.at_s + 2.0, |next| next.at_s),
            set: want.names.iter().chain(&want.also).fold(0, bit),
            names,
        }
    };
    take.wants.iter().enumerate().map(want).collect()
}

/// The verdicts on all that was heard.
pub fn verdicts(take: &Take, heard: &[HeardNote]) -> Told {
    let judged = judge(&asked(take), heard, &Rules::default());
    let count = |outcomes: &[Outcome]| {
        let verdicts = judged.verdicts.iter();
        verdicts.filter(|v| outcomes.contains(&v.outcome)).count()
    };
    Told {
        wanted: take.wants.len(),
        right: count(&[Outcome::Right]),
        wrong: count(&[Outcome::Wrong, Outcome::Other, Outcome::Octave]),
        missed: count(&[Outcome::Missed]),
        not_judged: count(&[Outcome::NotJudged]),
    }
}
