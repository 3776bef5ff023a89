//! A foot board on a serial line.
//!
//! Two ways to speak are understood. Our own, for a micro-controller: two kinds of line, `down N` and `up N`,
//! N a switch from 1 to 8, each ended by a line feed (a carriage return before it may stand there). Or raw MIDI
//! bytes, usually at 31,250 baud. What is neither is passed over and counted.
//!
//! A line that is gone is let go at once (else the kernel gives the device another name when it comes back),
//! what was down goes up, and it is tried again, more and more slowly, up to every two seconds.

// An adapter: it has a thread, sleeps between its attempts, and opens a device.
#![allow(clippy::disallowed_methods)]

use super::midi::{Control, MidiEdges};
use super::sensing::{CUT, Sensing};
use super::source::{Clock, monotonic};
use super::urgent::hurry_if_allowed;
use super::{DeviceState, Edge, SWITCHES};
use crate::clock::ClockMessage;
use crate::midi::ByteParser;
use crate::time::Frame;
use std::io::{self, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long a read waits before it looks whether it is to end.
const READ_TIMEOUT: Duration = Duration::from_millis(50);
/// The first and the longest pause between attempts.
const PAUSES: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(2));
/// The longest line of our protocol that makes sense, in bytes.
const LONGEST_LINE: usize = 16;

/// How the board speaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Protocol {
    /// Lines `down N` and `up N`.
    Board,
    /// Raw MIDI; the controls of the switches.
    Midi(Vec<(u8, Control)>),
}

/// Which line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SerialSettings {
    /// The device: name it by `/dev/serial/by-id/...`, which survives unplugging.
    pub path: String,
    /// Its rate: for MIDI 31,250, or what the board's overlay asks for (38,400 with `midi-uart0`).
    pub baud: u32,
    /// How it speaks.
    pub protocol: Protocol,
}

/// What the line tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SerialEvent {
    /// A switch moved.
    Edge(Edge),
    /// A message of a MIDI clock came.
    Clock(Frame, ClockMessage),
    /// The state changed; with the reason where it is not present.
    State(DeviceState, Option<String>),
}

/// Reads our lines from bytes.
#[derive(Debug, Clone, Default)]
pub struct LineParser {
    line: Vec<u8>,
    too_long: bool,
    garbage: u64,
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
        let blank = self.line.iter().all(u8::is_ascii_whitespace);
        self.garbage += u64::from(read.is_none() && !blank);
        self.line.clear();
        self.too_long = false;
        read
    }

    /// Lines that said nothing that is understood.
    pub fn garbage(&self) -> u64 {
        self.garbage
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
#[derive(Debug)]
enum Decoder {
    Lines(LineParser, [bool; SWITCHES]),
    Midi(ByteParser, MidiEdges),
}

impl Decoder {
    fn new(protocol: &Protocol) -> Decoder {
        match protocol {
            Protocol::Board => Decoder::Lines(LineParser::default(), [false; SWITCHES]),
            Protocol::Midi(controls) => {
                Decoder::Midi(ByteParser::default(), MidiEdges::new(controls))
            }
        }
    }

    fn push(&mut self, byte: u8, at: Frame, give: &mut dyn FnMut(SerialEvent)) {
        match self {
            Decoder::Lines(parser, levels) => {
                if let Some((switch, down)) = parser.push(byte) {
                    levels[usize::from(switch) - 1] = down;
                    give(SerialEvent::Edge(Edge { switch, down, at }));
                }
            }
            Decoder::Midi(parser, edges) => {
                let Some(message) = parser.push(byte) else {
                    return;
                };
                match ClockMessage::from_bytes(message.bytes()) {
                    Some(message) => give(SerialEvent::Clock(at, message)),
                    None => edges
                        .message(&message, at)
                        .into_iter()
                        .for_each(|edge| give(SerialEvent::Edge(edge))),
                }
            }
        }
    }

    fn release_all(&mut self, at: Frame, give: &mut dyn FnMut(Edge)) {
        match self {
            Decoder::Lines(_, levels) => {
                for (level, switch) in levels.iter_mut().zip(1u8..) {
                    if std::mem::take(level) {
                        let down = false;
                        give(Edge { switch, down, at });
                    }
                }
            }
            Decoder::Midi(_, edges) => edges.release_all(at).into_iter().for_each(give),
        }
    }

    fn garbage(&self) -> u64 {
        match self {
            Decoder::Lines(parser, _) => parser.garbage(),
            Decoder::Midi(parser, _) => parser.ignored(),
        }
    }
}

/// Where events go; called on the line's thread.
pub type Sink = Box<dyn FnMut(SerialEvent) + Send>;

/// A foot board on its own thread, until dropped.
#[derive(Debug)]
pub struct SerialPedal {
    stop: Arc<AtomicBool>,
    garbage: Arc<AtomicU64>,
    thread: Option<JoinHandle<()>>,
}

impl SerialPedal {
    /// Starts listening.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(settings: SerialSettings, clock: Clock, sink: Sink) -> io::Result<SerialPedal> {
        let stop = Arc::new(AtomicBool::new(false));
        let garbage = Arc::new(AtomicU64::new(0));
        let mut worker = Worker {
            decoder: Decoder::new(&settings.protocol),
            settings,
            clock,
            sink,
            stop: Arc::clone(&stop),
            garbage: Arc::clone(&garbage),
            told: None,
            last: Frame(0),
            heard: Instant::now(),
            sensing: Sensing::default(),
        };
        let thread = std::thread::Builder::new()
            .name("foot board".to_string())
            .spawn(move || {
                hurry_if_allowed();
                worker.run();
            })?;
        Ok(SerialPedal {
            stop,
            garbage,
            thread: Some(thread),
        })
    }

    /// Lines or bytes that said nothing that is understood.
    pub fn garbage(&self) -> u64 {
        self.garbage.load(Ordering::Relaxed)
    }
}

impl Drop for SerialPedal {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A panic of that thread is not ours to repeat.
            let _ = thread.join();
        }
    }
}

struct Worker {
    settings: SerialSettings,
    decoder: Decoder,
    clock: Clock,
    sink: Sink,
    stop: Arc<AtomicBool>,
    garbage: Arc<AtomicU64>,
    told: Option<(DeviceState, Option<String>)>,
    last: Frame,
    /// When the last byte came.
    heard: Instant,
    /// Whether its silence means something.
    sensing: Sensing,
}

impl Worker {
    fn run(&mut self) {
        let mut pause = PAUSES.0;
        while !self.stopped() {
            match open(&self.settings) {
                Ok(mut port) => {
                    pause = PAUSES.0;
                    self.tell(DeviceState::Present, None);
                    let lost = self.listen(&mut port);
                    drop(port);
                    let Some(error) = lost else {
                        return;
                    };
                    self.sensing = Sensing::default();
                    self.let_go();
                    self.tell(DeviceState::Retrying, Some(error.to_string()));
                }
                Err((state, reason)) => self.tell(state, Some(reason)),
            }
            self.wait(pause);
            pause = (pause * 2).min(PAUSES.1);
        }
    }

    /// Reads until the line is lost (the reason) or all is to end (`None`).
    fn listen(&mut self, port: &mut dyn Read) -> Option<io::Error> {
        let mut buffer = [0; 256];
        while !self.stopped() {
            match port.read(&mut buffer) {
                // The end of a device file: it is gone. Reading again would give the same for ever.
                Ok(0) => return Some(io::ErrorKind::UnexpectedEof.into()),
                Ok(count) => self.take(&buffer[..count]),
                Err(error) if error.kind() == io::ErrorKind::TimedOut => self.sense(),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Some(error),
            }
        }
        None
    }

    /// No byte came: is the cable gone?
    fn sense(&mut self) {
        if self.sensing.is_cut(monotonic()) {
            self.let_go();
            self.tell(DeviceState::Retrying, Some(CUT.to_string()));
        }
    }

    /// The last byte came now, those before it a byte's time earlier each.
    fn take(&mut self, bytes: &[u8]) {
        self.heard = Instant::now();
        self.tell(DeviceState::Present, None);
        if matches!(self.decoder, Decoder::Midi(..)) {
            self.sensing.heard(monotonic(), bytes);
        }
        // Ten bits each.
        let byte_s = 10.0 / f64::from(self.settings.baud.max(1));
        for (index, byte) in bytes.iter().enumerate() {
            let after_s = (bytes.len() - 1 - index) as f64 * byte_s;
            let age = self.heard.elapsed() + Duration::from_secs_f64(after_s);
            let at = self.clock.ago(age).max(self.last);
            self.last = at;
            let sink = &mut self.sink;
            self.decoder.push(*byte, at, &mut *sink);
        }
        self.garbage
            .store(self.decoder.garbage(), Ordering::Relaxed);
    }

    fn let_go(&mut self) {
        let at = self.clock.now().max(self.last);
        let sink = &mut self.sink;
        self.decoder
            .release_all(at, &mut |edge| sink(SerialEvent::Edge(edge)));
    }

    /// Tells a state once, not at each attempt.
    fn tell(&mut self, state: DeviceState, reason: Option<String>) {
        let now = Some((state, reason.clone()));
        if self.told != now {
            self.told = now;
            (self.sink)(SerialEvent::State(state, reason));
        }
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn wait(&self, pause: Duration) {
        let mut left = pause;
        while !left.is_zero() && !self.stopped() {
            let slice = left.min(READ_TIMEOUT);
            std::thread::sleep(slice);
            left -= slice;
        }
    }
}

fn open(
    settings: &SerialSettings,
) -> Result<Box<dyn serialport::SerialPort>, (DeviceState, String)> {
    if !std::path::Path::new(&settings.path).exists() {
        let reason = format!("{} is not there", settings.path);
        return Err((DeviceState::Absent, reason));
    }
    let refused = |error: serialport::Error| {
        let reason = format!(
            "{} cannot be opened: {error} (is it held by a login console, getty, or by ModemManager?)",
            settings.path
        );
        (DeviceState::Retrying, reason)
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
        return Err((DeviceState::Retrying, reason));
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

    fn lines(bytes: &[u8]) -> (String, u64) {
        let mut parser = LineParser::default();
        let told = bytes.iter().filter_map(|byte| parser.push(*byte));
        let told = told.map(|(switch, down)| format!("{switch}{}", if down { 'v' } else { '^' }));
        (told.collect::<Vec<_>>().join(" "), parser.garbage())
    }

    #[test]
    fn lines_of_the_board_are_read_and_garbage_is_counted() {
        let cases: [(&[u8], &str, u64); 9] = [
            (b"down 1\nup 1\n", "1v 1^", 0),
            (b"down 8\r\nup 8\r\n", "8v 8^", 0),
            (b"\n\n \r\n", "", 0),
            (b"down 0\ndown 9\ndown 12\ndown\n", "", 4),
            (b"Down 1\npress 1\ndown  1\n", "", 3),
            (b"wn 1\ndown 2\n", "2v", 1),
            (b"\xff\xfe\x00\ndown 2\n", "2v", 1),
            (
                b"down 1 and a lot more than a line may have\nup 1\n",
                "1^",
                1,
            ),
            (b"down 1", "", 0),
        ];
        for (bytes, told, garbage) in cases {
            assert_eq!(lines(bytes), (told.to_string(), garbage));
        }
    }

    proptest! {
        #[test]
        fn any_bytes_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            let mut bytes = bytes;
            bytes.extend(b"\ndown 3\n");
            prop_assert!(lines(&bytes).0.ends_with("3v"));
        }
    }
}
