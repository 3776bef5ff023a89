//! The tables `[ear]` and `[judging]`.

use crate::fault::TableView;
use crate::judging::Rules;
use crate::listen::Instrument;

/// What listens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ear {
    /// Whether it listens at all.
    pub on: bool,
    /// What is plugged in.
    pub instrument: Instrument,
    /// What the way round takes beyond what the server knows of, in ms: -100 to 100.
    pub latency_ms: f64,
}

impl Default for Ear {
    fn default() -> Ear {
        Ear {
            on: true,
            instrument: Instrument::Guitar,
            latency_ms: 0.0,
        }
    }
}

/// When a note is right, and what is told.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Judging {
    /// When a note is in time, right, or counted.
    pub rules: Rules,
    /// Whether the summary is spoken, too.
    pub spoken: bool,
}

pub(super) fn read_ear(view: Option<TableView<'_, '_>>) -> Ear {
    let usual = Ear::default();
    let Some(view) = view else {
        return usual;
    };
    let instruments = [
        ("guitar", Instrument::Guitar),
        ("bass", Instrument::Bass),
        ("voice", Instrument::Voice),
    ];
    let ear = Ear {
        on: view.boolean("on").unwrap_or(usual.on),
        instrument: view
            .one_of("instrument", &instruments)
            .unwrap_or(usual.instrument),
        latency_ms: view
            .number("latency_ms", -100.0..=100.0, "ms")
            .unwrap_or(usual.latency_ms),
    };
    view.finish();
    ear
}

pub(super) fn read_judging(view: Option<TableView<'_, '_>>) -> Judging {
    let usual = Judging::default();
    let Some(view) = view else {
        return usual;
    };
    let rules = usual.rules;
    let ms = |key, range, usual| view.number(key, range, "ms").unwrap_or(usual);
    let least = ms("in_time_least_ms", 10.0..=200.0, rules.early_ms.0);
    let most = ms("in_time_most_ms", 10.0..=400.0, rules.early_ms.1);
    let beats = |key, range, usual| view.number(key, range, "beats").unwrap_or(usual);
    let judging = Judging {
        rules: Rules {
            early_beats: beats("in_time_beats", 0.01..=0.5, rules.early_beats),
            early_ms: (least, most.max(least)),
            late_times: view
                .number("late_times", 0.5..=4.0, "")
                .unwrap_or(rules.late_times),
            offset_ms: ms("steady_offset_ms", 0.0..=150.0, rules.offset_ms),
            tuning_cents: view
                .number("tuning_cents", 0.0..=50.0, "cents")
                .unwrap_or(rules.tuning_cents),
            cents: view
                .number("cents", 10.0..=50.0, "cents")
                .unwrap_or(rules.cents),
            grace_ms: ms("grace_ms", 0.0..=300.0, rules.grace_ms),
            other_ms: ms("other_ms", 0.0..=2000.0, rules.other_ms),
            confidence: view
                .number("confidence", 0.0..=1.0, "")
                .map_or(rules.confidence, |number| number as f32),
            push_beats: beats("push_beats", 0.0..=1.0, rules.push_beats),
            push_is_right: view.boolean("push_is_right").unwrap_or(rules.push_is_right),
            found_beats: beats("found_beats", 0.0..=4.0, rules.found_beats),
        },
        spoken: view.boolean("spoken").unwrap_or(usual.spoken),
    };
    view.finish();
    judging
}
