//! Players' takes on recorded notes against the verdicts, through the program: with the band in headphones only, and with the band
//! coming back into the guitar's input through a room, 15 dB under the guitar. The same through a JACK server is in `live/takes.rs`.
//!
//! One recorded guitar is with the project (`tests/fixtures/guitar`); `UNDERFOOT_REAL_NOTES` names a folder of more, and
//! `UNDERFOOT_TAKES=3` plays all rows, three takes each.

use crate::support::takes::{Told, told};
use crate::support::takes_played::{CASES, Played, bleed_db, guitars, takes_asked};

/// All takes of one row: a guitar, a manner.
fn row(name: &str, takes: impl Iterator<Item = Played>, under_db: Option<f32>) -> Told {
    let mut sum = Told::default();
    for take in takes {
        let log = take.judged_offline(under_db);
        sum.add(told(&take.meant, &log, take.until));
    }
    println!("{name}: {}", sum.line());
    sum.differs.iter().for_each(|line| println!("  {line}"));
    sum
}

#[test]
fn takes_on_recorded_notes_are_judged_as_they_were_played() {
    let conditions = [
        ("through a room", Some(bleed_db())),
        ("in headphones", None),
    ];
    let (rows, takes) = takes_asked().map_or((&CASES[2..3], 1), |takes| (&CASES[..], takes));
    let mut faults = Vec::new();
    for (condition, under_db) in &conditions[..if takes_asked().is_some() { 2 } else { 1 }] {
        let mut whole = Told::default();
        for guitar in guitars() {
            for case in rows {
                let name = format!("{condition}, {}, {}", guitar.source, case.name);
                let played = (0..takes).map(|take| Played::new(&guitar, case, take));
                whole.add(row(&name, played, *under_db));
            }
        }
        println!("{condition}, all: {}", whole.line());
        let (wrong, missed) = (whole.per_100(whole.wrong), whole.per_100(whole.missed));
        if whole.share() < 98.0 || wrong > 0.5 || missed > 1.0 {
            faults.push(condition);
        }
    }
    assert!(faults.is_empty(), "{faults:?}");
}
