//! What a master says.

/// A message of MIDI clock (MIDI 1.0: System Real Time messages and Song Position Pointer).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockMessage {
    /// F8: 24 to a quarter note.
    Tick,
    /// FA: from the beginning, with the next tick.
    Start,
    /// FB: from the song position, with the next tick.
    Continue,
    Stop,
    /// F2: where Continue goes on, in sixteenths from the beginning, 0 to 16,383.
    Position(u16),
}

impl ClockMessage {
    /// The message of these bytes, if it is one of a clock.
    pub fn from_bytes(bytes: &[u8]) -> Option<ClockMessage> {
        match *bytes {
            [0xf8] => Some(ClockMessage::Tick),
            [0xfa] => Some(ClockMessage::Start),
            [0xfb] => Some(ClockMessage::Continue),
            [0xfc] => Some(ClockMessage::Stop),
            [0xf2, low, high] if low < 0x80 && high < 0x80 => Some(ClockMessage::Position(
                u16::from(high) << 7 | u16::from(low),
            )),
            _ => None,
        }
    }

    /// Its bytes, and how many of them count.
    pub fn to_bytes(self) -> ([u8; 3], usize) {
        match self {
            ClockMessage::Tick => ([0xf8, 0, 0], 1),
            ClockMessage::Start => ([0xfa, 0, 0], 1),
            ClockMessage::Continue => ([0xfb, 0, 0], 1),
            ClockMessage::Stop => ([0xfc, 0, 0], 1),
            ClockMessage::Position(at) => {
                let at = at.min(0x3fff);
                ([0xf2, (at & 0x7f) as u8, (at >> 7) as u8], 3)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_are_written_and_read_back() {
        // MIDI 1.0 Detailed Specification 4.2: status bytes, and the position's least significant seven bits first.
        let cases: [(ClockMessage, &[u8]); 6] = [
            (ClockMessage::Tick, &[0xf8]),
            (ClockMessage::Start, &[0xfa]),
            (ClockMessage::Continue, &[0xfb]),
            (ClockMessage::Stop, &[0xfc]),
            (ClockMessage::Position(256), &[0xf2, 0, 2]),
            (ClockMessage::Position(16_383), &[0xf2, 0x7f, 0x7f]),
        ];
        for (message, bytes) in cases {
            let (written, count) = message.to_bytes();
            assert_eq!(&written[..count], bytes);
            assert_eq!(ClockMessage::from_bytes(bytes), Some(message));
        }
        for bytes in [
            &[0xfe][..],
            &[0xf2, 1],
            &[0x90, 60, 1],
            &[],
            &[0xf2, 0x80, 0],
        ] {
            assert_eq!(ClockMessage::from_bytes(bytes), None);
        }
    }
}
