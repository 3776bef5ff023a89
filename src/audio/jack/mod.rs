//! The live audio client: JACK, or PipeWire through its JACK library.
//!
//! A server that goes away is a state of the device, not an error of the program. Every call that opens or
//! closes a client may block for ever when the server is stopped rather than dead, and all of them share one
//! lock in the library: so each runs on a thread of its own with a deadline, and a process has one client at
//! a time.
//!
//! # Why is the JACK library's own log off?
//!
//! It writes five lines at each attempt to reach a server that is not there. We tell it
//! once. `UNDERFOOT_LOG=info` shows all.
// Talks to a server: needs threads and clocks.
#![allow(clippy::disallowed_methods)]

mod callback;
mod connect;
mod echo;
mod shared;

pub use connect::Autoconnect;
pub use echo::{Echo, echo};
pub use shared::widen;

use super::{Played, Player, PlayerEnd, SynthError, TapEnd};
use crate::clock::ClockMessage;
use crate::clock::map::ClockPoint;
use crate::time::Frame;
use callback::{Callback, Notifications, Ports, Queues};
use jack::{
    AsyncClient, AudioIn, AudioOut, Client, ClientOptions, ClientStatus, LatencyType, MidiIn,
    MidiOut, PortFlags, PortSpec,
};
use shared::Shared;
use std::sync::Arc;
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::time::{Duration, Instant};

/// How long a call to the server may take.
pub const DEADLINE: Duration = Duration::from_secs(3);
/// A callback that has not run for this long has stalled.
const STALL: Duration = Duration::from_secs(2);
/// Notes and bars that can wait to be asked for.
const PLAYED: usize = 4096;
/// Messages of our clock that can wait: at 300 a minute more than eight seconds.
const LED: usize = 1024;
/// The longest client name: JACK's 64 bytes with the ending zero, less room for a suffix such as "-01".
pub const NAME_BYTES: usize = 60;

/// How to join the server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JackConfig {
    /// The client's name, 1 to [`NAME_BYTES`] bytes without a colon.
    pub name: String,
    /// What to connect to.
    pub autoconnect: Autoconnect,
    /// Whether our clock is wanted beside the port `midi_out`: [`JackDevice::take_led`] then has it.
    pub leads: bool,
}

/// A message of our clock, and the frame on which it was given out.
pub type Led = (Frame, ClockMessage);

/// Why there is no device.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum JackError {
    /// The client library is not installed.
    #[error("libjack cannot be loaded (Debian packages libjack-jackd2-0 or pipewire-jack): {0}")]
    NoLibrary(String),
    /// No server runs, or it belongs to another user.
    #[error("no JACK server answers: {0}")]
    NoServer(String),
    /// The server refused something.
    #[error("JACK refused: {0}")]
    Refused(String),
    /// The name cannot be used.
    #[error("a JACK client name has 1 to {NAME_BYTES} bytes and no colon: {0:?}")]
    BadName(String),
    /// The server has the same name. jackd 2 names the sockets of server and client alike
    /// (`jack_NAME_UID_0`), so that such a client would take the server's away from everybody else.
    #[error("the JACK server is named {0:?} too; give the client another name")]
    ServersName(String),
    /// The synthesizer refused the server's rate.
    #[error(transparent)]
    Synth(#[from] SynthError),
    /// The server did not answer within the deadline. Nothing in this process can mend that: the library's
    /// lock is held by the call that hangs.
    #[error("the JACK server hangs: {0} took more than 3 s")]
    Hung(&'static str),
}

/// What is known of the server before the player is made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ServerInfo {
    /// The name that was granted; another than asked for when that was taken.
    pub name: String,
    /// Frames a second.
    pub rate: u32,
    /// Frames of a block, for now.
    pub buffer_frames: u32,
    /// Physical playback channels.
    pub playback_channels: usize,
}

/// What is amiss with a device. Whatever it is: close it and open another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trouble {
    /// The server is gone, or runs at another rate.
    Gone,
    /// The callback has not run for 2 s: expect [`JackError::Hung`].
    Stalled,
    /// The player panicked in the callback: it is silent for good.
    Panicked,
}

/// A client in the server's graph with its player inside.
pub struct JackDevice {
    client: Option<AsyncClient<Notifications, Callback>>,
    shared: Arc<Shared>,
    info: ServerInfo,
    latency: LatencyPorts,
    played: rtrb::Consumer<Played>,
    tap: Option<TapEnd>,
    led: Option<rtrb::Consumer<Led>>,
    autoconnect: Autoconnect,
    last_beat: u32,
    last_beat_at: Instant,
}

struct LatencyPorts {
    out: jack::Port<jack::Unowned>,
    guitar: jack::Port<jack::Unowned>,
    midi: jack::Port<jack::Unowned>,
}

/// Runs `call` on a thread of its own.
///
/// # Errors
/// [`JackError::Hung`] when it takes longer than `limit`; the thread is left behind, and what the call
/// gives later is dropped there.
pub fn with_deadline<T: Send + 'static>(
    what: &'static str,
    limit: Duration,
    call: impl FnOnce() -> T + Send + 'static,
) -> Result<T, JackError> {
    let (answer, answered) = sync_channel(1);
    let run = move || {
        let _ = answer.send(call());
    };
    let thread = std::thread::Builder::new()
        .name("jack-call".into())
        .spawn(run);
    if let Err(error) = thread {
        return Err(JackError::Refused(format!("no thread: {error}")));
    }
    match answered.recv_timeout(limit) {
        Ok(value) => Ok(value),
        Err(RecvTimeoutError::Timeout) => Err(JackError::Hung(what)),
        Err(RecvTimeoutError::Disconnected) => Err(JackError::Refused(format!("{what} panicked"))),
    }
}

impl JackDevice {
    /// Joins the server, makes the player for its rate, and runs it. Frames continue from `base`, so that they
    /// never go back over a reconnection. Never starts a server.
    ///
    /// # Errors
    /// See [`JackError`]. Without a server this fails within milliseconds; a hanging one takes [`DEADLINE`].
    pub fn open(
        config: &JackConfig,
        base: Frame,
        make: impl FnOnce(&ServerInfo) -> Result<(Player, PlayerEnd), SynthError> + Send + 'static,
    ) -> Result<(JackDevice, PlayerEnd), JackError> {
        check_name(&config.name)?;
        let config = config.clone();
        with_deadline("opening the client", DEADLINE, move || {
            open_now(&config, base, make)
        })?
    }

    /// What is amiss at `now`; none while the callback runs.
    pub fn trouble(&mut self, now: Instant) -> Option<Trouble> {
        let beat = self.shared.beats();
        if beat != self.last_beat {
            (self.last_beat, self.last_beat_at) = (beat, now);
        }
        if self.shared.is_gone() || self.shared.rate_changed(self.info.rate) {
            Some(Trouble::Gone)
        } else if self.shared.has_panicked() {
            Some(Trouble::Panicked)
        } else if now.saturating_duration_since(self.last_beat_at) > STALL {
            Some(Trouble::Stalled)
        } else {
            None
        }
    }

    /// Leaves the server. A dead server makes the library report an error, which is expected and no error here.
    ///
    /// # Errors
    /// [`JackError::Hung`] when the server does not answer.
    pub fn close(mut self) -> Result<(), JackError> {
        match self.client.take() {
            Some(client) => with_deadline("closing the client", DEADLINE, move || {
                if let Err(error) = client.deactivate() {
                    log::debug!("jack: {error}");
                }
            }),
            None => Ok(()),
        }
    }

    /// What was known of the server at the opening.
    pub fn info(&self) -> &ServerInfo {
        &self.info
    }

    /// The last cycle's frame and the time of its start on JACK's clock; none before the first cycle.
    pub fn clock(&self) -> Option<ClockPoint> {
        self.shared.clock()
    }

    /// Now on JACK's clock, in microseconds: to measure its distance from other clocks.
    pub fn time_us(&self) -> u64 {
        self.client
            .as_ref()
            .map_or(0, |client| client.as_client().time())
    }

    /// Blocks that the server reports as lost.
    pub fn xruns(&self) -> u32 {
        self.shared.xruns()
    }

    /// MIDI messages that found no room in a block.
    pub fn lost_midi(&self) -> u32 {
        self.shared.lost_midi()
    }

    /// Cycles since the opening; wraps around.
    pub fn beats(&self) -> u32 {
        self.shared.beats()
    }

    /// The server's share of processor time used, in per cent.
    pub fn cpu_load_percent(&self) -> f32 {
        self.client
            .as_ref()
            .map_or(0.0, |client| client.as_client().cpu_load())
    }

    /// What was played, in order; none for now.
    pub fn played(&mut self) -> Option<Played> {
        self.played.pop().ok()
    }

    /// The end of the queue that the guitar's sound comes out of, once.
    pub fn take_tap(&mut self) -> Option<TapEnd> {
        self.tap.take()
    }

    /// Our clock, if it was asked for; once.
    pub fn take_led(&mut self) -> Option<rtrb::Consumer<Led>> {
        self.led.take()
    }

    /// Frames from a tick outside to its message on `midi_in`: the longest way in from a physical port. None where
    /// only programs are connected, whose ticks are of the same cycle as their sound.
    pub fn clock_latency_frames(&self) -> Option<u32> {
        let client = self.client.as_ref()?.as_client();
        let kind = MidiIn::default().jack_port_type().to_string();
        let physical = client.ports(
            None,
            Some(&kind),
            PortFlags::IS_PHYSICAL | PortFlags::IS_OUTPUT,
        );
        let is_outside = physical
            .iter()
            .any(|name| self.latency.midi.is_connected_to(name).unwrap_or(false));
        let range = self.latency.midi.get_latency_range(LatencyType::Capture);
        is_outside.then_some(range.1)
    }

    /// Frames from a sample's time stamp to the converter: the longest way from `out_l`. It changes with the
    /// connections and the block size; read it again after [`JackDevice::take_graph_changed`].
    pub fn output_latency_frames(&self) -> u32 {
        self.latency.out.get_latency_range(LatencyType::Playback).1
    }

    /// Frames from the converter to `guitar_in`.
    pub fn input_latency_frames(&self) -> u32 {
        self.latency
            .guitar
            .get_latency_range(LatencyType::Capture)
            .1
    }

    /// Whether connections or the block size changed since the last call.
    pub fn take_graph_changed(&self) -> bool {
        self.shared.take_graph_changed()
    }

    /// Frames of a block as they are now.
    pub fn buffer_frames(&self) -> u32 {
        self.client
            .as_ref()
            .map_or(0, |client| client.as_client().buffer_size())
    }

    /// Asks the server for another block size, which changes it for every client.
    ///
    /// # Errors
    /// When the server refuses or hangs.
    pub fn set_buffer_frames(&self, frames: u32) -> Result<(), JackError> {
        match &self.client {
            Some(client) => client.as_client().set_buffer_size(frames).map_err(refused),
            None => Ok(()),
        }
    }

    /// Makes the connections of the configuration once more (ports may have come since). Gives what was
    /// refused: never fatal, a server may forbid connections.
    pub fn connect(&self) -> Vec<String> {
        match &self.client {
            Some(client) => {
                connect::connect(client.as_client(), &self.info.name, &self.autoconnect)
            }
            None => Vec::new(),
        }
    }
}

impl Drop for JackDevice {
    /// Leaves the server without waiting for it.
    fn drop(&mut self) {
        if let Some(client) = self.client.take() {
            let leave = move || drop(client.deactivate());
            if let Err(error) = std::thread::Builder::new().spawn(leave) {
                log::debug!("jack: no thread to leave on: {error}");
            }
        }
    }
}

fn check_name(name: &str) -> Result<(), JackError> {
    if name.is_empty() || name.len() > NAME_BYTES || name.contains([':', '\0']) {
        return Err(JackError::BadName(name.to_string()));
    }
    let server = std::env::var("JACK_DEFAULT_SERVER").unwrap_or_else(|_| "default".into());
    if *name == server {
        return Err(JackError::ServersName(server));
    }
    Ok(())
}

/// Joins the server; never starts one.
fn join(name: &str) -> Result<Client, JackError> {
    check_name(name)?;
    let joined = Client::new(name, ClientOptions::NO_START_SERVER);
    let (client, _) = joined.map_err(|error| match error {
        jack::Error::LibraryError(why) => JackError::NoLibrary(why),
        jack::Error::ClientError(status) => JackError::NoServer(in_words(status)),
        other => refused(other),
    })?;
    Ok(client)
}

fn open_now(
    config: &JackConfig,
    base: Frame,
    make: impl FnOnce(&ServerInfo) -> Result<(Player, PlayerEnd), SynthError>,
) -> Result<(JackDevice, PlayerEnd), JackError> {
    let client = join(&config.name)?;
    let info = ServerInfo {
        name: client.name().to_string(),
        rate: client.sample_rate(),
        buffer_frames: client.buffer_size(),
        playback_channels: connect::physical_playback(&client).len(),
    };
    if info.name != config.name {
        log::warn!(
            "jack: the name {} is taken, this is {}",
            config.name,
            info.name
        );
    }
    let ports = register(&client).map_err(refused)?;
    let latency = LatencyPorts {
        out: ports.out_l.clone_unowned(),
        guitar: ports.guitar_in.clone_unowned(),
        midi: ports.midi_in.clone_unowned(),
    };
    let (player, end) = make(&info)?;
    let shared = Arc::new(Shared::new(info.rate));
    let (played_in, played) = rtrb::RingBuffer::new(PLAYED);
    let (tap, tap_end) = super::tap(info.rate);
    let (led_in, led) = if config.leads {
        let (led_in, led) = rtrb::RingBuffer::new(LED);
        (Some(led_in), Some(led))
    } else {
        (None, None)
    };
    let queues = Queues {
        played: played_in,
        tap,
        leads: led_in,
    };
    let callback = Callback::new(ports, player, base, Arc::clone(&shared), queues);
    let notifications = Notifications::new(Arc::clone(&shared));
    let client = client
        .activate_async(notifications, callback)
        .map_err(refused)?;
    let device = JackDevice {
        client: Some(client),
        shared,
        info,
        latency,
        played,
        tap: Some(tap_end),
        led,
        autoconnect: config.autoconnect.clone(),
        last_beat: 0,
        last_beat_at: Instant::now(),
    };
    for refusal in device.connect() {
        log::warn!("jack: {refusal}");
    }
    Ok((device, end))
}

fn register(client: &Client) -> Result<Ports, jack::Error> {
    Ok(Ports {
        out_l: client.register_port("out_l", AudioOut::default())?,
        out_r: client.register_port("out_r", AudioOut::default())?,
        cue: client.register_port("cue", AudioOut::default())?,
        guitar_in: client.register_port("guitar_in", AudioIn::default())?,
        midi_in: client.register_port("midi_in", MidiIn::default())?,
        midi_out: client.register_port("midi_out", MidiOut::default())?,
    })
}

fn refused(error: jack::Error) -> JackError {
    JackError::Refused(match error {
        jack::Error::ClientError(status) => in_words(status),
        other => other.to_string(),
    })
}

/// What the server's library answers, in words (jack/types.h, `JackStatus`).
fn in_words(status: ClientStatus) -> String {
    let all = [
        (ClientStatus::SERVER_FAILED, "none was found to connect to"),
        (ClientStatus::SERVER_ERROR, "the talk with it failed"),
        (
            ClientStatus::SHM_FAILURE,
            "its shared memory cannot be reached",
        ),
        (
            ClientStatus::VERSION_ERROR,
            "its version is another than the library's",
        ),
        (ClientStatus::NAME_NOT_UNIQUE, "the name is taken"),
        (ClientStatus::INVALID_OPTION, "an option is not known to it"),
        (ClientStatus::INIT_FAILURE, "the client could not be set up"),
        (ClientStatus::CLIENT_ZOMBIE, "the client was thrown out"),
        (ClientStatus::BACKEND_ERROR, "its driver failed"),
    ];
    let said: Vec<&str> = all
        .into_iter()
        .filter(|(flag, _)| status.contains(*flag))
        .map(|(_, words)| words)
        .collect();
    match said.is_empty() {
        true => "no reason was given".to_string(),
        false => said.join(", "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_server_answers_is_said_in_words() {
        let gone = ClientStatus::FAILURE | ClientStatus::SERVER_FAILED;
        for (status, told) in [
            (gone, "none was found to connect to"),
            (
                gone | ClientStatus::SHM_FAILURE,
                "none was found to connect to, its shared memory cannot be reached",
            ),
            (ClientStatus::FAILURE, "no reason was given"),
        ] {
            assert_eq!(in_words(status), told);
        }
    }

    #[test]
    fn a_call_that_hangs_is_left_behind() {
        let (release, released) = sync_channel::<()>(0);
        let hang = move || released.recv().is_ok();
        let limit = Duration::from_millis(5);
        assert_eq!(
            with_deadline("waiting", limit, hang),
            Err(JackError::Hung("waiting"))
        );
        drop(release);
        assert_eq!(with_deadline("adding", DEADLINE, || 1 + 1), Ok(2));
    }

    #[test]
    fn names_that_jack_would_refuse_are_refused_before() {
        for name in ["", "a:b", "a\0b", &"x".repeat(61)] {
            let config = JackConfig {
                name: name.to_string(),
                autoconnect: Autoconnect::None,
                leads: false,
            };
            let make = |_: &ServerInfo| unreachable!("no player is made");
            let opened = JackDevice::open(&config, Frame(0), make);
            assert_eq!(
                opened.err(),
                Some(JackError::BadName(name.to_string())),
                "{name}"
            );
        }
    }
}
