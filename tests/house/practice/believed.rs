//! What the player says of its bars is believed: a loop that stood still begins later what it decided.

use crate::support::practice::{RATE, Room};
use underfoot::practice::Recorded;
use underfoot::time::{Frame, Tick};

/// Bars as the core told of them, from the bar at `from` on.
fn told(room: &Room, from: Tick) -> Vec<(Tick, Frame)> {
    let bars = room.records.iter().filter_map(|record| {
        let is_bar = matches!(record.what, Recorded::Bar);
        record
            .tick
            .filter(|_| is_bar)
            .map(|tick| (tick, record.frame))
    });
    bars.filter(|(tick, _)| *tick >= from).collect()
}

#[test]
fn the_core_reckons_from_where_the_bars_really_sound() {
    // What was done before the loop stood still for so long (in ms), and by how much the bars are later than decided.
    for (script, stood_ms) in [("start", 0), ("start", 100), ("start; +6 tempo up", 100)] {
        let mut room = Room::plain();
        for step in script.split("; ") {
            room.play(step.trim_start_matches("start"));
            if step == "start" {
                room.act("start");
            }
        }
        room.stands_still_until = room.at + stood_ms * u64::from(RATE) / 1000;
        room.seconds(2.5);
        let from = room.bars.last().map_or(Tick(0), |bar| bar.start + Tick(1));
        room.seconds(8.0);
        let heard = room.bars.iter().filter(|bar| bar.start >= from);
        let heard: Vec<(Tick, Frame)> = heard.map(|bar| (bar.start, bar.frame)).collect();
        let told = told(&room, from);
        let pairs: Vec<(Frame, Frame)> = heard
            .iter()
            .filter_map(|(tick, heard)| {
                let told = told.iter().find(|(other, _)| other == tick)?;
                Some((*heard, told.1))
            })
            .collect();
        assert!(pairs.len() >= 3, "{script}: {heard:?} {told:?}");
        for (heard, told) in pairs {
            let near = heard.0.abs_diff(told.0) <= 1;
            assert!(
                near,
                "{script}, {stood_ms} ms: heard {heard:?}, told {told:?}"
            );
        }
    }
}
