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
    /// A part of the name of a MIDI port of ALSA, for the source "midi".
    pub midi: Option<String>,
    /// Whether comping, bass and drums are mute while a clock is followed.
    pub mute_band: bool,
    /// Whether our takes send MIDI clock.
    pub send: bool,
    /// A part of the name of a MIDI port of ALSA that it is sent to besides `midi_out`.
    pub send_to: Option<String>,
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
            midi: None,
            mute_band: true,
            send: false,
            send_to: None,
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
                    "follow: \"{}\" is no clock (jack, serial, midi, transport, internal)",
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
    let midi = port(&view, "midi");
    if order.contains(&ClockSource::Midi) && midi.is_none() {
        view.reader.fault(
            view.offset("follow"),
            "follow: \"midi\" needs the port: midi = \"a part of its name\"",
        );
    }
    let send = view.boolean("send").unwrap_or(usual.send);
    let send_to = port(&view, "send_to");
    if send_to.is_some() && !send {
        view.reader.fault(
            view.offset("send_to"),
            "send_to: nothing is sent without send = true",
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
        midi,
        mute_band: view.boolean("mute_band").unwrap_or(usual.mute_band),
        send,
        send_to,
    };
    view.finish();
    clock
}

/// A part of a port's name; an empty one would be any port's, and is none.
fn port(view: &TableView<'_, '_>, key: &'static str) -> Option<String> {
    let text = view.string(key)?.value.trim();
    (!text.is_empty()).then(|| text.to_string())
}
