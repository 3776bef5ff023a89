//! A MIDI port of the ALSA sequencer that is listened to: a foot board, or a clock.
//!
//! The driver's callback only puts the message into a queue and wakes our thread.

// An adapter: it has a thread and opens devices.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::DeviceState;
use super::midi::{Control, MidiEdges};
use super::reporter::Reporter;
use super::sensing::{CUT, Sensing};
use super::source::{Device, Unusable};
use super::stamps::{Arrivals, monotonic};
use super::urgent::hurry_if_allowed;
use crate::device::midi_ports::{LOOK_EVERY, WENT_AGAIN, WantedPort, input};
use crate::midi::MidiMessage;
use midir::{Ignore, MidiInput, MidiInputConnection};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Messages that may wait.
const QUEUE: usize = 256;

/// A port, found by a part of its name as `aconnect -l` shows it, "client:port" without numbers.
pub struct MidiPort {
    wanted: WantedPort<MidiInput>,
    switches: MidiEdges,
    lost: Arc<AtomicU64>,
}

impl MidiPort {
    /// The port, and what works which switch; for a clock nothing does. Messages for which there was no room are counted
    /// in `lost`.
    pub fn new(name: &str, controls: &[(u8, Control)], lost: Arc<AtomicU64>) -> MidiPort {
        MidiPort {
            wanted: WantedPort::new(name, input),
            switches: MidiEdges::new(controls),
            lost,
        }
    }
}

/// A message on its way from the driver's thread.
struct Came {
    stamp_us: u64,
    arrival_us: u64,
    message: MidiMessage,
}

/// A port that is connected.
pub struct Open {
    _connection: MidiInputConnection<()>,
    id: String,
    queue: rtrb::Consumer<Came>,
    arrivals: Arrivals,
    sensing: Sensing,
}

impl Device for MidiPort {
    type Open = Open;

    fn open(&mut self) -> Result<Open, Unusable> {
        let (name, id) = self.wanted.find()?;
        connect(id, Arc::clone(&self.lost))
            .map_err(|error| Unusable(DeviceState::Retrying, format!("{name}: {error}")))
    }

    fn work(
        &mut self,
        open: &mut Open,
        reporter: &mut Reporter,
        stop: &AtomicBool,
    ) -> Result<(), String> {
        let mut look_at = Instant::now() + LOOK_EVERY;
        while !stop.load(Ordering::Relaxed) {
            if Instant::now() >= look_at {
                self.wanted.still(&open.id)?;
                look_at = Instant::now() + LOOK_EVERY;
            }
            while let Ok(came) = open.queue.pop() {
                let waited = open.arrivals.age(came.stamp_us, came.arrival_us);
                // What it waited since it arrived is known exactly.
                let arrival = Duration::from_micros(came.arrival_us);
                let since = monotonic().saturating_sub(arrival);
                open.sensing.heard(arrival, came.message.bytes());
                // Its cable may have been out.
                reporter.tell(DeviceState::Present, None);
                let at = reporter.ago(waited + since);
                reporter.midi(&came.message, &self.switches, at);
            }
            // The port of an interface stays when the cable at its other end goes.
            if open.sensing.is_cut(monotonic()) {
                reporter.lose(CUT);
            }
            let look = look_at.saturating_duration_since(Instant::now());
            let sense = open.sensing.look_at();
            let sense = sense.map_or(look, |at| at.saturating_sub(monotonic()));
            std::thread::park_timeout(look.min(sense));
        }
        Ok(())
    }
}

fn connect(id: String, lost: Arc<AtomicU64>) -> Result<Open, String> {
    let mut input = input()?;
    // Clock and sensing are not ignored by default; said outright, because folklore says otherwise.
    input.ignore(Ignore::None);
    let port = input.find_port_by_id(&id).ok_or(WENT_AGAIN)?;
    let (mut to, queue) = rtrb::RingBuffer::new(QUEUE);
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
        id,
        queue,
        arrivals: Arrivals::default(),
        sensing: Sensing::default(),
    })
}
