//! The table `[clock]`.

use crate::audio::{ClockSource, FollowSettings};
use crate::fault::TableView;
use crate::fault::settings::{flag, number, path, set, settings, whole};
use arrayvec::ArrayVec;
use std::path::PathBuf;

settings! {
    /// Which clock counts.
    #[derive(Debug, Clone, PartialEq)]
    pub struct Clock {
        /// Which clocks are followed, the best first, and how; none: only our own.
        follow: FollowSettings = FollowSettings::default(), follow;
        /// A serial line with MIDI, for the source "serial".
        serial: Option<PathBuf> = None, path;
        /// Its bits a second.
        baud: u32 = 31_250, whole(300..=4_000_000, "bits a second");
        /// A part of the name of a MIDI port of ALSA, for the source "midi".
        midi: Option<String> = None, port;
        /// Whether comping, bass and drums are mute while a clock is followed.
        mute_band: bool = true, flag;
        /// Whether our takes send MIDI clock.
        send: bool = false, flag;
        /// A part of the name of a MIDI port of ALSA that it is sent to besides `midi_out`.
        send_to: Option<String> = None, port;
    }
}

/// What a table says, with what does not go together told.
pub(super) fn read(usual: Clock, view: &TableView<'_, '_>) -> Clock {
    let clock = usual.over(view);
    let follows = |source| clock.follow.order.contains(&source);
    for (is_wrong, key, rule) in [
        (
            follows(ClockSource::Serial) && clock.serial.is_none(),
            "follow",
            "follow: \"serial\" needs the line: serial = \"/dev/...\"",
        ),
        (
            follows(ClockSource::Midi) && clock.midi.is_none(),
            "follow",
            "follow: \"midi\" needs the port: midi = \"a part of its name\"",
        ),
        (
            clock.send_to.is_some() && !clock.send,
            "send_to",
            "send_to: nothing is sent without send = true",
        ),
    ] {
        if is_wrong {
            view.reader.fault(view.offset(key), rule);
        }
    }
    clock
}

fn follow(view: &TableView<'_, '_>, key: &'static str) -> Option<FollowSettings> {
    let mut follow = FollowSettings::default();
    set(&mut follow.order, view, key, order);
    let hold = &mut follow.hold_quarters;
    set(hold, view, "hold_beats", whole(1..=1024, "quarter notes"));
    let latency = &mut follow.latency_ms;
    set(latency, view, "latency_ms", number(-100.0..=100.0, "ms"));
    Some(follow)
}

fn order(
    view: &TableView<'_, '_>,
    key: &'static str,
) -> Option<ArrayVec<ClockSource, { ClockSource::ALL.len() }>> {
    let mut order: ArrayVec<ClockSource, { ClockSource::ALL.len() }> = ArrayVec::new();
    for text in view.strings(key)? {
        let mut all = ClockSource::ALL.into_iter();
        let rule = match all.find(|source| source.name() == text.value) {
            Some(source) if !order.contains(&source) => {
                order.push(source);
                continue;
            }
            Some(_) => "follow: each clock stands there once".to_string(),
            None => format!(
                "follow: \"{}\" is no clock (jack, serial, midi, transport, internal)",
                text.value
            ),
        };
        view.reader.fault(text.span.start, rule);
    }
    Some(order)
}

/// A part of a port's name; an empty one would be any port's, and is none.
fn port(view: &TableView<'_, '_>, key: &'static str) -> Option<Option<String>> {
    let text = view.string(key)?.value.trim();
    Some((!text.is_empty()).then(|| text.to_string()))
}
