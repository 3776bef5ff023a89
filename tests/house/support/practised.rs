//! Practice as the journal is told of it, made up by seed: takes of some minutes, a verdict for each chord, presses.

use super::dice::Dice;
use underfoot::journal::{Act, ChosenNotes, Entry, Now, TakeBegin, VerdictOn};

pub const QUALITIES: [&str; 5] = [
    "minor 7",
    "dominant",
    "major 7",
    "half-diminished",
    "minor 6",
];
pub const DEGREES: [&str; 4] = ["1", "3", "2", "5"];

/// A verdict at a moment.
pub fn verdict(at_ms: i64, dice: &mut Dice) -> VerdictOn {
    let word = |list: &[&'static str], dice: &mut Dice| {
        list[dice.below(list.len() as u64) as usize].to_string()
    };
    let is_right = dice.below(10) < 8;
    VerdictOn {
        at_ms,
        degree: word(&DEGREES, dice),
        quality: word(&QUALITIES, dice),
        key: word(&["G minor", "Bb major"], dice),
        root: word(&["G", "C", "F", "Bb", "Eb", "A", "D"], dice),
        place: word(&["1", "2", "2&", "3"], dice),
        region: word(&["", "", "position 5"], dice),
        tempo_qpm: 112.0,
        result: if is_right { "right" } else { "missed" },
        timing: if is_right { "in time" } else { "" },
        late_ms: is_right.then(|| dice.normal() * 20.0),
        found: false,
    }
}

/// What a take of so many verdicts comes to, one each `every_ms`; its chart is called `name`.
pub fn take(
    name: &str,
    begins_ms: i64,
    verdicts: u32,
    every_ms: i64,
    dice: &mut Dice,
) -> Vec<Entry> {
    let press = |at_ms, action| {
        Entry::Act(Act {
            at_ms,
            switch: 1,
            gesture: "tap",
            action,
        })
    };
    let mut entries = vec![press(begins_ms - 10, "start")];
    entries.push(Entry::Begin(TakeBegin {
        at_ms: begins_ms,
        player: "me".into(),
        chart: name.into(),
        drill: "first evening".into(),
    }));
    entries.push(Entry::Stage {
        name: "roots on one".into(),
        at_ms: begins_ms,
    });
    let mut at_ms = begins_ms;
    for number in 0..verdicts {
        at_ms += every_ms;
        entries.push(Entry::Verdict(verdict(at_ms, dice)));
        if number % 64 == 63 {
            entries.push(press(at_ms, "next stage"));
        }
    }
    entries.push(Entry::Choice(ChosenNotes {
        at_ms,
        notes: 40,
        degrees: "1 b3 5".into(),
        ..ChosenNotes::default()
    }));
    entries.push(press(at_ms + 500, "stop"));
    entries.push(Entry::End { at_ms: at_ms + 500 });
    entries
}

/// When an entry came.
pub fn at_ms(entry: &Entry) -> i64 {
    match entry {
        Entry::Begin(begin) => begin.at_ms,
        Entry::Stage { at_ms, .. } | Entry::End { at_ms } => *at_ms,
        Entry::Verdict(verdict) => verdict.at_ms,
        Entry::Choice(choice) => choice.at_ms,
        Entry::Act(act) => act.at_ms,
    }
}

/// A moment of one boot whose wall clock is right.
pub fn moment(boot_ms: i64) -> Now {
    Now {
        boot: "one".into(),
        boot_ms,
        // Near noon, so that the date is the same in all time zones.
        wall_ms: 1_789_991_000_000 + boot_ms,
        synced: true,
    }
}
