//! The table `[clock]`.

use crate::audio::{ClockSource, FollowSettings};
use crate::fault::TableView;
use arrayvec::ArrayVec;
use std::path::PathBuf;

/// Which clock counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Clock {
    /// Which clocks are followed, the best first, and how; none: only our own.
    pub follow: FollowSettings,
    /// A serial line with MIDI, for the source "serial".
    pub serial: Option<PathBuf>,
    /// Its bits a second.
    pub baud: u32,
    /// Whether comping, bass and drums are mute while a clock is followed.
    pub mute_band: bool,
    /// Whether our takes send MIDI clock.
    pub send: bool,
}

impl Default for Clock {
    fn default() -> Clock {
        Clock {
            follow: FollowSettings {
                order: ArrayVec::new(),
                hold_quarters: 16,
                latency_ms: 0.0,
            },
            serial: None,
            baud: 31_250,
            mute_band: true,
            send: false,
        }
    }
}

pub(super) fn read(view: Option<TableView<'_, '_>>) -> Clock {
    let usual = Clock::default();
    let Some(view) = view else {
        return usual;
    };
    let mut order: ArrayVec<ClockSource, { ClockSource::ALL.len() }> = ArrayVec::new();
    for text in view.strings("follow").unwrap_or_default() {
        let source = ClockSource::ALL
            .into_iter()
            .find(|source| source.name() == text.value);
        match source {
            Some(source) if !order.contains(&source) => drop(order.try_push(source)),
            Some(_) => view
                .reader
                .fault(text.span.start, "follow: each clock stands there once"),
            None => view.reader.fault(
                text.span.start,
                format!(
                    "follow: \"{}\" is no clock (jack, serial, internal)",
                    text.value
                ),
            ),
        }
    }
    let serial = super::path(&view, "serial");
    if order.contains(&ClockSource::Serial) && serial.is_none() {
        view.reader.fault(
            view.offset("follow"),
            "follow: \"serial\" needs the line: serial = \"/dev/...\"",
        );
    }
    let clock = Clock {
        follow: FollowSettings {
            order,
            hold_quarters: view
                .integer("hold_beats", 1..=1024, "quarter notes")
                .map_or(usual.follow.hold_quarters, |beats| beats as u32),
            latency_ms: view
                .number("latency_ms", -100.0..=100.0, "ms")
                .unwrap_or(usual.follow.latency_ms),
        },
        serial,
        baud: view
            .integer("baud", 300..=4_000_000, "bits a second")
            .map_or(usual.baud, |baud| baud as u32),
        mute_band: view.boolean("mute_band").unwrap_or(usual.mute_band),
        send: view.boolean("send").unwrap_or(usual.send),
    };
    view.finish();
    clock
}
