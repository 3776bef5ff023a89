//! The devices that have a thread of their own and tell what comes in: pedals, pins, MIDI ports, serial lines.

use super::super::config::Config;
use super::input::Input;
use crate::audio::ClockSource;
#[cfg(feature = "evdev")]
use crate::foot::Polarity;
#[cfg(feature = "evdev")]
use crate::pedal::SWITCHES;
use crate::pedal::reporter::{EventSink, Reporter, SourceEvent};
use crate::pedal::source::{Device, SourceThread};
use crate::pedal::stamps::StampClock;
use std::sync::Arc;
use std::sync::atomic::AtomicU64;
use std::sync::mpsc::SyncSender;

/// What goes amiss on the way in, counted by the devices' threads.
#[derive(Debug, Clone, Default)]
pub struct Amiss {
    /// MIDI messages of ports for which there was no room.
    pub lost_midi: Arc<AtomicU64>,
    /// What came on serial lines and made no sense.
    pub unread_serial: Arc<AtomicU64>,
}

/// Lets the device `name` tell the daemon what it does, stamped by `clock`. Its ticks are those of `master`; without one they
/// are nothing.
pub fn reporter(
    sender: &SyncSender<Input>,
    clock: &StampClock,
    name: String,
    master: Option<ClockSource>,
) -> Reporter {
    let sender = sender.clone();
    let sink: EventSink = Box::new(move |event: SourceEvent| {
        let input = match (event, master) {
            (SourceEvent::Edge(edge), _) => Input::Edge(edge),
            (SourceEvent::State(state, reason), _) => Input::Device(name.clone(), state, reason),
            (SourceEvent::Clock(at, message), Some(master)) => Input::Clock(at, master, message),
            (SourceEvent::Clock(..), None) => return,
            (SourceEvent::Song(at, number), _) => Input::Song(at, number),
        };
        // Where the daemon does not keep up there is nothing better to do.
        let _ = sender.try_send(input);
    });
    Reporter::new(Arc::clone(clock), sink)
}

/// Starts them all, by name; they end when dropped. One that does not start is told and left out.
pub fn start(
    config: &Config,
    sender: &SyncSender<Input>,
    clock: &StampClock,
    amiss: &Amiss,
) -> Vec<(String, SourceThread)> {
    let mut starter = Starter {
        config,
        sender,
        clock,
        amiss,
        started: Vec::new(),
    };
    starter.lines();
    starter.pedals();
    starter.pins();
    starter.ports();
    starter.started
}

struct Starter<'a> {
    config: &'a Config,
    sender: &'a SyncSender<Input>,
    clock: &'a StampClock,
    #[cfg_attr(not(any(feature = "midi-alsa", feature = "serial")), allow(dead_code))]
    amiss: &'a Amiss,
    started: Vec<(String, SourceThread)>,
}

impl Starter<'_> {
    #[cfg_attr(
        not(any(
            feature = "evdev",
            feature = "gpio",
            feature = "midi-alsa",
            feature = "serial"
        )),
        allow(dead_code)
    )]
    fn start(
        &mut self,
        thread: &str,
        name: String,
        master: Option<ClockSource>,
        device: impl Device,
    ) {
        let reporter = reporter(self.sender, self.clock, name.clone(), master);
        match SourceThread::supervise(thread, device, reporter) {
            Ok(source) => self.started.push((name, source)),
            Err(error) => log::warn!("no thread for a {thread}: {error}"),
        }
    }

    /// The foot's line may be the clock's too: a device is opened once.
    #[cfg(feature = "serial")]
    fn lines(&mut self) {
        use crate::pedal::serial::{Protocol, SerialBoard, SerialSettings};
        let clock = &self.config.clock;
        let foot_line = self.config.foot.serial.clone();
        let clock_line = clock.serial.as_ref().map(|port| SerialSettings {
            path: port.display().to_string(),
            baud: clock.baud,
            protocol: Protocol::Midi(Vec::new()),
        });
        let is_foots = |line: &SerialSettings| {
            foot_line
                .as_ref()
                .is_some_and(|foot| foot.path == line.path)
        };
        let clock_line = clock_line.filter(|line| !is_foots(line));
        for line in clock_line.into_iter().chain(foot_line) {
            let name = line.path.clone();
            let line = SerialBoard::new(line, Arc::clone(&self.amiss.unread_serial));
            self.start("serial line", name, Some(ClockSource::Serial), line);
        }
    }

    #[cfg(not(feature = "serial"))]
    fn lines(&mut self) {
        if self.config.foot.serial.is_some() || self.config.clock.serial.is_some() {
            log::warn!("this underfoot was built without serial lines");
        }
    }

    /// A thread for each pedal, however many of its keys are switches.
    #[cfg(feature = "evdev")]
    fn pedals(&mut self) {
        use crate::pedal::evdev::{PedalSettings, key_code};
        let mut pedals: Vec<PedalSettings> = Vec::new();
        let mut at_rest = [false; SWITCHES];
        for (rest, switch) in at_rest.iter_mut().zip(&self.config.foot.switches) {
            *rest = switch.polarity == Polarity::NormallyClosed;
        }
        for key in &self.config.foot.pedals {
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
                    at_rest,
                }),
            }
        }
        for pedal in pedals {
            self.start("pedal", format!("pedal {}", pedal.device), None, pedal);
        }
    }

    #[cfg(not(feature = "evdev"))]
    fn pedals(&mut self) {
        if !self.config.foot.pedals.is_empty() {
            log::warn!("this underfoot was built without pedals that act as keyboards");
        }
    }

    #[cfg(feature = "gpio")]
    fn pins(&mut self) {
        for pin in &self.config.foot.gpio {
            self.start("gpio", format!("switch on {}", pin.line), None, pin.clone());
        }
    }

    #[cfg(not(feature = "gpio"))]
    fn pins(&mut self) {
        if !self.config.foot.gpio.is_empty() {
            log::warn!("this underfoot was built without the board's own pins");
        }
    }

    /// Foot boards, and the clock's port where that is followed.
    #[cfg(feature = "midi-alsa")]
    fn ports(&mut self) {
        use crate::pedal::alsa::MidiPort;
        let controls = &self.config.foot.midi;
        for port in &self.config.foot.midi_ports {
            let board = MidiPort::new(port, controls, Arc::clone(&self.amiss.lost_midi));
            self.start("midi board", format!("MIDI port {port}"), None, board);
        }
        let source = ClockSource::Midi;
        let clock = &self.config.clock;
        if let Some(port) = &clock.midi
            && clock.follow.order.contains(&source)
        {
            let master = MidiPort::new(port, &[], Arc::clone(&self.amiss.lost_midi));
            self.start(
                "midi clock",
                format!("clock on {port}"),
                Some(source),
                master,
            );
        }
    }

    #[cfg(not(feature = "midi-alsa"))]
    fn ports(&mut self) {
        let clock = &self.config.clock;
        let is_asked = clock.midi.is_some() || clock.send_to.is_some();
        if is_asked || !self.config.foot.midi_ports.is_empty() {
            log::warn!("this underfoot was built without MIDI ports of ALSA");
        }
    }
}
