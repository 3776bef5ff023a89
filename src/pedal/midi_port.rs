//! MIDI ports of the ALSA sequencer, found by name.
//!
//! A port is found by a part of its name, for the numbers change. Nobody tells that a port is gone: the list of ports is
//! looked through twice a second. The driver's callback only puts the message into a queue and wakes our thread.

// An adapter: it has a thread and opens devices.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::DeviceState;
use super::sensing::{CUT, Sensing};
use super::source::{Arrivals, Clock, SourceThread, monotonic};
use super::urgent::hurry_if_allowed;
use crate::midi::MidiMessage;
use crate::time::Frame;
use midir::{Ignore, MidiIO, MidiInput, MidiInputConnection};
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// From one look at the ports to the next.
pub const LOOK_EVERY: Duration = Duration::from_millis(500);
/// Messages that may wait.
const QUEUE: usize = 256;
/// The name under which we are seen.
pub const CLIENT: &str = "underfoot";

/// Who hears a port; all calls come from the port's thread.
pub trait Ears {
    /// A message, and the frame on which it was sent as far as that is known.
    fn message(&mut self, message: &MidiMessage, at: Frame);

    /// The port is gone: what it held is let go.
    fn lost(&mut self) {}

    /// The state changed; with the reason where it is not present.
    fn state(&mut self, state: DeviceState, reason: Option<String>);
}

/// Listens to the port whose name contains `name`, on a thread of its own called `thread`, until that is dropped.
/// Messages for which there was no room are counted in `lost`.
///
/// # Errors
/// When the system gives no thread.
pub fn listen(
    thread: &str,
    name: String,
    clock: Clock,
    lost: Arc<AtomicU64>,
    ears: impl Ears + Send + 'static,
) -> io::Result<SourceThread> {
    let mut port = Port {
        name,
        ears,
        clock,
        open: None,
        lost,
    };
    SourceThread::start(thread, move |stop| port.run(stop))
}

/// A message on its way from the driver's thread.
struct Came {
    stamp_us: u64,
    arrival_us: u64,
    message: MidiMessage,
}

struct Open {
    /// Dropped to close.
    _connection: MidiInputConnection<()>,
    id: String,
    queue: rtrb::Consumer<Came>,
    arrivals: Arrivals,
    sensing: Sensing,
    /// Its cable was out: what comes next says that it is back.
    is_cut: bool,
}

struct Port<E> {
    name: String,
    ears: E,
    clock: Clock,
    open: Option<Open>,
    lost: Arc<AtomicU64>,
}

impl<E: Ears> Port<E> {
    fn run(&mut self, stop: &AtomicBool) {
        let mut watch = None;
        let mut look_at = Instant::now();
        while !stop.load(Ordering::Relaxed) {
            if Instant::now() >= look_at {
                self.look(&mut watch);
                look_at = Instant::now() + LOOK_EVERY;
            }
            self.take();
            self.sense();
            let look = look_at.saturating_duration_since(Instant::now());
            let sense = self.open.as_ref().and_then(|open| open.sensing.look_at());
            let sense = sense.map_or(look, |at| at.saturating_sub(monotonic()));
            std::thread::park_timeout(look.min(sense));
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
        let found = named(input, &self.name);
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
                        self.ears.state(DeviceState::Present, None);
                    }
                    Err(error) => {
                        let reason = format!("{name}: {error}");
                        self.ears.state(DeviceState::Retrying, Some(reason));
                    }
                }
            }
            (None, Some(_)) => self.lose(DeviceState::Retrying, "the port is gone"),
            (None, None) => {
                let reason = format!("no MIDI port is named \"{}\"", self.name);
                self.ears.state(DeviceState::Absent, Some(reason));
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
        let lost = Arc::clone(&self.lost);
        let thread = std::thread::current();
        let mut is_new = true;
        let take = move |stamp_us: u64, bytes: &[u8], (): &mut ()| {
            // The driver's thread is its own; this is where we meet it.
            if std::mem::take(&mut is_new) {
                hurry_if_allowed();
            }
            let Some(message) = MidiMessage::from_bytes(bytes) else {
                return;
            };
            let came = Came {
                stamp_us,
                arrival_us: monotonic().as_micros() as u64,
                message,
            };
            if to.push(came).is_err() {
                lost.fetch_add(1, Ordering::Relaxed);
            }
            thread.unpark();
        };
        let connection = input
            .connect(&port, "in", take, ())
            .map_err(|error| error.to_string())?;
        Ok(Open {
            _connection: connection,
            id: id.to_string(),
            queue,
            arrivals: Arrivals::default(),
            sensing: Sensing::default(),
            is_cut: false,
        })
    }

    fn take(&mut self) {
        let Some(open) = &mut self.open else { return };
        while let Ok(came) = open.queue.pop() {
            let waited = open.arrivals.age(came.stamp_us, came.arrival_us);
            // What it waited since it arrived is known exactly.
            let arrival = Duration::from_micros(came.arrival_us);
            let since = monotonic().saturating_sub(arrival);
            open.sensing.heard(arrival, came.message.bytes());
            if std::mem::take(&mut open.is_cut) {
                self.ears.state(DeviceState::Present, None);
            }
            let at = self.clock.ago(waited + since);
            self.ears.message(&came.message, at);
        }
    }

    /// The port of an interface stays when the cable at its other end goes.
    fn sense(&mut self) {
        let Some(open) = &mut self.open else { return };
        if open.sensing.is_cut(monotonic()) {
            open.is_cut = true;
            self.ears.lost();
            self.ears
                .state(DeviceState::Retrying, Some(CUT.to_string()));
        }
    }

    fn lose(&mut self, state: DeviceState, reason: &str) {
        self.open = None;
        self.ears.lost();
        self.ears.state(state, Some(reason.to_string()));
    }
}

/// Whether there is a sequencer. The library writes to standard error each time there is none, so the device is tried
/// first.
///
/// # Errors
/// With the reason when there is none.
pub fn is_there() -> Result<(), String> {
    const DEVICE: &str = "/dev/snd/seq";
    std::fs::File::options()
        .read(true)
        .write(true)
        .open(DEVICE)
        .map_err(|error| format!("no ALSA sequencer: {DEVICE}: {error}"))?;
    Ok(())
}

/// A client of the sequencer that listens.
fn client() -> Result<MidiInput, String> {
    is_there()?;
    MidiInput::new(CLIENT).map_err(|error| format!("no ALSA sequencer: {error}"))
}

/// The first port, by name, whose name contains `part`: name without numbers, and id.
pub fn named<I: MidiIO>(io: &I, part: &str) -> Option<(String, String)>
where
    I::Port: Identified,
{
    ports(io).into_iter().find(|(name, _)| name.contains(part))
}

/// A port that tells its id.
pub trait Identified {
    /// "client:port".
    fn id(&self) -> String;
}

impl Identified for midir::MidiInputPort {
    fn id(&self) -> String {
        midir::MidiInputPort::id(self)
    }
}

impl Identified for midir::MidiOutputPort {
    fn id(&self) -> String {
        midir::MidiOutputPort::id(self)
    }
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

/// The ports one can listen or send to, ours left out: name without numbers, and id. In the order of the names.
fn ports<I: MidiIO>(io: &I) -> Vec<(String, String)>
where
    I::Port: Identified,
{
    let mut ports: Vec<(String, String)> = io
        .ports()
        .iter()
        .filter_map(|port| {
            let name = io.port_name(port).ok()?;
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
