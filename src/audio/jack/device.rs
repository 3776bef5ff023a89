//! A client in the server's graph with its player inside.
// Talks to a server: needs clocks.
#![allow(clippy::disallowed_methods)]

use super::callback::{Callback, CallbackQueues, Led, Notifications, Ports};
use super::connect::{self, Autoconnect, Wiring};
use super::join::{DEADLINE, JackError, check_name, join, refused, with_deadline};
use super::shared::Shared;
use crate::audio::played::Played;
use crate::audio::player::Player;
use crate::audio::queue::PlayerEnd;
use crate::audio::synth::SynthError;
use crate::audio::tap::{TapEnd, tap};
use crate::clock::map::ClockPoint;
use crate::time::Frame;
use jack::{
    AsyncClient, AudioIn, AudioOut, Client, LatencyType, MidiIn, MidiOut, PortFlags, PortSpec,
};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

/// A callback that has not run for this long has stalled.
const STALL: Duration = Duration::from_secs(2);
/// The callback has seen by then that it is to leave, or runs no more: eight of the longest usual cycles.
const LEAVING: Duration = Duration::from_millis(200);
/// Notes and bars that can wait to be asked for.
const PLAYED: usize = 4096;
/// Messages of our clock that can wait: at 300 a minute more than eight seconds.
const LED: usize = 1024;
/// How to join the server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JackConfig {
    /// The client's name, 1 to [`NAME_BYTES`](super::NAME_BYTES) bytes without a colon.
    pub name: String,
    /// What to connect to.
    pub autoconnect: Autoconnect,
    /// Whether our clock is wanted beside the port `midi_out`: [`JackDevice::take_led`] then has it.
    pub leads: bool,
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
    wiring: Wiring,
    last_beat: u32,
    last_beat_at: Instant,
}

struct LatencyPorts {
    out: jack::Port<jack::Unowned>,
    guitar: jack::Port<jack::Unowned>,
    midi: jack::Port<jack::Unowned>,
}

impl LatencyPorts {
    fn of(ports: &Ports) -> LatencyPorts {
        LatencyPorts {
            out: ports.out_l.clone_unowned(),
            guitar: ports.guitar_in.clone_unowned(),
            midi: ports.midi_in.clone_unowned(),
        }
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
        let shared = Arc::clone(&self.shared);
        match self.client.take() {
            Some(client) => with_deadline("closing the client", DEADLINE, move || {
                wait_until_left(&shared);
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

    /// What the callback had no room for, by name; zero is good.
    pub fn lost(&self) -> [(&'static str, u64); 3] {
        let shared = &self.shared;
        [
            ("lost_midi_out", &shared.lost_midi_out),
            ("lost_clock_out", &shared.lost_clock_out),
            ("lost_played", &shared.lost_played),
        ]
        .map(|(name, count)| (name, u64::from(count.load(Ordering::Relaxed))))
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

    /// Whether anything is connected to `midi_in`.
    pub fn has_midi_in(&self) -> bool {
        self.latency
            .midi
            .connected_count()
            .is_ok_and(|count| count > 0)
    }

    /// Frames from a sample's time stamp to the converter: the longest way from `out_l`. It changes with the
    /// connections and the block size; read it again now and then.
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

    /// The ports that `guitar_in` is connected to, by name; empty for none.
    pub fn input_comes_from(&self) -> String {
        let mut ports = self.latency.guitar.get_connections();
        ports.sort();
        ports.join(", ")
    }

    /// Frames of a block as they are now.
    pub fn buffer_frames(&self) -> u32 {
        self.client
            .as_ref()
            .map_or(0, |client| client.as_client().buffer_size())
    }

    /// Makes the connections of the configuration whose ports have come; gives what was refused, which is never fatal.
    pub fn tend_connections(&mut self, now: Instant) -> Vec<String> {
        let Some(client) = &self.client else {
            return Vec::new();
        };
        let came = self.shared.take_ports_that_came();
        if !came.is_empty() {
            self.wiring.look_at(client.as_client(), &came, now);
        }
        self.wiring.tend(client.as_client(), now)
    }
}

impl Drop for JackDevice {
    /// Leaves the server without waiting for it.
    fn drop(&mut self) {
        if let Some(client) = self.client.take() {
            let shared = Arc::clone(&self.shared);
            let leave = move || {
                wait_until_left(&shared);
                drop(client.deactivate());
            };
            if let Err(error) = std::thread::Builder::new().spawn(leave) {
                log::debug!("jack: no thread to leave on: {error}");
            }
        }
    }
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
    let latency = LatencyPorts::of(&ports);
    let (player, end) = make(&info)?;
    let shared = Arc::new(Shared::new(info.rate));
    let (played_in, played) = rtrb::RingBuffer::new(PLAYED);
    let (tap, tap_end) = tap(info.rate);
    let (led_in, led) = config.leads.then(|| rtrb::RingBuffer::new(LED)).unzip();
    let queues = CallbackQueues {
        played: played_in,
        tap,
        leads: led_in,
    };
    let callback = Callback::new(ports, player, base, Arc::clone(&shared), queues);
    let notifications = Notifications::new(Arc::clone(&shared));
    let client = client
        .activate_async(notifications, callback)
        .map_err(refused)?;
    let wiring = Wiring::new(&info.name, &config.autoconnect, Instant::now());
    let mut device = JackDevice {
        client: Some(client),
        shared,
        info,
        latency,
        played,
        tap: Some(tap_end),
        led,
        wiring,
        last_beat: 0,
        last_beat_at: Instant::now(),
    };
    for refusal in device.tend_connections(Instant::now()) {
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

/// Waits until the callback does nothing any more, as long as one may run. libjack cancels its thread wherever it is, and
/// that must not be in the middle of the music: a thread that is cancelled unwinds, and where Rust catches panics the C
/// library ends the whole program then ("exception not rethrown").
fn wait_until_left(shared: &Shared) {
    shared.leave();
    let until = Instant::now() + LEAVING;
    while !shared.is_gone() && !shared.has_left() && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(1));
    }
}
