//! MIDI foot boards through the ALSA sequencer.
//!
//! A port is found by a part of its name, for the numbers change. Nobody tells that a port is gone: the list of ports is
//! looked through twice a second. The driver's callback only puts the message into a queue and wakes our thread.

// An adapter: it has a thread and opens devices.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::DeviceState;
use super::midi::{Control, MidiEdges};
use super::source::{Arrivals, Levels, SourceThread};
use crate::midi::MidiMessage;
use crate::time::Frame;
use midir::{Ignore, MidiInput, MidiInputConnection};
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// From one look at the ports to the next.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// Messages that may wait.
const QUEUE: usize = 256;
/// The name under which we are seen.
const CLIENT: &str = "underfoot";

/// Which port, and what works which switch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MidiPortSettings {
    /// A part of the port's name as `aconnect -l` shows it, "client:port" without numbers.
    pub name: String,
    /// The controls.
    pub controls: Vec<(u8, Control)>,
}

/// A message on its way from the driver's thread.
struct Came {
    stamp_us: u64,
    arrival_us: u64,
    arrival: Frame,
    message: MidiMessage,
}

/// Listens on a thread of its own, until that is dropped. `clock` is that of `levels`.
///
/// # Errors
/// When the system gives no thread.
pub fn start(
    settings: MidiPortSettings,
    levels: Levels,
    clock: super::source::Clock,
) -> io::Result<SourceThread> {
    SourceThread::start("midi board", move |stop| {
        Board {
            edges: MidiEdges::new(&settings.controls),
            settings,
            levels,
            clock,
            open: None,
            lost: Arc::new(AtomicU64::new(0)),
        }
        .run(stop);
    })
}

struct Open {
    /// Dropped to close.
    _connection: MidiInputConnection<()>,
    id: String,
    queue: rtrb::Consumer<Came>,
    arrivals: Arrivals,
}

struct Board {
    settings: MidiPortSettings,
    edges: MidiEdges,
    levels: Levels,
    clock: super::source::Clock,
    open: Option<Open>,
    /// Messages for which there was no room.
    lost: Arc<AtomicU64>,
}

impl Board {
    fn run(&mut self, stop: &AtomicBool) {
        let mut watch = None;
        let mut look_at = Instant::now();
        while !stop.load(Ordering::Relaxed) {
            if Instant::now() >= look_at {
                self.look(&mut watch);
                look_at = Instant::now() + LOOK_EVERY;
            }
            self.take();
            std::thread::park_timeout(look_at.saturating_duration_since(Instant::now()));
        }
    }

    /// Is the port still there, or there again?
    fn look(&mut self, watch: &mut Option<MidiInput>) {
        if watch.is_none() {
            match client() {
                Ok(input) => *watch = Some(input),
                Err(reason) => {
                    self.lose(DeviceState::Absent, &reason);
                    return;
                }
            }
        }
        let Some(input) = watch.as_ref() else { return };
        let found = ports(input)
            .into_iter()
            .find(|(name, _)| name.contains(&self.settings.name));
        match (found, &self.open) {
            (Some((_, id)), Some(open)) if open.id == id => {}
            (Some((name, id)), _) => {
                // Gone and back under another number between two looks.
                if self.open.is_some() {
                    self.lose(DeviceState::Retrying, "it was plugged in anew");
                }
                match self.connect(&id) {
                    Ok(open) => {
                        self.open = Some(open);
                        self.levels.tell(DeviceState::Present, None);
                    }
                    Err(error) => {
                        let reason = format!("{name}: {error}");
                        self.levels.tell(DeviceState::Retrying, Some(reason));
                    }
                }
            }
            (None, Some(_)) => self.lose(DeviceState::Retrying, "the port is gone"),
            (None, None) => {
                let reason = format!("no MIDI port is named \"{}\"", self.settings.name);
                self.levels.tell(DeviceState::Absent, Some(reason));
            }
        }
    }

    fn connect(&self, id: &str) -> Result<Open, String> {
        let mut input = client()?;
        // Clock and sensing are not ignored by default; said outright, because folklore says otherwise.
        input.ignore(Ignore::None);
        let port = input
            .find_port_by_id(id)
            .ok_or_else(|| "it went again".to_string())?;
        let (mut to, queue) = rtrb::RingBuffer::new(QUEUE);
        let (clock, lost) = (Arc::clone(&self.clock), Arc::clone(&self.lost));
        let thread = std::thread::current();
        let since = Instant::now();
        let take = move |stamp_us: u64, bytes: &[u8], (): &mut ()| {
            let Some(message) = MidiMessage::from_bytes(bytes) else {
                return;
            };
            let arrival = clock();
            let came = Came {
                stamp_us,
                arrival_us: since.elapsed().as_micros() as u64,
                arrival,
                message,
            };
            if to.push(came).is_err() {
                lost.fetch_add(1, Ordering::Relaxed);
            }
            thread.unpark();
        };
        let connection = input
            .connect(&port, "foot board", take, ())
            .map_err(|error| error.to_string())?;
        Ok(Open {
            _connection: connection,
            id: id.to_string(),
            queue,
            arrivals: Arrivals::default(),
        })
    }

    fn take(&mut self) {
        let rate = self.levels.rate();
        let Some(open) = &mut self.open else { return };
        while let Ok(came) = open.queue.pop() {
            let age = open.arrivals.age(came.stamp_us, came.arrival_us);
            let at = came.arrival.minus_ms(age.as_secs_f64() * 1000.0, rate);
            for edge in self.edges.message(&came.message, at) {
                self.levels.set_at(edge.switch, edge.down, edge.at);
            }
        }
    }

    fn lose(&mut self, state: DeviceState, reason: &str) {
        self.open = None;
        let _ = self.edges.release_all(self.levels.now());
        self.levels.let_go();
        self.levels.tell(state, Some(reason.to_string()));
    }
}

/// A client of the sequencer. The library writes to standard error each time there is none, so the device is tried first.
fn client() -> Result<MidiInput, String> {
    const DEVICE: &str = "/dev/snd/seq";
    std::fs::File::options()
        .read(true)
        .write(true)
        .open(DEVICE)
        .map_err(|error| format!("no ALSA sequencer: {DEVICE}: {error}"))?;
    MidiInput::new(CLIENT).map_err(|error| format!("no ALSA sequencer: {error}"))
}

/// Listens to every port; what comes is told with the port's name. Dropping a connection ends it.
///
/// # Errors
/// When there is no sequencer.
pub fn listen_to_all(
    heard: impl Fn(&str, &[u8]) + Clone + Send + 'static,
) -> Result<Vec<(String, MidiInputConnection<()>)>, String> {
    let watch = client()?;
    let mut all = Vec::new();
    for (name, id) in ports(&watch) {
        let input = client()?;
        let Some(port) = input.find_port_by_id(&id) else {
            continue;
        };
        let (heard, of) = (heard.clone(), name.clone());
        let take = move |_: u64, bytes: &[u8], (): &mut ()| heard(&of, bytes);
        if let Ok(connection) = input.connect(&port, "learn", take, ()) {
            all.push((name, connection));
        }
    }
    Ok(all)
}

/// The ports one can listen to, ours left out: name without numbers, and id. In the order of the names.
fn ports(input: &MidiInput) -> Vec<(String, String)> {
    let mut ports: Vec<(String, String)> = input
        .ports()
        .iter()
        .filter_map(|port| {
            let name = input.port_name(port).ok()?;
            Some((without_numbers(&name).to_string(), port.id()))
        })
        .filter(|(name, _)| !name.starts_with(CLIENT))
        .collect();
    ports.sort();
    ports
}

/// `Foot Board:Foot Board MIDI 1 20:0` without the numbers at its end.
fn without_numbers(name: &str) -> &str {
    match name.rsplit_once(' ') {
        Some((rest, numbers))
            if numbers.contains(':')
                && numbers
                    .bytes()
                    .all(|byte| byte.is_ascii_digit() || byte == b':') =>
        {
            rest
        }
        _ => name,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_s_name_is_what_does_not_change() {
        for (name, told) in [
            (
                "Foot Board:Foot Board MIDI 1 20:0",
                "Foot Board:Foot Board MIDI 1",
            ),
            ("Foot Board:port 1 128:12", "Foot Board:port 1"),
            ("plain", "plain"),
            ("a b:c", "a b:c"),
        ] {
            assert_eq!(without_numbers(name), told);
        }
    }
}
