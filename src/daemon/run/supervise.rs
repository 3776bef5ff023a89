//! The audio server: absent, retrying, present. It is looked for as long as the daemon lives.

use super::super::config::{Config, CueTo, PORTS};
use super::super::setup;
use super::super::status::JackStatus;
use super::input::Input;
#[cfg(feature = "midi-alsa")]
use super::lead::Lead;
use super::now::{FIRST_FRAME, Now};
#[cfg(feature = "midi-alsa")]
use super::sources::reporter;
use crate::audio::jack::{Autoconnect, JackConfig, JackDevice, JackError, Trouble};
use crate::audio::{AheadFrames, ClockSource, Played, Player, PlayerEnd, TapEnd, Trims};
use crate::device::{Backoff, DeviceState, Told};
#[cfg(feature = "midi-alsa")]
use crate::pedal::stamps::StampClock;
use crate::pedal::stamps::Stamps;
use crate::synth::SoundFont;
use crate::time::Frame;
use std::sync::Arc;
use std::sync::mpsc::SyncSender;
use std::time::{Duration, Instant};

/// The first and the longest wait between two attempts.
/// Short, so that a server that comes back is found well within a bar; without one an attempt takes no time.
const RETRY: Backoff = Backoff::new(Duration::from_millis(100), Duration::from_millis(500));

/// What a cycle gives out is seen by other threads so long after the cycle's own length, in seconds.
#[cfg(feature = "midi-alsa")]
const KNOWN_AFTER_S: f64 = 0.001;
/// How long after a panic in the callback another player is made.
const FAILED_FOR: Duration = Duration::from_millis(250);
const FAILED: &str = "the sound failed";
const STANDS_STILL: &str = "the audio server stands still";

/// What changed.
pub enum AudioChange {
    /// A server is there: a new player, its rate.
    Came(PlayerEnd, u32),
    /// The server is gone.
    Went(String),
    /// The server hangs: nothing in this process can mend that.
    Hung(String),
}

/// How the server is joined.
pub(super) fn jack_config(config: &Config) -> JackConfig {
    let audio = &config.audio;
    let named = PORTS.into_iter().zip(audio.connect.iter().cloned());
    let ports: Vec<_> = named.filter(|(_, patterns)| !patterns.is_empty()).collect();
    let autoconnect = match (ports.is_empty(), audio.autoconnect) {
        (true, true) => Autoconnect::Physical,
        (true, false) => Autoconnect::None,
        (false, others_physical) => Autoconnect::Named {
            ports,
            others_physical,
        },
    };
    JackConfig {
        name: audio.client.clone(),
        autoconnect,
        leads: config.clock.send && config.clock.send_to.is_some(),
    }
}

/// The device with what is needed to open it again.
pub struct AudioSupervisor {
    config: Config,
    font: Option<Arc<SoundFont>>,
    /// Its balance.
    trims: Trims,
    device: Option<JackDevice>,
    now: Arc<Now>,
    last: Frame,
    next_try: Instant,
    backoff: Backoff,
    told: Told,
    xruns_before: u64,
    /// The server was told to stand still; what follows may block for seconds.
    stalled: bool,
    hung: bool,
    #[cfg(feature = "midi-alsa")]
    lead: Option<Lead>,
}

impl AudioSupervisor {
    /// No device yet.
    pub fn new(config: &Config, font: Option<Arc<SoundFont>>, trims: Trims) -> AudioSupervisor {
        AudioSupervisor {
            config: config.clone(),
            font,
            trims,
            device: None,
            now: Arc::new(Now::new()),
            last: FIRST_FRAME,
            next_try: Instant::now(),
            backoff: RETRY,
            told: Told::default(),
            xruns_before: 0,
            stalled: false,
            hung: false,
            #[cfg(feature = "midi-alsa")]
            lead: None,
        }
    }

    /// The band's sound, for players that come.
    pub fn take_band(&mut self, font: Arc<SoundFont>, trims: Trims) {
        self.font = Some(font);
        self.trims = trims;
    }

    /// Sends our clock to a port of ALSA too, where that is asked for.
    #[cfg(feature = "midi-alsa")]
    pub fn lead(&mut self, sender: &SyncSender<Input>) {
        let asked = &self.config.clock;
        let Some(port) = asked.send_to.clone().filter(|_| asked.send) else {
            return;
        };
        let clock: StampClock = Arc::clone(&self.now) as StampClock;
        let reporter = reporter(sender, &clock, format!("clock to {port}"), None);
        match Lead::start(&port, Arc::clone(&self.now), reporter) {
            Ok(lead) => self.lead = Some(lead),
            Err(error) => log::warn!("no thread for the clock: {error}"),
        }
    }

    /// This program was built without MIDI ports of ALSA (which is told where the ports are opened).
    #[cfg(not(feature = "midi-alsa"))]
    pub fn lead(&mut self, _: &SyncSender<Input>) {}

    /// The thread that sends has the clock of the player that is now.
    #[cfg(feature = "midi-alsa")]
    fn hand_over_clock(&mut self) {
        if let (Some(lead), Some(device)) = (&self.lead, &mut self.device) {
            lead.player(device.take_led());
        }
    }

    /// A message goes out when its frame leaves the converter, but not before it can be known.
    #[cfg(feature = "midi-alsa")]
    fn delay_lead(&self, latency_frames: f64) {
        let (Some(lead), Some(device)) = (&self.lead, &self.device) else {
            return;
        };
        let seconds = |frames: f64| frames.max(0.0) / f64::from(device.info().rate);
        let known_s = seconds(f64::from(device.buffer_frames())) + KNOWN_AFTER_S;
        lead.set_delay(Duration::from_secs_f64(
            seconds(latency_frames).max(known_s),
        ));
    }

    /// Settings that may change while the server is joined: levels, latencies.
    pub fn configure(&mut self, config: &Config) {
        self.config = config.clone();
    }

    /// The clock that sources stamp with.
    pub fn clock(&self) -> Arc<Now> {
        Arc::clone(&self.now)
    }

    /// The frame that is now; the clock of the server where there is one, else it goes on at the last rate.
    pub fn now(&mut self) -> Frame {
        if let Some(device) = &self.device {
            self.now.follow(device);
        }
        // Time never goes back, whatever the server's clock does.
        self.last = self.last.max(self.now.now());
        self.last
    }

    /// The frame of an instant.
    pub fn frame_at(&self, instant: Instant) -> Frame {
        self.now.frame_at(instant)
    }

    /// Frames of a block; 0 without a server.
    pub fn period_frames(&self) -> u32 {
        self.device.as_ref().map_or(0, JackDevice::buffer_frames)
    }

    /// What was played, in order.
    pub fn played(&mut self) -> Option<Played> {
        self.device.as_mut()?.played()
    }

    /// The queue of the guitar's sound of a device that has just come.
    pub fn take_tap(&mut self) -> Option<TapEnd> {
        self.device.as_mut()?.take_tap()
    }

    /// The way from an output round to the guitar's input in frames: what the server knows of, and what was measured
    /// beyond. It changes with the connections.
    pub fn way_round_frames(&self) -> Option<i64> {
        let device = self.device.as_ref()?;
        let known = device.output_latency_frames() + device.input_latency_frames();
        let beyond = self.config.ear.latency_ms * f64::from(device.info().rate) / 1000.0;
        Some(i64::from(known) + beyond.round() as i64)
    }

    /// The ports that the guitar's sound comes from; empty for none, or without a server.
    pub fn input_comes_from(&self) -> String {
        let device = self.device.as_ref();
        device.map_or(String::new(), JackDevice::input_comes_from)
    }

    /// The length of a cycle, and how long ago the last one began, in seconds, where a message can come on `midi_in`.
    pub fn midi_cycle_s(&mut self) -> Option<(f64, f64)> {
        let device = self.device.as_ref().filter(|device| device.has_midi_in())?;
        let (point, rate) = (device.clock()?, f64::from(device.info().rate));
        let period_s = f64::from(device.buffer_frames()) / rate;
        let since_s = self.now().0.saturating_sub(point.frame.0) as f64 / rate;
        Some((period_s, since_s))
    }

    /// Whether the callback is called, or there is no server to call it: one that stands still is no reason to be taken for
    /// alive.
    pub fn goes_on(&self) -> bool {
        !self.stalled && !self.hung
    }

    /// When a server is looked for again; none while there is one.
    pub fn next_try(&self) -> Option<Instant> {
        self.device.is_none().then_some(self.next_try)
    }

    /// Looks after the device: call it now and then.
    pub fn look(&mut self) -> Option<AudioChange> {
        let at = Instant::now();
        let Some(device) = self.device.as_mut() else {
            return (at >= self.next_try).then(|| self.open(at)).flatten();
        };
        match device.trouble(at) {
            // It stood still and goes on: the player in it was given up, so it is opened anew.
            None if self.stalled => Some(self.lose(STANDS_STILL)),
            None => {
                for refusal in device.tend_connections(at) {
                    log::warn!("jack: {refusal}");
                }
                None
            }
            Some(Trouble::Gone) => Some(self.lose("the audio server is gone")),
            Some(Trouble::Panicked) => {
                let change = self.lose(FAILED);
                // So long the page can be read, and a player that fails again and again keeps nobody busy.
                self.next_try = at + FAILED_FOR;
                Some(change)
            }
            // Told before the attempt to leave, which takes seconds where the server is stopped.
            Some(Trouble::Stalled) if !std::mem::replace(&mut self.stalled, true) => {
                log::warn!("jack: {STANDS_STILL}");
                Some(AudioChange::Went(STANDS_STILL.into()))
            }
            Some(Trouble::Stalled) => Some(self.lose(STANDS_STILL)),
        }
    }

    fn lose(&mut self, why: &str) -> AudioChange {
        let Some(device) = self.device.take() else {
            return AudioChange::Went(why.into());
        };
        self.now.leave();
        #[cfg(feature = "midi-alsa")]
        if let Some(lead) = &self.lead {
            lead.player(None);
        }
        self.xruns_before += u64::from(device.xruns());
        self.backoff.reset();
        self.next_try = Instant::now();
        if !std::mem::take(&mut self.stalled) {
            log::warn!("jack: {why}");
        }
        match device.close() {
            Err(JackError::Hung(what)) => self.hang(what),
            _ => AudioChange::Went(why.into()),
        }
    }

    fn hang(&mut self, what: &str) -> AudioChange {
        self.hung = true;
        AudioChange::Hung(format!("the JACK server hangs ({what}); restart it"))
    }

    fn open(&mut self, at: Instant) -> Option<AudioChange> {
        let jack = jack_config(&self.config);
        let (config, font) = (self.config.clone(), self.font.clone());
        let trims = self.trims.clone();
        // Frames go on from here, with room for what the opening takes.
        let base = Frame(self.now().0 + 1);
        let opened = JackDevice::open(&jack, base, move |info| {
            let cue_to_outputs = match config.audio.cue_to {
                CueTo::Auto => info.playback_channels <= 2,
                CueTo::Outputs => true,
                CueTo::Cue => false,
            };
            let mut prepared = setup::prepared(&config, font, info.rate, info.playback_channels);
            prepared.cue_to_outputs = cue_to_outputs;
            prepared.band.trims = trims;
            Player::new(prepared)
        });
        match opened {
            Ok((device, end)) => {
                let rate = device.info().rate;
                log::info!(
                    "jack: connected as {} at {rate} Hz, {} frames",
                    device.info().name,
                    device.info().buffer_frames
                );
                self.device = Some(device);
                self.backoff.reset();
                self.told.is_new(DeviceState::Present, None);
                #[cfg(feature = "midi-alsa")]
                self.hand_over_clock();
                Some(AudioChange::Came(end, rate))
            }
            Err(JackError::Hung(what)) => Some(self.hang(what)),
            Err(error) => {
                self.next_try = at + self.backoff.wait();
                let text = error.to_string();
                let is_new = self.told.is_new(DeviceState::Retrying, Some(&text));
                is_new.then(|| {
                    log::warn!("jack: {text}");
                    AudioChange::Went("no audio server".into())
                })
            }
        }
    }

    /// By how many frames ours are to be earlier than each clock's stamps; none without a server. A clock from outside
    /// is stamped when it happens, and our sound takes its way to the converter. One inside the graph is of the
    /// same cycle as the sound of its program, which takes the same way.
    pub fn clock_ahead(&self) -> Option<AheadFrames> {
        let device = self.device.as_ref()?;
        let by_hand = self.config.audio.latency_ms * f64::from(device.info().rate) / 1000.0;
        let out = f64::from(device.output_latency_frames()) + by_hand;
        let jack = device
            .clock_latency_frames()
            .map_or(0.0, |way_in| f64::from(way_in) + out);
        #[cfg(feature = "midi-alsa")]
        self.delay_lead(out);
        Some(ClockSource::ALL.map(|source| match source {
            ClockSource::Jack => jack,
            ClockSource::Serial | ClockSource::Midi => out,
            ClockSource::Transport | ClockSource::Internal => 0.0,
        }))
    }

    /// What the callback had no room for, by name.
    pub fn lost(&self) -> impl Iterator<Item = (&'static str, u64)> {
        self.device.iter().flat_map(JackDevice::lost)
    }

    /// What `status` tells.
    pub fn status(&self) -> JackStatus {
        let device = self.device.as_ref();
        let state = if self.hung {
            "hung"
        } else if device.is_some() {
            "present"
        } else {
            "retrying"
        };
        JackStatus {
            state: state.to_string(),
            rate: device.map(|device| device.info().rate),
            period_frames: device.map(JackDevice::buffer_frames),
            xruns: self.xruns_before + device.map_or(0, |device| u64::from(device.xruns())),
        }
    }

    /// Leaves the server in order.
    pub fn leave(mut self) {
        if let Some(device) = self.device.take() {
            let _ = device.close();
        }
    }
}
