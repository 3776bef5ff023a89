//! A foot board on a serial line: lines of our own (`board_lines`), or raw MIDI bytes, usually at 31,250 baud.
//!
//! What is neither is counted. When nothing but that comes, the line's state says so: its baud rate is wrong, or what is on
//! the other side speaks otherwise.
//!
//! A line that is gone is let go at once (else the kernel gives the device another name when it comes back).

// An adapter: it has a thread, sleeps between its attempts, and opens a device.
#![allow(clippy::disallowed_methods)]

use super::DeviceState;
use super::board_lines::{BoardLine, LineParser, Made, Noise};
use super::midi::MidiEdges;
use super::reporter::Reporter;
use super::sensing::{CUT, Sensing};
pub use super::settings::{Protocol, SerialSettings};
use super::source::{Device, Unusable};
use super::stamps::monotonic;
use crate::midi::ByteParser;
use crate::time::Frame;
use std::io::{self, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// How long a read waits before it looks whether it is to end.
const READ_TIMEOUT: Duration = Duration::from_millis(50);

/// Bytes to edges, whatever the board speaks.
enum Decoder {
    Lines(LineParser),
    Midi(ByteParser, MidiEdges, Sensing),
}

/// A serial line that comes and goes.
pub struct SerialBoard {
    settings: SerialSettings,
    unread: Arc<AtomicU64>,
}

impl SerialBoard {
    /// What came and made no sense is counted in `unread`.
    pub fn new(settings: SerialSettings, unread: Arc<AtomicU64>) -> SerialBoard {
        SerialBoard { settings, unread }
    }

    /// What is to be said where nothing that comes makes sense.
    fn doubt(&self) -> String {
        let what = match self.settings.protocol {
            Protocol::Board => "not \"1 down\" or \"1 up\"",
            Protocol::Midi(_) => "no MIDI",
        };
        format!("what comes is {what}: is it {} baud?", self.settings.baud)
    }
}

/// A line that is open.
pub struct SerialLine {
    port: Box<dyn serialport::SerialPort>,
    decoder: Decoder,
    noise: Noise,
}

impl Device for SerialBoard {
    type Open = SerialLine;

    fn open(&mut self) -> Result<SerialLine, Unusable> {
        Ok(SerialLine {
            port: open(&self.settings)?,
            decoder: match &self.settings.protocol {
                Protocol::Board => Decoder::Lines(LineParser::default()),
                Protocol::Midi(controls) => {
                    let edges = MidiEdges::new(controls);
                    Decoder::Midi(ByteParser::default(), edges, Sensing::default())
                }
            },
            noise: Noise::default(),
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
                Ok(count) => self.take(line, &buffer[..count], reporter),
                Err((io::ErrorKind::TimedOut, _)) => sense(&mut line.decoder, reporter),
                Err((io::ErrorKind::Interrupted, _)) => {}
                Err((_, error)) => return Err(error.to_string()),
            }
        }
        Ok(())
    }
}

impl SerialBoard {
    /// The last byte came now, those before it a byte's time earlier each.
    fn take(&self, line: &mut SerialLine, bytes: &[u8], reporter: &mut Reporter) {
        let heard = Instant::now();
        self.tell(line, reporter);
        if let Decoder::Midi(_, _, sensing) = &mut line.decoder {
            sensing.heard(monotonic(), bytes);
        }
        // Ten bits each.
        let byte_s = 10.0 / f64::from(self.settings.baud.max(1));
        for (index, byte) in bytes.iter().enumerate() {
            let after_s = (bytes.len() - 1 - index) as f64 * byte_s;
            let at = reporter.ago(heard.elapsed() + Duration::from_secs_f64(after_s));
            let Some(made) = line.decoder.push(*byte, at, reporter) else {
                continue;
            };
            line.noise.take(made);
            if made != Made::Sense {
                self.unread.fetch_add(1, Ordering::Relaxed);
            }
        }
        self.tell(line, reporter);
    }

    fn tell(&self, line: &SerialLine, reporter: &mut Reporter) {
        let doubt = line.noise.is_nonsense().then(|| self.doubt());
        reporter.tell(DeviceState::Present, doubt);
    }
}

impl Decoder {
    /// Takes a byte and tells what it completes; gives what that made, if it can be said.
    fn push(&mut self, byte: u8, at: Frame, reporter: &mut Reporter) -> Option<Made> {
        match self {
            Decoder::Lines(parser) => Some(match parser.push(byte)? {
                BoardLine::Edge(switch, down) => {
                    reporter.set(switch, down, at);
                    Made::Sense
                }
                BoardLine::Other => Made::OtherText,
                BoardLine::Garbage => Made::Garbage,
            }),
            Decoder::Midi(parser, edges, _) => {
                let is_stray = parser.is_stray(byte);
                let message = parser.push(byte);
                let is_ours = message.is_some_and(|message| reporter.midi(&message, edges, at));
                // What is not for us may be a message by chance, and so may a byte that is one by itself: only ticks come
                // again and again.
                match is_stray {
                    true => Some(Made::Garbage),
                    false => (is_ours && !matches!(byte, 0xfa..=0xfc)).then_some(Made::Sense),
                }
            }
        }
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
