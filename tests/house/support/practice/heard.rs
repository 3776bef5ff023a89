//! A guitar in the room: notes that the ear tells of, and what the core makes of them.

use super::{RATE, Room};
use std::collections::VecDeque;
use underfoot::display::Page;
use underfoot::judging::EarEvent;
use underfoot::practice::{EventKind, MusicChange, Record, Recorded};
use underfoot::time::{Frame, Tick};

/// A quarter note at the chart's 240 a minute.
pub const QUARTER: u64 = RATE as u64 / 4;

/// The frame of the first full bar.
pub fn first_bar(room: &Room) -> u64 {
    let first = room.bars.iter().find(|bar| bar.start == Tick(0));
    first.expect("a bar").frame.0
}

/// Plays on until so many quarters, while a player plays notes: `(quarter, key)`, each half a beat long. The ear needs
/// a tenth of a second for a name.
pub fn listen(room: &mut Room, until: f64, notes: &[(f64, u8)]) {
    let mut told = 0;
    while room.position() < until {
        room.step();
        if room.position() < -100.0 {
            continue;
        }
        let base = first_bar_or_none(room);
        let Some(base) = base else { continue };
        let late = u64::from(RATE) / 10;
        let quarter = f64::from(RATE) * 60.0 / room.tempo.qpm();
        while let Some((at, midi)) = notes.get(told) {
            let onset = (base as i64 + (at * quarter) as i64) as u64;
            if onset + late > room.at {
                break;
            }
            told += 1;
            let (midi, cents, confidence) = (*midi, 3.0, 0.9);
            let onset = Frame(onset);
            room.handle(EventKind::Heard(EarEvent::Began {
                onset,
                midi,
                cents,
                confidence,
                also: None,
                struck: true,
            }));
            let off = Frame(onset.0 + quarter as u64 / 2);
            room.handle(EventKind::Heard(EarEvent::Ended { off }));
        }
        let frame = Frame(room.at);
        room.handle(EventKind::Heard(EarEvent::Upto { frame }));
    }
}

/// A player who strikes the root of every chord, when it comes.
#[derive(Debug, Default)]
pub struct Roots {
    /// Records that were looked at.
    seen: usize,
    /// The notes that the ear has no name for yet.
    struck: VecDeque<(Frame, u8)>,
}

impl Room {
    /// What the ear tells of the player of roots, a tenth of a second after each stroke.
    pub(super) fn hear_roots(&mut self) {
        let Some(mut roots) = self.guitar.take() else {
            return;
        };
        let new = &self.records[roots.seen..];
        let root = |record: &Record| match &record.what {
            Recorded::Change(MusicChange::Chord(_, Some(chord))) => {
                Some((record.frame, midi_of(&chord.to_string())?))
            }
            _ => None,
        };
        roots.struck.extend(new.iter().filter_map(root));
        roots.seen = self.records.len();
        while let Some((onset, midi)) = roots.struck.front().copied() {
            if onset.0 + u64::from(RATE) / 10 > self.at {
                break;
            }
            roots.struck.pop_front();
            let (cents, confidence) = (0.0, 0.9);
            self.handle(EventKind::Heard(EarEvent::Began {
                onset,
                midi,
                cents,
                confidence,
                also: None,
                struck: true,
            }));
            let off = Frame(onset.0 + u64::from(RATE) / 5);
            self.handle(EventKind::Heard(EarEvent::Ended { off }));
        }
        let frame = Frame(self.at);
        self.handle(EventKind::Heard(EarEvent::Upto { frame }));
        self.guitar = Some(roots);
    }
}

/// The root of a symbol, as a note of the lowest strings.
fn midi_of(symbol: &str) -> Option<u8> {
    let class = "C D EF G A B".find(symbol.get(..1)?)? as i32;
    let shift = match symbol.get(1..2) {
        Some("b") => -1,
        Some("#") => 1,
        _ => 0,
    };
    Some(40 + (class + shift - 40).rem_euclid(12) as u8)
}

fn first_bar_or_none(room: &Room) -> Option<u64> {
    room.bars
        .iter()
        .any(|bar| bar.start == Tick(0))
        .then(|| first_bar(room))
}

/// What the page in the breath tells.
pub fn summary(room: &Room) -> Vec<String> {
    match room.page() {
        Page::Breathe(page) => page.lines.clone(),
        other => panic!("no breath but {other:?}"),
    }
}
