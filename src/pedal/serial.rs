//! A foot board on a serial line.
//!
//! Two ways to speak are understood. Our own, for a micro-controller: two kinds of line, `down N` and `up N`,
//! N a switch from 1 to 8, each ended by a line feed (a carriage return before it may stand there). Or raw MIDI
//! bytes, usually at 31,250 baud. What is neither is passed over.
//!
//! A line that is gone is let go at once (else the kernel gives the device another name when it comes back).

// An adapter: it has a thread, sleeps between its attempts, and opens a device.
#![allow(clippy::disallowed_methods)]

use super::midi::MidiEdges;
use super::reporter::Reporter;
use super::sensing::{CUT, Sensing};
pub use super::settings::{Protocol, SerialSettings};
use super::source::{Device, Unusable};
use super::stamps::monotonic;
use super::{DeviceState, SWITCHES};
use crate::midi::ByteParser;
use std::io::{self, Read};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How long a read waits before it looks whether it is to end.
const READ_TIMEOUT: Duration = Duration::from_millis(50);
/// The longest line of our protocol that makes sense, in bytes.
const LONGEST_LINE: usize = 16;

/// Reads our lines from bytes.
#[derive(Debug, Clone, Default)]
pub struct LineParser {
    line: Vec<u8>,
    too_long: bool,
}

impl LineParser {
    /// Takes a byte; gives the switch and its level at the end of a line that says so.
    pub fn push(&mut self, byte: u8) -> Option<(u8, bool)> {
        if byte != b'\n' {
            if self.line.len() < LONGEST_LINE {
                self.line.push(byte);
            } else {
                self.too_long = true;
            }
            return None;
        }
        let read = if self.too_long {
            None
        } else {
            read_line(&self.line)
        };
        self.line.clear();
        self.too_long = false;
        read
    }
}

fn read_line(line: &[u8]) -> Option<(u8, bool)> {
    let text = std::str::from_utf8(line).ok()?.trim();
    let (word, switch) = text.split_once(' ')?;
    let down = match word {
        "down" => true,
        "up" => false,
        _ => return None,
    };
    let [digit] = switch.as_bytes() else {
        return None;
    };
    let switch = digit.checked_sub(b'0')?;
    (1..=SWITCHES as u8)
        .contains(&switch)
        .then_some((switch, down))
}

/// Bytes to edges, whatever the board speaks.
enum Decoder {
    Lines(LineParser),
    Midi(ByteParser, MidiEdges, Sensing),
}

/// A line that is open.
pub struct SerialLine {
    port: Box<dyn serialport::SerialPort>,
    decoder: Decoder,
}

impl Device for SerialSettings {
    type Open = SerialLine;

    fn open(&mut self) -> Result<SerialLine, Unusable> {
        Ok(SerialLine {
            port: open(self)?,
            decoder: match &self.protocol {
                Protocol::Board => Decoder::Lines(LineParser::default()),
                Protocol::Midi(controls) => {
                    let edges = MidiEdges::new(controls);
                    Decoder::Midi(ByteParser::default(), edges, Sensing::default())
                }
            },
        })
    }

    fn work(
        &mut self,
        line: &mut SerialLine,
        reporter: &mut Reporter,
        stop: &AtomicBool,
    ) -> Result<(), String> {
        let mut buffer = [0; 256];
        while !stop.load(Ordering::Relaxed) {
            let read = line.port.read(&mut buffer);
            match read.map_err(|error| (error.kind(), error)) {
                // The end of a device file: it is gone. Reading again would give the same for ever.
                Ok(0) => return Err(io::Error::from(io::ErrorKind::UnexpectedEof).to_string()),
                Ok(count) => take(&mut line.decoder, &buffer[..count], self.baud, reporter),
                Err((io::ErrorKind::TimedOut, _)) => sense(&mut line.decoder, reporter),
                Err((io::ErrorKind::Interrupted, _)) => {}
                Err((_, error)) => return Err(error.to_string()),
            }
        }
        Ok(())
    }
}

/// No byte came: is the cable gone?
fn sense(decoder: &mut Decoder, reporter: &mut Reporter) {
    if let Decoder::Midi(_, _, sensing) = decoder
        && sensing.is_cut(monotonic())
    {
        reporter.lose(CUT);
    }
}

/// The last byte came now, those before it a byte's time earlier each.
fn take(decoder: &mut Decoder, bytes: &[u8], baud: u32, reporter: &mut Reporter) {
    let heard = Instant::now();
    reporter.tell(DeviceState::Present, None);
    if let Decoder::Midi(_, _, sensing) = decoder {
        sensing.heard(monotonic(), bytes);
    }
    // Ten bits each.
    let byte_s = 10.0 / f64::from(baud.max(1));
    for (index, byte) in bytes.iter().enumerate() {
        let after_s = (bytes.len() - 1 - index) as f64 * byte_s;
        let at = reporter.ago(heard.elapsed() + Duration::from_secs_f64(after_s));
        match decoder {
            Decoder::Lines(parser) => {
                if let Some((switch, down)) = parser.push(*byte) {
                    reporter.set(switch, down, at);
                }
            }
            Decoder::Midi(parser, edges, _) => {
                if let Some(message) = parser.push(*byte) {
                    reporter.midi(&message, edges, at);
                }
            }
        }
    }
}

fn open(settings: &SerialSettings) -> Result<Box<dyn serialport::SerialPort>, Unusable> {
    if !std::path::Path::new(&settings.path).exists() {
        return Err(format!("{} is not there", settings.path).into());
    }
    let refused = |error: serialport::Error| {
        let reason = format!(
            "{} cannot be opened: {error} (is it held by a login console, getty, or by ModemManager?)",
            settings.path
        );
        Unusable(DeviceState::Retrying, reason)
    };
    let port = serialport::new(&settings.path, settings.baud)
        .timeout(READ_TIMEOUT)
        .open()
        .map_err(refused)?;
    let real = port.baud_rate().map_err(refused)?;
    if real.abs_diff(settings.baud) * 100 > settings.baud {
        let reason = format!(
            "{} runs at {real} baud, not at {} as asked (more than 1 % off)",
            settings.path, settings.baud
        );
        return Err(Unusable(DeviceState::Retrying, reason));
    }
    // What lay there before the settings took hold is garbled.
    port.clear(serialport::ClearBuffer::Input)
        .map_err(refused)?;
    Ok(port)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lines(bytes: &[u8]) -> String {
        let mut parser = LineParser::default();
        let told = bytes.iter().filter_map(|byte| parser.push(*byte));
        let told = told.map(|(switch, down)| format!("{switch}{}", if down { 'v' } else { '^' }));
        told.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn lines_of_the_board_are_read_and_garbage_is_passed_over() {
        let cases: [(&[u8], &str); 9] = [
            (b"down 1\nup 1\n", "1v 1^"),
            (b"down 8\r\nup 8\r\n", "8v 8^"),
            (b"\n\n \r\n", ""),
            (b"down 0\ndown 9\ndown 12\ndown\n", ""),
            (b"Down 1\npress 1\ndown  1\n", ""),
            (b"wn 1\ndown 2\n", "2v"),
            (b"\xff\xfe\x00\ndown 2\n", "2v"),
            (b"down 1 and a lot more than a line may have\nup 1\n", "1^"),
            (b"down 1", ""),
        ];
        for (bytes, told) in cases {
            assert_eq!(lines(bytes), told);
        }
    }

    proptest! {
        #[test]
        fn any_bytes_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            let mut bytes = bytes;
            bytes.extend(b"\ndown 3\n");
            prop_assert!(lines(&bytes).ends_with("3v"));
        }
    }
}
