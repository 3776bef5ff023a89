//! What stood around a note that was asked for: what a journal of practice compares.

use crate::drill::{Stage, StringRule};
use crate::harmony::{ChordSymbol, Key};
use crate::plan::timeline::Segment;
use crate::time::{PPQ, Tick};

/// What stood around a note that was asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Around {
    /// Its chord.
    pub chord: Option<ChordSymbol>,
    /// The key of the tune as it was played.
    pub key: Option<Key>,
    /// Its place in the bar: "1", "2&", "3a".
    pub place: String,
    /// The region of the neck, where the stage fixes one: "position 5", "one string"; else empty.
    pub region: String,
    /// Quarter notes a minute.
    pub qpm: f64,
}

/// The place of a tick in its bar: the beat, and how far after it.
pub(super) fn place_in_bar(segment: &Segment, tick: Tick) -> String {
    let beat_ticks = segment.meter_at(tick).beat_ticks().0;
    let within = (tick - segment.bar_start(segment.bar_at(tick))).0.max(0);
    let (beat, twelfths) = (
        within / beat_ticks + 1,
        within % beat_ticks * 12 / beat_ticks,
    );
    match twelfths {
        0 => format!("{beat}"),
        3 => format!("{beat}e"),
        6 => format!("{beat}&"),
        9 => format!("{beat}a"),
        // A triplet's second and third.
        other => format!("{beat}+{other}/12"),
    }
}

/// The region of the neck that a stage fixes.
pub(super) fn region(stage: &Stage) -> String {
    let position = stage.position.map(|fret| format!("position {fret}"));
    let strings = match stage.string {
        StringRule::Free => None,
        StringRule::Same => Some("one string".to_string()),
        StringRule::EveryPlace => Some("every place".to_string()),
        StringRule::On(set) => {
            let on = (1..=16).filter(|string| set.holds(*string));
            let numbers: Vec<String> = on.map(|string| string.to_string()).collect();
            Some(format!("strings {}", numbers.join(" ")))
        }
    };
    let both: Vec<String> = position.into_iter().chain(strings).collect();
    both.join(", ")
}

/// Quarter notes a minute at a tick, from what moments it and the next quarter have.
pub(super) fn qpm_at(tick: Tick, ms: impl Fn(Tick) -> f64) -> f64 {
    60_000.0 / (ms(tick + Tick(PPQ)) - ms(tick)).max(1.0)
}
