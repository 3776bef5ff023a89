//! A sound played and recorded at once: for measuring the way round.
// Talks to a server and waits for it.
#![allow(clippy::disallowed_methods)]

use super::connect::Wiring;
use super::device::JackConfig;
use super::join::{DEADLINE, JackError, join, refused, with_deadline};
use jack::{
    AsyncClient, AudioIn, AudioOut, Client, Control, LatencyType, Port, ProcessHandler,
    ProcessScope, Unowned,
};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// A server that gives no cycle for so long stands still.
const STILL: Duration = Duration::from_secs(5);

/// What came back.
#[derive(Debug, Clone, PartialEq)]
pub struct Echo {
    /// What was on `guitar_in` while the sound was on `out_l` and `out_r`: sample beside sample.
    pub heard: Vec<f32>,
    /// The way round that the server knows of, in frames: from the outputs to the converter and back from it.
    pub known_frames: u32,
    /// Cycles that did not follow on the one before.
    pub gaps: u32,
    /// Whether something is connected to the outputs, and to the input.
    pub connected: (bool, bool),
}

/// Plays the sound that `make` gives for the server's rate on both outputs, and records the guitar's input meanwhile.
/// Gives the sound, too, and the rate.
///
/// # Errors
/// See [`JackError`].
pub fn echo(
    config: &JackConfig,
    make: impl FnOnce(u32) -> Vec<f32> + Send + 'static,
) -> Result<(Vec<f32>, u32, Echo), JackError> {
    let config = config.clone();
    let opened = with_deadline("opening the client", DEADLINE, move || open(&config, make))?;
    let (client, (out_l, guitar_in), done, rate, patience) = opened?;
    let begun = Instant::now();
    while !done.load(Ordering::Acquire) && begun.elapsed() < patience {
        std::thread::sleep(Duration::from_millis(20));
    }
    let known_frames = out_l.get_latency_range(LatencyType::Playback).1
        + guitar_in.get_latency_range(LatencyType::Capture).1;
    let connections = |port: &Port<jack::Unowned>| port.connected_count().unwrap_or(0) > 0;
    let connected = (connections(&out_l), connections(&guitar_in));
    let left = with_deadline("closing the client", DEADLINE, move || client.deactivate())?;
    let (_, (), tape) = left.map_err(refused)?;
    if !tape.done.load(Ordering::Acquire) {
        return Err(JackError::Refused("the server stands still".into()));
    }
    let echo = Echo {
        heard: tape.heard,
        known_frames,
        gaps: tape.gaps,
        connected,
    };
    Ok((tape.sound, rate, echo))
}

/// The client, the ports whose latency counts, whether the tape is at its end, the rate, and how long that may take.
type Opened = (
    AsyncClient<(), Tape>,
    (Port<Unowned>, Port<Unowned>),
    Arc<AtomicBool>,
    u32,
    Duration,
);

fn open(config: &JackConfig, make: impl FnOnce(u32) -> Vec<f32>) -> Result<Opened, JackError> {
    let client = join(&config.name)?;
    let rate = client.sample_rate();
    let sound = make(rate);
    let patience = Duration::from_secs_f64(sound.len() as f64 / f64::from(rate)) + STILL;
    let port_out = |name| client.register_port(name, AudioOut::default());
    let done = Arc::new(AtomicBool::new(false));
    let guitar_in = client.register_port("guitar_in", AudioIn::default());
    let tape = Tape {
        out_l: port_out("out_l").map_err(refused)?,
        out_r: port_out("out_r").map_err(refused)?,
        guitar_in: guitar_in.map_err(refused)?,
        heard: vec![0.0; sound.len()],
        sound,
        at: 0,
        next: None,
        gaps: 0,
        done: Arc::clone(&done),
    };
    let ports = (tape.out_l.clone_unowned(), tape.guitar_in.clone_unowned());
    let name = client.name().to_string();
    let client = client.activate_async((), tape).map_err(refused)?;
    let now = Instant::now();
    let mut wiring = Wiring::new(&name, &config.autoconnect, now);
    for refusal in wiring.tend(client.as_client(), now) {
        log::warn!("jack: {refusal}");
    }
    Ok((client, ports, done, rate, patience))
}

struct Tape {
    out_l: Port<AudioOut>,
    out_r: Port<AudioOut>,
    guitar_in: Port<AudioIn>,
    sound: Vec<f32>,
    heard: Vec<f32>,
    at: usize,
    next: Option<u32>,
    gaps: u32,
    done: Arc<AtomicBool>,
}

impl ProcessHandler for Tape {
    /// Forbidden here: to allocate, free, lock, call the system, log or panic.
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let now = scope.last_frame_time();
        self.gaps += u32::from(self.next.is_some_and(|next| next != now));
        self.next = Some(now.wrapping_add(scope.n_frames()));
        let sound = self.sound.get(self.at..).unwrap_or_default();
        for out in [&mut self.out_l, &mut self.out_r] {
            let out = out.as_mut_slice(scope);
            out.fill(0.0);
            out.iter_mut().zip(sound).for_each(|(to, from)| *to = *from);
        }
        let room = self.heard.get_mut(self.at..).unwrap_or_default();
        for (to, from) in room.iter_mut().zip(self.guitar_in.as_slice(scope)) {
            *to = *from;
        }
        self.at = (self.at + scope.n_frames() as usize).min(self.sound.len());
        if self.at == self.sound.len() {
            self.done.store(true, Ordering::Release);
        }
        Control::Continue
    }
}
