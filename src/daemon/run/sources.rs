//! The switches that have a thread of their own: pedals, pins, MIDI ports.

use super::super::config::Config;
use super::inputs::Input;
#[cfg(any(feature = "evdev", feature = "gpio"))]
use crate::foot::gesture::Polarity;
#[cfg(any(feature = "evdev", feature = "gpio"))]
use crate::pedal::SWITCHES;
use crate::pedal::source::{Clock, Levels, Sink, SourceEvent, SourceThread};
use std::sync::Arc;
use std::sync::atomic::AtomicU64;
use std::sync::mpsc::SyncSender;

/// Starts them all. One that does not start is told and left out.
pub fn start(
    config: &Config,
    sender: &SyncSender<Input>,
    clock: &Clock,
    lost_midi: &Arc<AtomicU64>,
) -> Vec<SourceThread> {
    let levels = |name: String| {
        let sender = sender.clone();
        let sink: Sink = Box::new(move |event: SourceEvent| {
            let input = match event {
                SourceEvent::Edge(edge) => Input::Edge(edge),
                SourceEvent::State(state, reason) => Input::Device(name.clone(), state, reason),
            };
            let _ = sender.try_send(input);
        });
        Levels::new(Arc::clone(clock), sink)
    };
    let mut started = Vec::new();
    pedals(config, &levels, &mut started);
    pins(config, &levels, &mut started);
    ports(config, &levels, clock, lost_midi, &mut started);
    clocks(config, sender, clock, lost_midi, &mut started);
    let mut sources = Vec::new();
    for source in started {
        match source {
            Ok(source) => sources.push(source),
            Err(error) => log::warn!("no thread for a switch: {error}"),
        }
    }
    sources
}

type Started = Vec<std::io::Result<SourceThread>>;

/// Which switches are down when no foot is on them.
#[cfg(any(feature = "evdev", feature = "gpio"))]
fn at_rest(config: &Config) -> [bool; SWITCHES] {
    let mut at_rest = [false; SWITCHES];
    for (rest, switch) in at_rest.iter_mut().zip(&config.foot.switches) {
        *rest = switch.polarity == Polarity::NormallyClosed;
    }
    at_rest
}

/// A thread for each pedal, however many of its keys are switches.
#[cfg(feature = "evdev")]
fn pedals(config: &Config, levels: &dyn Fn(String) -> Levels, started: &mut Started) {
    use crate::pedal::evdev::{PedalSettings, key_code, start};
    let mut pedals: Vec<PedalSettings> = Vec::new();
    for key in &config.foot.pedals {
        let Some(code) = key_code(&key.key) else {
            continue;
        };
        match pedals.iter_mut().find(|pedal| pedal.device == key.device) {
            Some(pedal) => {
                pedal.keys.push((code, key.switch));
                pedal.grab &= key.grab;
            }
            None => pedals.push(PedalSettings {
                device: key.device.clone(),
                keys: vec![(code, key.switch)],
                grab: key.grab,
                at_rest: at_rest(config),
            }),
        }
    }
    for pedal in pedals {
        let name = format!("pedal {}", pedal.device);
        started.push(start(pedal, levels(name)));
    }
}

#[cfg(not(feature = "evdev"))]
fn pedals(config: &Config, _: &dyn Fn(String) -> Levels, _: &mut Started) {
    if !config.foot.pedals.is_empty() {
        log::warn!("this underfoot was built without pedals that act as keyboards");
    }
}

#[cfg(feature = "gpio")]
fn pins(config: &Config, levels: &dyn Fn(String) -> Levels, started: &mut Started) {
    use crate::device::lines::Line;
    use crate::pedal::gpio::{GpioSettings, Pull, start};
    let at_rest = at_rest(config);
    for pin in &config.foot.gpio {
        let settings = GpioSettings {
            line: Line::new(pin.line.as_str()),
            switch: pin.switch,
            pull: match pin.pull {
                Some(true) => Pull::Up,
                Some(false) => Pull::Down,
                None => Pull::None,
            },
            to_ground: pin.to_ground,
            kernel_debounce_ms: pin.kernel_debounce_ms,
            closed_at_rest: at_rest[usize::from(pin.switch).saturating_sub(1) % SWITCHES],
        };
        let name = format!("switch on {}", pin.line);
        started.push(start(settings, levels(name)));
    }
}

#[cfg(not(feature = "gpio"))]
fn pins(config: &Config, _: &dyn Fn(String) -> Levels, _: &mut Started) {
    if !config.foot.gpio.is_empty() {
        log::warn!("this underfoot was built without the board's own pins");
    }
}

#[cfg(feature = "midi-alsa")]
fn ports(
    config: &Config,
    levels: &dyn Fn(String) -> Levels,
    clock: &Clock,
    lost: &Arc<AtomicU64>,
    started: &mut Started,
) {
    use crate::pedal::alsa::{MidiPortSettings, start};
    for port in &config.foot.midi_ports {
        let settings = MidiPortSettings {
            name: port.clone(),
            controls: super::inputs::controls(config),
        };
        let name = format!("MIDI port {port}");
        started.push(start(
            settings,
            levels(name),
            Arc::clone(clock),
            Arc::clone(lost),
        ));
    }
}

#[cfg(not(feature = "midi-alsa"))]
fn ports(
    config: &Config,
    _: &dyn Fn(String) -> Levels,
    _: &Clock,
    _: &Arc<AtomicU64>,
    _: &mut Started,
) {
    if !config.foot.midi_ports.is_empty() {
        log::warn!("this underfoot was built without MIDI ports of ALSA");
    }
}

/// The clock's port, where it is followed.
#[cfg(feature = "midi-alsa")]
fn clocks(
    config: &Config,
    sender: &SyncSender<Input>,
    clock: &Clock,
    lost: &Arc<AtomicU64>,
    started: &mut Started,
) {
    use crate::audio::ClockSource;
    use crate::pedal::alsa::{ClockPortEvent, start_clock};
    let follows = config.clock.follow.order.contains(&ClockSource::Midi);
    let Some(port) = config.clock.midi.as_ref().filter(|_| follows) else {
        return;
    };
    let (sender, name) = (sender.clone(), format!("clock on {port}"));
    let tell = move |event| {
        let input = match event {
            ClockPortEvent::Clock(at, message) => Input::Clock(at, ClockSource::Midi, message),
            ClockPortEvent::State(state, reason) => Input::Device(name.clone(), state, reason),
        };
        let _ = sender.try_send(input);
    };
    started.push(start_clock(
        port.clone(),
        Arc::clone(clock),
        Arc::clone(lost),
        tell,
    ));
}

#[cfg(not(feature = "midi-alsa"))]
fn clocks(config: &Config, _: &SyncSender<Input>, _: &Clock, _: &Arc<AtomicU64>, _: &mut Started) {
    if config.clock.midi.is_some() || config.clock.send_to.is_some() {
        log::warn!("this underfoot was built without MIDI ports of ALSA");
    }
}
