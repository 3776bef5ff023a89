//! Our clock on a MIDI port of ALSA: each message goes out when what belongs to it leaves the converter.
//!
//! The player gives the messages out a cycle before they sound, through a queue. One thread waits for the time of each;
//! another looks for the port, which may come and go.
//!
//! # Why does a thread poll each millisecond for our clock's port?
//!
//! The callback may not wake anybody. A message is known a
//! cycle before it is due, for the way to the converter is at least that long, so a millisecond loses nothing. The
//! sequencer's own queues would do the same, but midir does not reach them.

use super::now::Now;
use crate::audio::jack::Led;
use crate::clock::{ClockMessage, TICKS_PER_QUARTER};
use crate::device::DeviceState;
use crate::device::midi_ports::{LOOK_EVERY, WantedPort, connect_output, output};
use crate::pedal::reporter::Reporter;
use crate::pedal::source::{Device, SourceThread, Unusable, pause};
use crate::pedal::stamps::monotonic;
use arrayvec::ArrayVec;
use midir::{MidiOutput, MidiOutputConnection};
use rtrb::Consumer;
use std::collections::VecDeque;
use std::io;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::Duration;

/// From one look for messages to the next, and the longest sleep before one: well below a block that anybody plays with.
const SLICE: Duration = Duration::from_millis(1);

/// Ticks to a sixteenth, the unit of Song Position Pointer (MIDI 1.0).
const TICKS_PER_SIXTEENTH: u32 = TICKS_PER_QUARTER as u32 / 4;

/// The port's connection, while there is one.
type SharedPort = Arc<Mutex<Option<MidiOutputConnection>>>;

/// Sends our clock, until dropped.
pub struct Lead {
    players: Sender<Option<Consumer<Led>>>,
    delay_us: Arc<AtomicU64>,
    _sender: SourceThread,
    _port: SourceThread,
}

impl Lead {
    /// Sends to the port whose name contains `name`; `reporter` tells how it is.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(name: &str, now: Arc<Now>, reporter: Reporter) -> io::Result<Lead> {
        let connection = SharedPort::default();
        let is_new = Arc::new(AtomicBool::new(false));
        let (players, received) = channel();
        let delay_us = Arc::new(AtomicU64::new(0));
        let mut sending = Sending {
            players: received,
            player: None,
            now,
            delay_us: Arc::clone(&delay_us),
            waiting: VecDeque::new(),
            song: LedSong::default(),
            connection: Arc::clone(&connection),
            is_new: Arc::clone(&is_new),
        };
        let port = Port {
            wanted: WantedPort::new(name, output),
            connection,
            is_new,
        };
        Ok(Lead {
            players,
            delay_us,
            _sender: SourceThread::start("clock out", move |stop| sending.run(stop))?,
            _port: SourceThread::supervise("clock port", port, reporter)?,
        })
    }

    /// A new player gives out the clock, or none does any more.
    pub fn player(&self, led: Option<Consumer<Led>>) {
        // The thread lives as long as this.
        let _ = self.players.send(led);
    }

    /// How long after the start of its frame a message goes out.
    pub fn set_delay(&self, delay: Duration) {
        let us = delay.as_micros().min(u128::from(u64::MAX)) as u64;
        self.delay_us.store(us, Ordering::Relaxed);
    }
}

/// Where the song is for whoever hears us.
#[derive(Debug, Default)]
struct LedSong {
    /// Start or Continue went out, Stop did not.
    plays: bool,
    /// The next tick, from the song's beginning.
    next: u32,
}

impl LedSong {
    /// What goes out for a message; to who has only come, with a tick that begins a sixteenth, where the song is. Whether
    /// that was told.
    fn told(&mut self, message: ClockMessage, is_new: bool) -> (ArrayVec<ClockMessage, 3>, bool) {
        let mut all = ArrayVec::new();
        let begins = self.next.is_multiple_of(TICKS_PER_SIXTEENTH);
        let joins = is_new && self.plays && begins && message == ClockMessage::Tick;
        if joins {
            let sixteenths = (self.next / TICKS_PER_SIXTEENTH).min(0x3fff) as u16;
            all.extend([ClockMessage::Position(sixteenths), ClockMessage::Continue]);
        }
        all.push(message);
        match message {
            ClockMessage::Start => (self.plays, self.next) = (true, 0),
            ClockMessage::Continue => self.plays = true,
            ClockMessage::Stop => self.plays = false,
            ClockMessage::Position(at) => self.next = u32::from(at) * TICKS_PER_SIXTEENTH,
            ClockMessage::Tick => self.next += u32::from(self.plays),
        }
        // Who is there at Start or Continue, or while nothing plays, knows all that there is to know.
        (all, joins || message != ClockMessage::Tick || !self.plays)
    }
}

struct Sending {
    players: Receiver<Option<Consumer<Led>>>,
    player: Option<Consumer<Led>>,
    now: Arc<Now>,
    delay_us: Arc<AtomicU64>,
    waiting: VecDeque<Led>,
    song: LedSong,
    connection: SharedPort,
    is_new: Arc<AtomicBool>,
}

impl Sending {
    fn run(&mut self, stop: &AtomicBool) {
        while !stop.load(Ordering::Relaxed) {
            while let Ok(player) = self.players.try_recv() {
                // What the one before still had is over, and so is what it played.
                self.end();
                self.player = player;
            }
            while let Some(led) = self.player.as_mut().and_then(|player| player.pop().ok()) {
                self.waiting.push_back(led);
            }
            if !self.send_next() {
                std::thread::sleep(SLICE);
            }
        }
        self.end();
    }

    /// Sends the next message if its time comes within a slice.
    fn send_next(&mut self) -> bool {
        let Some(&(frame, message)) = self.waiting.front() else {
            return false;
        };
        let delay = Duration::from_micros(self.delay_us.load(Ordering::Relaxed));
        let due = self.now.time_of(frame) + delay;
        let wait = due.saturating_sub(monotonic());
        if wait > SLICE {
            return false;
        }
        std::thread::sleep(wait);
        self.waiting.pop_front();
        self.send(message);
        true
    }

    fn end(&mut self) {
        self.waiting.clear();
        if self.song.plays {
            self.send(ClockMessage::Stop);
        }
    }

    fn send(&mut self, message: ClockMessage) {
        let is_new = self.is_new.load(Ordering::Relaxed);
        let (all, is_told) = self.song.told(message, is_new);
        if is_new && is_told {
            self.is_new.store(false, Ordering::Relaxed);
        }
        let mut connection = whole(&self.connection);
        let Some(connection) = connection.as_mut() else {
            return;
        };
        for message in all {
            let (bytes, count) = message.to_bytes();
            if let Err(error) = connection.send(&bytes[..count]) {
                log::debug!("clock port: {error}");
            }
        }
    }
}

struct Port {
    wanted: WantedPort<MidiOutput>,
    connection: SharedPort,
    /// Set when who is connected does not know where the song is.
    is_new: Arc<AtomicBool>,
}

impl Device for Port {
    /// The id of the port that is connected.
    type Open = String;

    fn open(&mut self) -> Result<String, Unusable> {
        let (name, id) = self.wanted.find()?;
        let connection = connect_output(&id, "clock out")
            .map_err(|error| Unusable(DeviceState::Retrying, format!("{name}: {error}")))?;
        *whole(&self.connection) = Some(connection);
        self.is_new.store(true, Ordering::Relaxed);
        Ok(id)
    }

    fn work(&mut self, id: &mut String, _: &mut Reporter, stop: &AtomicBool) -> Result<(), String> {
        while !stop.load(Ordering::Relaxed) {
            pause(LOOK_EVERY, stop);
            if let Err(reason) = self.wanted.still(id) {
                *whole(&self.connection) = None;
                return Err(reason);
            }
        }
        Ok(())
    }
}

/// What is behind the lock is whole after every write.
fn whole(shared: &SharedPort) -> MutexGuard<'_, Option<MidiOutputConnection>> {
    shared.lock().unwrap_or_else(|broken| broken.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_comes_in_the_middle_is_told_where_the_song_is() {
        use ClockMessage::{Continue, Position, Start, Stop, Tick};
        let mut song = LedSong::default();
        let mut told = |message, is_new| {
            let (all, is_told) = song.told(message, is_new);
            (all.to_vec(), is_told)
        };
        // While nothing plays there is nothing to tell.
        assert_eq!(told(Tick, true), (vec![Tick], true));
        assert_eq!(told(Start, true), (vec![Start], true));
        for _ in 0..9 {
            assert_eq!(told(Tick, false), (vec![Tick], false));
        }
        // Ticks 9 to 11 lie inside a sixteenth; with 12 begins the third.
        for _ in 9..12 {
            assert_eq!(told(Tick, true), (vec![Tick], false));
        }
        assert_eq!(told(Tick, true), (vec![Position(2), Continue, Tick], true));
        assert_eq!(told(Stop, false), (vec![Stop], true));
        assert_eq!(told(Position(64), false), (vec![Position(64)], true));
        assert_eq!(told(Continue, false), (vec![Continue], true));
        assert_eq!(told(Tick, true), (vec![Position(64), Continue, Tick], true));
    }
}
