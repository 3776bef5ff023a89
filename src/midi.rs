//! MIDI 1.0 bytes to messages: the one parser for all raw streams (serial lines, clocks, traces).
//!
//! Real-time bytes may stand inside any other message and touch neither it nor the running status (MIDI 1.0
//! Detailed Specification 4.2, "System Real Time Messages"); each is a message of its own.

/// A short message: status and up to two data bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct MidiMessage {
    bytes: [u8; 3],
    len: u8,
}

impl MidiMessage {
    /// A message from its bytes, if they are exactly one short message.
    pub fn from_bytes(bytes: &[u8]) -> Option<MidiMessage> {
        let mut parser = ByteParser::default();
        let (last, first) = bytes.split_last()?;
        let early = first.iter().any(|byte| parser.push(*byte).is_some());
        parser
            .push(*last)
            .filter(|message| !early && message.bytes() == bytes)
    }

    /// Its bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes[..usize::from(self.len)]
    }

    /// The status without the channel (0x90 for a note-on); system messages whole.
    pub fn kind(&self) -> u8 {
        let status = self.bytes[0];
        if status < 0xf0 { status & 0xf0 } else { status }
    }

    /// The channel, 1 to 16; `None` for system messages.
    pub fn channel(&self) -> Option<u8> {
        (self.bytes[0] < 0xf0).then_some((self.bytes[0] & 0x0f) + 1)
    }

    /// The first and second data byte; 0 where there is none.
    pub fn data(&self) -> (u8, u8) {
        (self.bytes[1], self.bytes[2])
    }
}

/// The parser: bytes in, at most one message a byte out. Exclusive messages are passed over.
#[derive(Debug, Clone, Default)]
pub struct ByteParser {
    /// The status in force; 0: none; 0xf0: inside an exclusive message.
    status: u8,
    data: [u8; 2],
    have: u8,
    /// The status has come, none of its data yet.
    is_bare: bool,
}

impl ByteParser {
    /// Takes a byte; gives the message that it completes.
    pub fn push(&mut self, byte: u8) -> Option<MidiMessage> {
        match byte {
            0xf8 | 0xfa..=0xfc | 0xfe | 0xff => Some(message(byte, [0; 2], 0)),
            // Undefined in MIDI 1.0.
            0xf9 | 0xfd => None,
            0x80.. => self.status(byte),
            _ => self.data(byte),
        }
    }

    /// Whether a byte that came now would belong to no message, or cut one short: nobody who speaks MIDI sends that.
    pub fn is_stray(&self, byte: u8) -> bool {
        match byte {
            0xf4 | 0xf5 | 0xf9 | 0xfd => true,
            0xf8.. => false,
            0xf7 => self.status != 0xf0,
            0x80.. => self.is_bare || self.have > 0,
            _ => self.status == 0,
        }
    }

    fn status(&mut self, byte: u8) -> Option<MidiMessage> {
        self.have = 0;
        self.status = match byte {
            // The end of an exclusive message, and what is undefined, leave no status in force.
            0xf4..=0xf7 => 0,
            other => other,
        };
        self.is_bare = data_bytes(self.status).is_some();
        (byte == 0xf6).then(|| message(byte, [0; 2], 0))
    }

    fn data(&mut self, byte: u8) -> Option<MidiMessage> {
        let wanted = data_bytes(self.status)?;
        self.is_bare = false;
        self.data[usize::from(self.have)] = byte;
        self.have += 1;
        if self.have < wanted {
            return None;
        }
        self.have = 0;
        let mut data = self.data;
        if wanted == 1 {
            data[1] = 0;
        }
        let whole = message(self.status, data, wanted);
        // Only channel messages run on.
        if self.status >= 0xf0 {
            self.status = 0;
        }
        Some(whole)
    }
}

fn message(status: u8, data: [u8; 2], count: u8) -> MidiMessage {
    MidiMessage {
        bytes: [status, data[0], data[1]],
        len: count + 1,
    }
}

/// How many data bytes follow a status; `None`: none is expected.
fn data_bytes(status: u8) -> Option<u8> {
    match status {
        0x80..=0xbf | 0xe0..=0xef | 0xf2 => Some(2),
        0xc0..=0xdf | 0xf1 | 0xf3 => Some(1),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn parse(bytes: &[u8]) -> Vec<Vec<u8>> {
        let mut parser = ByteParser::default();
        let messages = bytes.iter().filter_map(|byte| parser.push(*byte));
        messages.map(|message| message.bytes().to_vec()).collect()
    }

    fn hex(text: &str) -> Vec<u8> {
        text.split_whitespace()
            .map(|byte| u8::from_str_radix(byte, 16).unwrap())
            .collect()
    }

    #[test]
    fn bytes_become_messages() {
        // MIDI 1.0 Detailed Specification 4.2, tables I to IV; values by reading them.
        let cases = [
            (
                "a note on and off",
                "90 3c 40 80 3c 00",
                "90 3c 40 | 80 3c 00",
            ),
            (
                "running status",
                "90 3c 40 3c 00 3e 40",
                "90 3c 40 | 90 3c 00 | 90 3e 40",
            ),
            ("one data byte", "c0 05 06", "c0 05 | c0 06"),
            (
                "a clock inside a message",
                "b0 f8 40 f8 7f",
                "f8 | f8 | b0 40 7f",
            ),
            ("two clocks in one go", "f8 f8", "f8 | f8"),
            (
                "a clock inside an exclusive message",
                "f0 7e f8 7f 09 01 f7 f8",
                "f8 | f8",
            ),
            (
                "an exclusive message cut by a status",
                "f0 7e 7f 90 3c 40",
                "90 3c 40",
            ),
            (
                "an exclusive message ends running status",
                "90 3c 40 f0 01 f7 3c 40",
                "90 3c 40",
            ),
            ("song position", "f2 10 02 05", "f2 10 02"),
            (
                "song select ends running status",
                "90 3c 40 f3 01 3c 40",
                "90 3c 40 | f3 01",
            ),
            ("tune request", "f6 f6", "f6 | f6"),
            ("data before any status", "3c 40 90 3c 40", "90 3c 40"),
            ("undefined ones", "f4 f5 f9 fd 90 3c 40", "90 3c 40"),
            (
                "start, stop, sensing",
                "fa fb fc fe ff",
                "fa | fb | fc | fe | ff",
            ),
            ("a message cut short", "90 3c b0 40 7f", "b0 40 7f"),
        ];
        for (what, bytes, messages) in cases {
            let told: Vec<Vec<u8>> = messages.split('|').map(hex).collect();
            assert_eq!(parse(&hex(bytes)), told, "{what}");
        }
    }

    #[test]
    fn what_belongs_to_no_message_is_stray() {
        // Marked by a point behind the byte.
        for line in [
            "90 3c 40 3c 00",
            "3c. 40. 90 3c 40",
            "f0 7e f8 7f f7 01. f7.",
            "f4. f5. f9. fd. f6 f8 fe",
            "90 3c b0. 40 7f",
            "90 3c f8 40",
            "e3 83. f8 e3. 01 02 83",
            "f2 10 02 05.",
            "f0 7e 90 3c 40",
        ] {
            let mut parser = ByteParser::default();
            let told: Vec<String> = hex(&line.replace('.', ""))
                .into_iter()
                .map(|byte| {
                    let mark = if parser.is_stray(byte) { "." } else { "" };
                    parser.push(byte);
                    format!("{byte:02x}{mark}")
                })
                .collect();
            assert_eq!(told.join(" "), line);
        }
    }

    #[test]
    fn one_message_is_one_message() {
        for (bytes, whole) in [
            ("90 3c 40", true),
            ("f8", true),
            ("90 3c", false),
            ("90 3c 40 3c 00", false),
            ("3c 40", false),
            ("f8 f8", false),
            ("", false),
        ] {
            let message = MidiMessage::from_bytes(&hex(bytes));
            assert_eq!(message.is_some(), whole, "{bytes}");
        }
    }

    proptest! {
        #[test]
        fn real_time_bytes_anywhere_change_nothing_else(
            bytes in prop::collection::vec(any::<u8>(), 0..100),
            clocks in prop::collection::vec((0usize..101, prop::sample::select(vec![0xf8u8, 0xfe])), 0..40),
        ) {
            let real_time = |message: &Vec<u8>| message[0] >= 0xf8;
            let mut mixed = bytes.clone();
            for (at, clock) in &clocks {
                mixed.insert((*at).min(mixed.len()), *clock);
            }
            let (before, after) = (parse(&bytes), parse(&mixed));
            prop_assert_eq!(after.len(), before.len() + clocks.len());
            let others = |messages: Vec<Vec<u8>>| -> Vec<Vec<u8>> {
                messages.into_iter().filter(|message| !real_time(message)).collect()
            };
            prop_assert_eq!(others(before), others(after));
        }

        #[test]
        fn no_tick_is_lost_or_invented(bytes in prop::collection::vec(
            prop_oneof![3 => any::<u8>(), 1 => Just(0xf8u8), 1 => Just(0xf0u8), 1 => Just(0xf7u8)], 0..300,
        )) {
            let ticks = parse(&bytes).iter().filter(|message| **message == [0xf8]).count();
            prop_assert_eq!(ticks, bytes.iter().filter(|byte| **byte == 0xf8).count());
        }

        #[test]
        fn every_message_is_whole(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            for message in parse(&bytes) {
                prop_assert!(MidiMessage::from_bytes(&message).is_some());
            }
        }
    }
}
