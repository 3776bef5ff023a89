//! What MIDI ports of the ALSA sequencer say: foot boards, and clocks.

use super::DeviceState;
use super::midi::{Control, MidiEdges};
use super::midi_port::{Ears, listen};
use super::source::{Clock, Levels, SourceThread};
use crate::clock::ClockMessage;
use crate::midi::MidiMessage;
use crate::time::Frame;
use std::io;
use std::sync::Arc;
use std::sync::atomic::AtomicU64;

/// Which port, and what works which switch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MidiPortSettings {
    /// A part of the port's name as `aconnect -l` shows it, "client:port" without numbers.
    pub name: String,
    /// The controls.
    pub controls: Vec<(u8, Control)>,
}

/// Listens to a foot board on a thread of its own, until that is dropped. `clock` is that of `levels`; messages for
/// which there was no room are counted in `lost`.
///
/// # Errors
/// When the system gives no thread.
pub fn start(
    settings: MidiPortSettings,
    levels: Levels,
    clock: Clock,
    lost: Arc<AtomicU64>,
) -> io::Result<SourceThread> {
    let board = Board {
        edges: MidiEdges::new(&settings.controls),
        levels,
    };
    listen("midi board", settings.name, clock, lost, board)
}

/// What a clock's port tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ClockPortEvent {
    /// A message of the clock, and the frame on which it was sent.
    Clock(Frame, ClockMessage),
    /// The state changed; with the reason where it is not present.
    State(DeviceState, Option<String>),
}

/// Listens to a clock on a thread of its own, until that is dropped; `name` is a part of its port's name.
///
/// # Errors
/// When the system gives no thread.
pub fn start_clock(
    name: String,
    clock: Clock,
    lost: Arc<AtomicU64>,
    tell: impl FnMut(ClockPortEvent) + Send + 'static,
) -> io::Result<SourceThread> {
    let master = Master {
        tell,
        last: Frame(0),
        told: None,
    };
    listen("midi clock", name, clock, lost, master)
}

struct Board {
    edges: MidiEdges,
    levels: Levels,
}

impl Ears for Board {
    fn message(&mut self, message: &MidiMessage, at: Frame) {
        for edge in self.edges.message(message, at) {
            self.levels.set_at(edge.switch, edge.down, edge.at);
        }
    }

    fn lost(&mut self) {
        let _ = self.edges.release_all(self.levels.now());
        self.levels.let_go();
    }

    fn state(&mut self, state: DeviceState, reason: Option<String>) {
        self.levels.tell(state, reason);
    }
}

struct Master<T> {
    tell: T,
    last: Frame,
    told: Option<(DeviceState, Option<String>)>,
}

impl<T: FnMut(ClockPortEvent)> Ears for Master<T> {
    fn message(&mut self, message: &MidiMessage, at: Frame) {
        if let Some(message) = ClockMessage::from_bytes(message.bytes()) {
            // What was sent later did not happen before.
            self.last = self.last.max(at);
            (self.tell)(ClockPortEvent::Clock(self.last, message));
        }
    }

    fn state(&mut self, state: DeviceState, reason: Option<String>) {
        let now = Some((state, reason.clone()));
        if self.told != now {
            self.told = now;
            (self.tell)(ClockPortEvent::State(state, reason));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_s_port_tells_its_messages_in_order_and_its_state_once() {
        let mut told = Vec::new();
        let mut master = Master {
            tell: |event| told.push(event),
            last: Frame(0),
            told: None,
        };
        let message = |bytes: &[u8]| MidiMessage::from_bytes(bytes).unwrap();
        master.state(DeviceState::Present, None);
        master.state(DeviceState::Present, None);
        // All that a clock says (MIDI 1.0: F8, FA, FB, FC, F2), and what it does not.
        for (bytes, at) in [
            (&[0xfa][..], 100),
            (&[0xf8], 90),
            (&[0x90, 60, 1], 110),
            (&[0xfe], 120),
            (&[0xf2, 16, 0], 130),
            (&[0xfb], 140),
            (&[0xfc], 150),
        ] {
            master.message(&message(bytes), Frame(at));
        }
        use ClockMessage::{Continue, Position, Start, Stop, Tick};
        let messages = [
            (100, Start),
            (100, Tick),
            (130, Position(16)),
            (140, Continue),
            (150, Stop),
        ];
        let clock = messages.map(|(at, message)| ClockPortEvent::Clock(Frame(at), message));
        let mut wanted = vec![ClockPortEvent::State(DeviceState::Present, None)];
        wanted.extend(clock);
        assert_eq!(told, wanted);
    }
}
