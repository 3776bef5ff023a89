//! The daemon's loop: one thread that takes everything in, lets the core decide, and hands on what follows.

use super::super::config::Clock;
use super::super::files::{Failure, exit};
use super::super::rig::{Outcome, Rig};
use super::super::state;
use super::super::status::{Server, Status};
use super::awaited::Awaited;
use super::hearing::Hearing;
use super::inputs::{Input, Inputs};
use super::screens::Screens;
use super::supervise::{Audio, Change};
use crate::audio::{AheadFrames, Command, Level, Notice, PlayerEnd};
use crate::device::DeviceState;
use crate::foot::{Action, FootState};
use crate::pedal::Edge;
use crate::pedal::script::Step;
use crate::practice::{Event, EventKind, Library, Saved};
use crate::time::Frame;
use std::collections::{BTreeMap, VecDeque};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// How long the loop waits for an input at the most: what a press may wait besides.
const PATIENCE: Duration = Duration::from_millis(2);
/// The same without an audio server: inputs wake the loop, and nobody else has anything to tell.
const PATIENCE_ALONE: Duration = Duration::from_millis(20);
/// The status is published and the watchdog fed this often.
const PUBLISH_EVERY: Duration = Duration::from_millis(200);
/// A changed place is kept after this long without another change.
const KEEP_AFTER: Duration = Duration::from_secs(1);
/// From SIGTERM to silence.
const FADE_OUT: Duration = Duration::from_millis(30);
/// A take begun by a script starts this long after the server came, so that its bars are there.
const BEGIN_AFTER_MS: f64 = 300.0;
/// A scripted edge is handed over this long before its stamp, and a block: a foot is known ahead only here.
const SCRIPT_AHEAD_MS: f64 = 60.0;
/// A scripted take waits this long at the most for the first phrases to be rendered.
const WARM_UP: Duration = Duration::from_secs(10);
/// A lost take goes on this long after the server came back.
const RESUME_AFTER_MS: f64 = 150.0;

/// What bounds a run.
pub struct Limits {
    /// Seconds from the first count to the end.
    pub seconds: Option<f64>,
    /// A foot script: the take then begins by itself.
    pub foot: Option<Vec<Step>>,
    /// Which clock counts.
    pub clock: Clock,
    /// Where to keep the place; `None`: nowhere.
    pub place: Option<PathBuf>,
}

/// The running daemon.
pub struct Live {
    rig: Rig,
    audio: Audio,
    hearing: Hearing,
    inputs: Inputs,
    screens: Screens,
    server: Option<Server>,
    events: Option<BufWriter<File>>,
    limits: Limits,
    outcome: Outcome,
    script: VecDeque<Edge>,
    begun_at: Option<Frame>,
    devices: BTreeMap<String, (DeviceState, Option<String>)>,
    awaited: Awaited,
    unsaved: Option<(Saved, Instant)>,
    published: Instant,
    late_edges: u64,
    /// Since when the phrases of a scripted take are being rendered.
    warming: Option<Instant>,
    /// How much sooner than each clock's stamps ours sound, as the player was told.
    ahead: Option<AheadFrames>,
}

impl Live {
    /// Everything put together; nothing runs yet.
    pub fn new(
        rig: Rig,
        (audio, hearing): (Audio, Hearing),
        inputs: Inputs,
        screens: Screens,
        server: Option<Server>,
        events: Option<BufWriter<File>>,
        limits: Limits,
    ) -> Live {
        Live {
            rig,
            audio,
            hearing,
            inputs,
            screens,
            server,
            events,
            limits,
            outcome: Outcome::default(),
            script: VecDeque::new(),
            begun_at: None,
            devices: BTreeMap::new(),
            awaited: Awaited::default(),
            unsaved: None,
            published: Instant::now(),
            late_edges: 0,
            warming: None,
            ahead: None,
        }
    }

    /// Shows something the user can mend.
    pub fn message(&mut self, title: String, lines: Vec<String>) {
        let at = self.audio.now();
        self.rig.handle(
            Event {
                at,
                what: EventKind::Message { title, lines },
            },
            &mut self.outcome,
        );
    }

    /// Runs to the end. `reload` reads charts and drill anew.
    ///
    /// # Errors
    /// When the audio server hangs (69).
    pub fn run(&mut self, reload: &dyn Fn() -> Result<Library, Failure>) -> Result<(), Failure> {
        let clock = self.audio.clock();
        self.inputs.stamp_with(clock);
        let page = self.rig.core.page();
        self.outcome.pages.push((page, None));
        tell_systemd(&[sd_notify::NotifyState::Ready]);
        loop {
            let patience = match self.rig.end {
                Some(_) => PATIENCE,
                None => PATIENCE_ALONE,
            };
            if let Some(input) = self.inputs.wait(patience) {
                self.input(input);
            }
            while let Some(input) = self.inputs.poll() {
                self.input(input);
            }
            if let Some(change) = self.audio.look() {
                self.audio_changed(change)?;
            }
            let now = self.audio.now();
            self.take_notices(now);
            self.tend_ear();
            self.begin_script();
            self.play_script(now);
            self.rig.handle(
                Event {
                    at: now,
                    what: EventKind::Tick,
                },
                &mut self.outcome,
            );
            self.hand_on(now);
            if self.inputs.take_reload() {
                self.reload(reload, now);
            }
            if self.inputs.is_ended() || self.is_over(now) {
                break;
            }
        }
        self.end();
        Ok(())
    }

    fn input(&mut self, input: Input) {
        match input {
            Input::Edge(edge) => self.edge(edge),
            Input::Act(action) => {
                let at = self.audio.now();
                self.rig.handle(
                    Event {
                        at,
                        what: EventKind::Act(action),
                    },
                    &mut self.outcome,
                );
            }
            Input::Clock(at, source, message) => self.rig.send(Command::Clock {
                at,
                source,
                message,
            }),
            Input::Trouble(title, lines) => self.message(title, lines),
            Input::PlayedBack(replay, samples) => self.rig.play_back(replay, samples),
            Input::Heard(sounded) => {
                let at = self.audio.now();
                let what = EventKind::Heard(sounded);
                self.rig.handle(Event { at, what }, &mut self.outcome);
            }
            Input::End => self.inputs.ask_to_end(),
            Input::Device(name, device, error) => self.device(name, device, error),
            Input::Shown(id, screen, at) => self.shown(id, &screen, at),
        }
    }

    fn edge(&mut self, edge: Edge) {
        if edge.at < self.rig.core.now() {
            self.late_edges += 1;
        }
        self.rig.handle(
            Event {
                at: edge.at,
                what: EventKind::Edge(edge),
            },
            &mut self.outcome,
        );
    }

    fn device(&mut self, name: String, device: DeviceState, error: Option<String>) {
        let known = self.devices.get(&name).map(|(device, _)| *device);
        let is_present = |state: DeviceState| state == DeviceState::Present;
        // A loss is told once, whether it is looked for or has gone altogether.
        if known.is_none_or(|known| is_present(known) != is_present(device)) {
            match &error {
                Some(error) => log::warn!("{name}: {} ({error})", device.name()),
                None => log::info!("{name}: {}", device.name()),
            }
        }
        if known != Some(device) {
            let at = self.audio.now();
            let what = EventKind::Device {
                name: name.clone(),
                state: device,
            };
            self.rig.handle(Event { at, what }, &mut self.outcome);
        }
        self.devices.insert(name, (device, error));
    }

    /// Tells when the recorded pages were really to be seen.
    fn shown(&mut self, id: u64, screen: &str, at: Instant) {
        let at = self.audio.frame_at(at);
        for seen in self.awaited.seen(id, screen) {
            self.outcome
                .lines
                .push(self.rig.log.shown(at, screen, seen));
        }
    }

    fn audio_changed(&mut self, change: Change) -> Result<(), Failure> {
        match change {
            Change::Came(end, rate) => self.audio_came(end, rate),
            Change::Went(why) => {
                self.rig.lose_player();
                let at = self.audio.now();
                self.rig.handle(
                    Event {
                        at,
                        what: EventKind::AudioLost { why },
                    },
                    &mut self.outcome,
                );
            }
            Change::Hung(why) => {
                log::error!("{why}");
                let at = self.audio.now();
                let what = EventKind::AudioLost { why: why.clone() };
                self.rig.handle(Event { at, what }, &mut self.outcome);
                self.hand_on(at);
                self.publish();
                self.keep_place(true);
                tell_systemd(&[sd_notify::NotifyState::Status("the audio server hangs")]);
                return Err(Failure::new(exit::UNAVAILABLE, why));
            }
        }
        Ok(())
    }

    /// Tells the ear what the core asks for.
    fn tend_ear(&mut self) {
        self.hearing
            .listen_for_voice(self.rig.core.listens_to_voice());
        self.hearing.tell_readings(self.rig.core.is_tuning());
    }

    fn audio_came(&mut self, end: PlayerEnd, rate: u32) {
        self.rig.new_player(end, rate);
        if let Some(tap) = self.audio.take_tap() {
            self.hearing.listen_to(tap, rate);
        }
        self.rig
            .send(Command::Follow(self.limits.clock.follow.clone()));
        self.rig.send(Command::Lead(self.limits.clock.send));
        self.ahead = None;
        self.tell_ahead();
        let now = self.audio.now();
        let at = now.plus_ms(RESUME_AFTER_MS, rate);
        self.rig.handle(
            Event {
                at: now,
                what: EventKind::AudioBack { rate, at },
            },
            &mut self.outcome,
        );
    }

    /// The ways in and out change with the connections.
    fn tell_ahead(&mut self) {
        let ahead = self.audio.clock_ahead();
        if ahead.is_some() && ahead != self.ahead {
            self.ahead = ahead;
            self.rig
                .send(Command::ClockAhead(ahead.unwrap_or_default()));
        }
    }

    /// A take with a script begins by itself: when a server and the first phrases are there.
    fn begin_script(&mut self) {
        if self.limits.foot.is_none() || self.begun_at.is_some() || self.rig.end.is_none() {
            return;
        }
        let since = *self.warming.get_or_insert_with(|| {
            self.rig.warm();
            Instant::now()
        });
        if self.rig.is_warm() || since.elapsed() > WARM_UP {
            let (now, rate) = (self.audio.now(), self.rig.rate());
            let base = now.plus_ms(BEGIN_AFTER_MS, rate);
            let (count_in, tempo) = self.rig.core.count_in();
            let steps = self.limits.foot.as_deref().unwrap_or_default();
            self.script = super::super::script::edges(steps, base, count_in, tempo, rate);
            self.begun_at = Some(base);
            let what = EventKind::Begin { at: base };
            self.rig.handle(Event { at: now, what }, &mut self.outcome);
        }
    }

    fn take_notices(&mut self, now: Frame) {
        while let Some(notice) = self.rig.end.as_mut().and_then(PlayerEnd::notice) {
            if let Notice::Midi { frame, bytes, len } = notice {
                let len = usize::from(len).min(bytes.len());
                for edge in self.inputs.midi(&bytes[..len], frame) {
                    self.edge(edge);
                }
            }
            self.rig.handle(
                Event {
                    at: now,
                    what: EventKind::Notice(notice),
                },
                &mut self.outcome,
            );
        }
        while let Some(played) = self.audio.played() {
            self.rig.played(played, &mut self.outcome);
        }
    }

    /// A scripted edge is handed over early, and what it comes to; their stamps decide.
    fn play_script(&mut self, now: Frame) {
        let ahead =
            now.plus_ms(SCRIPT_AHEAD_MS, self.rig.rate()).0 + u64::from(self.audio.period_frames());
        while let Some(edge) = self
            .script
            .front()
            .copied()
            .filter(|edge| edge.at.0 <= ahead)
        {
            self.script.pop_front();
            self.edge(edge);
        }
        // What a held switch comes to is known as early: no edge comes in between.
        let is_known = |at: &Frame| at.0 <= ahead;
        let decided = self.rig.core.next_deadline().filter(is_known);
        if let Some(at) = decided.filter(|_| self.limits.foot.is_some()) {
            let what = EventKind::Tick;
            self.rig.handle(Event { at, what }, &mut self.outcome);
        }
    }

    fn hand_on(&mut self, now: Frame) {
        let pages = std::mem::take(&mut self.outcome.pages);
        // Of several pages at one time only the last can be seen.
        if let Some((page, _)) = pages.last() {
            let id = self.screens.show(page);
            let turned = pages.iter().filter_map(|(_, turned)| *turned);
            turned.for_each(|frame| self.awaited.turned(id, frame));
        }
        if self.begun_at.is_none() && self.rig.core.foot_state() == FootState::CountingIn {
            self.begun_at = Some(now);
        }
        for replay in std::mem::take(&mut self.outcome.replays) {
            self.hearing.play_back(replay);
        }
        for (from, to) in std::mem::take(&mut self.outcome.keeps) {
            self.hearing.keep(from, to);
        }
        self.write_lines();
        if let Some(saved) = self.outcome.saved.take() {
            self.unsaved = Some((saved, Instant::now()));
        }
        self.keep_place(false);
        if self.published.elapsed() >= PUBLISH_EVERY {
            self.tell_ahead();
            self.publish();
        }
    }

    fn write_lines(&mut self) {
        let lines = std::mem::take(&mut self.outcome.lines);
        let Some(events) = self.events.as_mut().filter(|_| !lines.is_empty()) else {
            return;
        };
        let head = self.rig.log.take_head(self.rig.core.seed());
        let all = head
            .into_iter()
            .chain(lines.into_iter().map(|(_, line)| line));
        let written: std::io::Result<()> = all
            .into_iter()
            .try_for_each(|line| writeln!(events, "{line}"));
        if let Err(error) = written.and_then(|()| events.flush()) {
            log::warn!("the event log cannot be written: {error}");
            self.events = None;
        }
    }

    fn keep_place(&mut self, at_once: bool) {
        let Some((saved, since)) = &self.unsaved else {
            return;
        };
        if !at_once && since.elapsed() < KEEP_AFTER {
            return;
        }
        if let Some(path) = &self.limits.place
            && let Err(error) = state::save(path, saved)
        {
            log::warn!("{}: the place cannot be kept: {error}", path.display());
            self.limits.place = None;
        }
        self.unsaved = None;
    }

    fn publish(&mut self) {
        self.published = Instant::now();
        if let Some(frames) = self.audio.way_round_frames() {
            self.hearing.set_latency(frames);
        }
        let devices = self
            .devices
            .iter()
            .map(|(name, (device, error))| (name.clone(), *device, error.clone()))
            .collect();
        let mut counters = vec![
            ("late_edges", self.late_edges),
            ("unheard_blocks", self.hearing.lost()),
            ("lost_midi", self.inputs.lost_midi()),
        ];
        if let Some(end) = &self.rig.end {
            counters.extend(end.counters().all());
            counters.push(("refused_commands", u64::from(end.refused())));
        }
        let status = Status {
            core: self.rig.core.status(),
            jack: self.audio.status(),
            devices,
            counters,
        };
        if let Some(server) = &self.server {
            server.publish(status);
        }
        tell_systemd(&[sd_notify::NotifyState::Watchdog]);
    }

    fn reload(&mut self, read: &dyn Fn() -> Result<Library, Failure>, at: Frame) {
        let what = match read() {
            Ok(library) => EventKind::Reload(Box::new(library)),
            Err(failure) => {
                log::warn!("not taken over: {}", failure.text);
                let lines = failure.text.lines().map(str::to_string).collect();
                EventKind::Message {
                    title: "not taken over".into(),
                    lines,
                }
            }
        };
        self.rig.handle(Event { at, what }, &mut self.outcome);
    }

    fn is_over(&self, now: Frame) -> bool {
        let (Some(seconds), Some(begun)) = (self.limits.seconds, self.begun_at) else {
            return false;
        };
        now.0.saturating_sub(begun.0) as f64 / f64::from(self.rig.rate()) >= seconds
    }

    fn end(&mut self) {
        tell_systemd(&[sd_notify::NotifyState::Stopping]);
        if let Some(end) = &mut self.rig.end {
            let silence = Command::Level {
                at: Frame(0),
                level: Level::Master,
                db: -90.0,
            };
            let quiet = Command::Level {
                at: Frame(0),
                level: Level::Cue,
                db: -90.0,
            };
            let _ = end.send(silence);
            let _ = end.send(quiet);
        }
        std::thread::sleep(FADE_OUT);
        let now = self.audio.now();
        self.rig.handle(
            Event {
                at: now,
                what: EventKind::Act(Action::Panic),
            },
            &mut self.outcome,
        );
        std::thread::sleep(Duration::from_millis(10));
        self.take_notices(now);
        self.hand_on(now);
        self.keep_place(true);
    }

    /// Leaves server, screens and socket in order.
    pub fn leave(self) {
        self.audio.leave();
    }
}

fn tell_systemd(states: &[sd_notify::NotifyState<'_>]) {
    // Without systemd there is no socket to tell; that is no fault.
    let _ = sd_notify::notify(states);
}
