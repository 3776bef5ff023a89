//! What devices tell: in order, and each thing once.

use super::midi::{MidiEdges, song_of};
use super::stamps::StampClock;
use super::{DeviceState, Edge, SWITCHES};
use crate::clock::ClockMessage;
use crate::device::Told;
use crate::midi::MidiMessage;
use crate::time::Frame;
use std::time::Duration;

/// Where events go; called on the source's thread.
pub type EventSink = Box<dyn FnMut(SourceEvent) + Send>;

/// What a source tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SourceEvent {
    Edge(Edge),
    /// A song select or a program change: its number, from 0.
    Song(Frame, u8),
    /// A message of a MIDI clock came.
    Clock(Frame, ClockMessage),
    /// The state changed; with the reason, or a caution.
    State(DeviceState, Option<String>),
}

/// Tells what a device does: the edges of its switches and the messages of its clock in order, and each of its states once.
/// What is down when the device is lost goes up.
pub struct Reporter {
    sink: EventSink,
    clock: StampClock,
    down: [bool; SWITCHES],
    last: Frame,
    told: Told,
}

impl Reporter {
    /// Everything up, no state told. Events go to `sink`, stamped by `clock`.
    pub fn new(clock: StampClock, sink: EventSink) -> Reporter {
        Reporter {
            sink,
            clock,
            down: [false; SWITCHES],
            last: Frame(0),
            told: Told::default(),
        }
    }

    /// The frame of so long ago, by the clock that stamps.
    pub fn ago(&self, age: Duration) -> Frame {
        self.clock.ago(age)
    }

    /// A switch (from 1) is at this level since `at`. Told if it is new.
    pub fn set(&mut self, switch: u8, down: bool, at: Frame) {
        let level = usize::from(switch)
            .checked_sub(1)
            .and_then(|index| self.down.get_mut(index));
        let Some(level) = level else { return };
        if std::mem::replace(level, down) != down {
            let at = self.in_order(at);
            (self.sink)(SourceEvent::Edge(Edge { switch, down, at }));
        }
    }

    /// A MIDI message came: a clock's, one that may move switches, or one that chooses a song. Whether it was for us.
    pub fn midi(&mut self, message: &MidiMessage, switches: &MidiEdges, at: Frame) -> bool {
        if let Some(message) = ClockMessage::from_bytes(message.bytes()) {
            let at = self.in_order(at);
            (self.sink)(SourceEvent::Clock(at, message));
            return true;
        }
        let edges = switches.message(message, at);
        for edge in &edges {
            self.set(edge.switch, edge.down, edge.at);
        }
        let song = song_of(message.bytes()).filter(|_| edges.is_empty());
        if let Some(number) = song {
            let at = self.in_order(at);
            (self.sink)(SourceEvent::Song(at, number));
        }
        !edges.is_empty() || song.is_some()
    }

    /// What was sent later did not happen before.
    fn in_order(&mut self, at: Frame) -> Frame {
        self.last = self.last.max(at);
        self.last
    }

    /// Takes these levels as they are, telling no edge: those of a device just opened. What is to be said of switches that
    /// are not at rest although nobody has moved them yet.
    pub fn begin(&mut self, down: [bool; SWITCHES], at_rest: &[bool; SWITCHES]) -> Option<String> {
        self.down = down;
        let held: Vec<String> = (0..SWITCHES)
            .filter(|index| down[*index] && !at_rest[*index])
            .map(|index| (index + 1).to_string())
            .collect();
        (!held.is_empty()).then(|| {
            format!(
                "held since the start: switch {}; a foot on it, or is it normally closed?",
                held.join(", ")
            )
        })
    }

    /// The device is gone, or its cable is: what was down goes up.
    pub fn lose(&mut self, reason: impl Into<String>) {
        for switch in 1..=SWITCHES as u8 {
            self.set(switch, false, self.ago(Duration::ZERO));
        }
        self.tell(DeviceState::Retrying, Some(reason.into()));
    }

    /// Tells a state once, not at each attempt.
    pub fn tell(&mut self, state: DeviceState, reason: Option<String>) {
        if self.told.is_new(state, reason.as_deref()) {
            (self.sink)(SourceEvent::State(state, reason));
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    /// A reporter whose now is frame 1000, a frame a millisecond, and the words for what it told.
    pub fn reporter() -> (Reporter, Arc<Mutex<Vec<String>>>) {
        let told = Arc::new(Mutex::new(Vec::new()));
        let to = Arc::clone(&told);
        let sink: EventSink = Box::new(move |event| {
            to.lock().unwrap().push(match event {
                SourceEvent::Edge(Edge { switch, down, at }) => {
                    format!("{switch}{}@{}", if down { 'v' } else { '^' }, at.0)
                }
                SourceEvent::Clock(at, message) => format!("{message:?}@{}", at.0),
                SourceEvent::Song(at, number) => format!("song {number}@{}", at.0),
                SourceEvent::State(state, None) => state.name().to_string(),
                SourceEvent::State(state, Some(why)) => format!("{}: {why}", state.name()),
            });
        });
        let clock = Arc::new(|age: Duration| Frame(1000 - age.as_millis() as u64));
        (Reporter::new(clock, sink), told)
    }

    #[test]
    fn what_changes_is_told_in_order_and_what_is_lost_lets_go() {
        let (mut reporter, told) = reporter();
        reporter.tell(DeviceState::Present, None);
        reporter.tell(DeviceState::Present, None);
        for (switch, at) in [(1, 980), (1, 990), (2, 500), (0, 1000), (9, 1000)] {
            reporter.set(switch, true, Frame(at));
        }
        reporter.lose("gone");
        // An edge that is older than the one before is told at its place: time does not go back.
        let wanted = [
            "present",
            "1v@980",
            "2v@980",
            "1^@1000",
            "2^@1000",
            "retrying: gone",
        ];
        assert_eq!(told.lock().unwrap()[..], wanted);
    }

    #[test]
    fn midi_is_a_clock_or_moves_switches() {
        let (mut reporter, told) = reporter();
        let switches = MidiEdges::new(&[(2, "note 60".parse().unwrap())]);
        // All that a clock says (MIDI 1.0: F8, FA, FB, FC, F2), and what it does not.
        for (bytes, at) in [
            (&[0xfa][..], 100),
            (&[0xf8], 90),
            (&[0x90, 60, 1], 110),
            (&[0x90, 61, 1], 115),
            (&[0xfe], 120),
            (&[0xf2, 16, 0], 130),
            (&[0xfb], 140),
            (&[0xfc], 150),
        ] {
            let message = MidiMessage::from_bytes(bytes).unwrap();
            reporter.midi(&message, &switches, Frame(at));
        }
        let wanted = [
            "Start@100",
            "Tick@100",
            "2v@110",
            "Position(16)@130",
            "Continue@140",
            "Stop@150",
        ];
        assert_eq!(told.lock().unwrap()[..], wanted);
    }

    #[test]
    fn only_what_is_not_at_rest_is_held() {
        let (mut reporter, _) = reporter();
        let (mut down, mut at_rest) = ([false; SWITCHES], [false; SWITCHES]);
        (down[1], down[2], at_rest[2]) = (true, true, true);
        let told = reporter.begin(down, &at_rest).unwrap();
        assert!(
            told.starts_with("held since the start: switch 2;"),
            "{told}"
        );
        at_rest[1] = true;
        assert_eq!(reporter.begin(down, &at_rest), None);
    }
}
