//! MIDI controls as switches: any note, controller or program change, learned from what comes in.

use super::Edge;
use crate::fault::nearest_hint;
use crate::midi::MidiMessage;
use crate::time::Frame;
use arrayvec::ArrayVec;
use std::fmt;
use std::str::FromStr;

/// What kind of message a control sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ControlKind {
    /// A note: on is down, off is up.
    Note,
    /// A controller: 64 and more is down, less is up (as for the switch pedals of MIDI 1.0).
    Controller,
    /// A program change: each is down and up at once.
    Program,
}

/// The kinds as they are written.
const KINDS: [(&str, ControlKind); 3] = [
    ("note", ControlKind::Note),
    ("controller", ControlKind::Controller),
    ("program", ControlKind::Program),
];

/// A control of a MIDI device: `note 60`, `controller 64 channel 2`, `program 3`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Control {
    /// Which kind of message.
    pub kind: ControlKind,
    /// Its number as in the message, 0 to 127.
    pub number: u8,
    /// Its channel, 1 to 16; `None`: any.
    pub channel: Option<u8>,
}

/// Why a text is no control.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ControlError(String);

impl Control {
    /// The control that sent a message, its channel included: for learning. `None` for what is no press: a note
    /// off, a controller below 64, anything else.
    pub fn pressed_by(message: &MidiMessage) -> Option<Control> {
        let (number, value) = message.data();
        let kind = match message.kind() {
            0x90 if value > 0 => ControlKind::Note,
            0xb0 if value >= 64 => ControlKind::Controller,
            0xc0 => ControlKind::Program,
            _ => return None,
        };
        Some(Control {
            kind,
            number,
            channel: message.channel(),
        })
    }

    /// Down or up, if the message is of this control.
    fn level(&self, message: &MidiMessage) -> Option<bool> {
        let (number, value) = message.data();
        let of_channel = self.channel.is_none() || self.channel == message.channel();
        if number != self.number || !of_channel {
            return None;
        }
        match (self.kind, message.kind()) {
            // A note-on without velocity is a note-off (MIDI 1.0).
            (ControlKind::Note, 0x90) => Some(value > 0),
            (ControlKind::Note, 0x80) => Some(false),
            (ControlKind::Controller, 0xb0) => Some(value >= 64),
            (ControlKind::Program, 0xc0) => Some(true),
            _ => None,
        }
    }
}

impl fmt::Display for Control {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = KINDS.iter().find(|(_, kind)| *kind == self.kind);
        write!(f, "{} {}", word.map_or("", |(word, _)| word), self.number)?;
        match self.channel {
            Some(channel) => write!(f, " channel {channel}"),
            None => Ok(()),
        }
    }
}

impl FromStr for Control {
    type Err = ControlError;
    fn from_str(text: &str) -> Result<Control, ControlError> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let (kind, number, channel) = match words[..] {
            [kind, number, "channel", channel] => (kind, number, Some(channel)),
            [kind, number] => (kind, number, None),
            _ => (words.first().copied().unwrap_or_default(), "", None),
        };
        let mut kinds = KINDS.into_iter();
        let Some((_, kind)) = kinds.find(|(word, _)| *word == kind) else {
            let hint = nearest_hint(kind, KINDS.map(|(word, _)| word));
            return Err(ControlError(format!(
                "\"{text}\" is no control (note, controller or program, and a number){hint}"
            )));
        };
        let within = |what: &str, word: &str, low: u8, high: u8| {
            let plain = word.bytes().all(|byte| byte.is_ascii_digit());
            let number = word.parse::<u8>().ok();
            let rule = || format!("\"{text}\": the {what} must lie between {low} and {high}");
            number
                .filter(|n| plain && (low..=high).contains(n))
                .ok_or_else(|| ControlError(rule()))
        };
        let channel = channel.map(|channel| within("channel", channel, 1, 16));
        Ok(Control {
            kind,
            number: within("number", number, 0, 127)?,
            channel: channel.transpose()?,
        })
    }
}

/// The most edges that one message can give: down and up for each of eight switches.
pub const MESSAGE_EDGES: usize = 16;

/// Turns messages into edges.
#[derive(Debug, Clone, Default)]
pub struct MidiEdges {
    switches: ArrayVec<(u8, Control), { MESSAGE_EDGES / 2 }>,
}

impl MidiEdges {
    /// `(switch from 1, control)`: a switch may have several controls, a control several switches. At most
    /// eight pairs are taken.
    pub fn new(switches: &[(u8, Control)]) -> MidiEdges {
        let most = MESSAGE_EDGES / 2;
        MidiEdges {
            switches: switches.iter().take(most).copied().collect(),
        }
    }

    /// What a message at `at` does. A program change is down and up at the same frame.
    pub fn message(&self, message: &MidiMessage, at: Frame) -> ArrayVec<Edge, MESSAGE_EDGES> {
        let mut edges = ArrayVec::new();
        for &(switch, control) in &self.switches {
            let Some(down) = control.level(message) else {
                continue;
            };
            edges.push(Edge { switch, down, at });
            if control.kind == ControlKind::Program {
                let down = false;
                edges.push(Edge { switch, down, at });
            }
        }
        edges
    }
}

/// The number with which a message chooses a song, from 0: a song select (MIDI 1.0: F3), or a program change of any channel.
pub fn song_of(bytes: &[u8]) -> Option<u8> {
    let message = MidiMessage::from_bytes(bytes)?;
    matches!(message.kind(), 0xf3 | 0xc0).then_some(message.data().0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(hex: &str) -> MidiMessage {
        let bytes = hex
            .split_whitespace()
            .map(|b| u8::from_str_radix(b, 16).unwrap());
        MidiMessage::from_bytes(&bytes.collect::<Vec<u8>>()).unwrap()
    }

    #[test]
    fn controls_are_written_and_read_back() {
        for text in [
            "note 60",
            "controller 64",
            "program 0",
            "note 127 channel 16",
        ] {
            assert_eq!(text.parse::<Control>().unwrap().to_string(), text);
        }
        let number = "the number must lie between 0 and 127";
        let channel = "the channel must lie between 1 and 16";
        let kind = "is no control (note, controller or program, and a number)";
        for (text, told) in [
            ("", format!("\"\" {kind}")),
            ("note", format!("\"note\": {number}")),
            ("note 128", format!("\"note 128\": {number}")),
            ("note -1", format!("\"note -1\": {number}")),
            ("note +1", format!("\"note +1\": {number}")),
            ("note 6.0", format!("\"note 6.0\": {number}")),
            ("knob 3", format!("\"knob 3\" {kind}")),
            (
                "contoller 1",
                format!("\"contoller 1\" {kind} (nearest: \"controller\")"),
            ),
            (
                "note 60 channel 0",
                format!("\"note 60 channel 0\": {channel}"),
            ),
            (
                "note 60 channel 17",
                format!("\"note 60 channel 17\": {channel}"),
            ),
            ("note 60 canal 1", format!("\"note 60 canal 1\": {number}")),
            (
                "note 60 channel 1 x",
                format!("\"note 60 channel 1 x\": {number}"),
            ),
        ] {
            assert_eq!(text.parse::<Control>(), Err(ControlError(told)));
        }
    }

    #[test]
    fn messages_become_edges() {
        let cases = [
            ("note 60", "90 3c 40", "1v"),
            ("note 60", "90 3c 00", "1^"),
            ("note 60", "80 3c 40", "1^"),
            ("note 60", "95 3c 01", "1v"),
            ("note 60 channel 6", "95 3c 01", "1v"),
            ("note 60 channel 1", "95 3c 01", ""),
            ("note 60", "90 3d 40", ""),
            ("controller 64", "b0 40 40", "1v"),
            ("controller 64", "b0 40 3f", "1^"),
            ("controller 64", "b0 41 7f", ""),
            ("program 3", "c0 03", "1v1^"),
            ("program 3", "c0 04", ""),
            ("note 60", "f8", ""),
        ];
        for (control, bytes, told) in cases {
            let edges = MidiEdges::new(&[(1, control.parse().unwrap())]);
            let got = edges.message(&message(bytes), Frame(7));
            let got: String = got
                .iter()
                .map(|e| format!("{}{}", e.switch, if e.down { 'v' } else { '^' }))
                .collect();
            assert_eq!(got, told, "{control}: {bytes}");
        }
    }

    #[test]
    fn a_song_is_chosen_by_song_select_and_by_program_change() {
        // MIDI 1.0 Detailed Specification 4.2, song select and program change; values by reading them.
        let cases: [(&[u8], Option<u8>); 6] = [
            (&[0xf3, 0x00], Some(0)),
            (&[0xf3, 0x7f], Some(127)),
            (&[0xc5, 0x03], Some(3)),
            (&[0xf2, 0x03, 0x00], None),
            (&[0x90, 0x03, 0x40], None),
            (&[0xf3], None),
        ];
        for (bytes, number) in cases {
            assert_eq!(song_of(bytes), number, "{bytes:x?}");
        }
    }

    #[test]
    fn a_control_is_learned_from_its_press() {
        for (bytes, told) in [
            ("90 3c 40", Some("note 60 channel 1")),
            ("80 3c 40", None),
            ("90 3c 00", None),
            ("b1 40 7f", Some("controller 64 channel 2")),
            ("b1 40 00", None),
            ("c0 03", Some("program 3 channel 1")),
            ("f8", None),
            ("e0 00 40", None),
        ] {
            let learned = Control::pressed_by(&message(bytes)).map(|control| control.to_string());
            assert_eq!(learned.as_deref(), told, "{bytes}");
        }
    }
}
