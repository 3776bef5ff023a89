//! The daemon's loop: one thread that takes everything in, lets the core decide, and hands on what follows. It waits for
//! inputs and for nothing else: files, parsing and synthesizers have threads of their own.

use super::super::files::{Failure, exit};
use super::super::rig::{Rig, RigOutcome};
use super::super::status::Status;
use super::devices::Devices;
use super::input::Input;
use super::inputs::Inputs;
use super::manager::Word;
use super::outlets::Outlets;
use super::reloading::Reloading;
use super::scripted::Scripted;
use super::supervise::{AudioChange, AudioSupervisor};
use super::update_watch::Updates;
use crate::audio::{AheadFrames, Command, FollowSettings, Level, Notice, PlayerEnd};
use crate::device::DeviceState;
use crate::fault::printable;
use crate::foot::{Action, FootState};
use crate::pedal::Edge;
use crate::pedal::midi::song_of;
use crate::pedal::script::ScriptedInput;
use crate::practice::{Event, EventKind, Leads};
use crate::time::Frame;
use std::time::{Duration, Instant};

/// A turn of the loop that takes longer is counted as slow: so long an input may have waited.
const SLOW: Duration = Duration::from_millis(5);
/// The status is published and the watchdog fed this often.
pub(super) const PUBLISH_EVERY: Duration = Duration::from_millis(200);
/// From SIGTERM to silence.
const FADE_OUT: Duration = Duration::from_millis(30);
/// From the last command to the last of what was played.
const LAST_CYCLES: Duration = Duration::from_millis(10);
/// A lost take goes on this long after the server came back.
const RESUME_AFTER_MS: f64 = 150.0;

/// The running daemon.
pub struct Live {
    pub(super) rig: Rig,
    pub(super) audio: AudioSupervisor,
    pub(super) inputs: Inputs,
    pub(super) outlets: Outlets,
    pub(super) reloading: Reloading,
    pub(super) script: Scripted,
    pub(super) outcome: RigOutcome,
    pub(super) devices: Devices,
    pub(super) updates: Updates,
    pub(super) published: Instant,
    late_edges: u64,
    slow_turns: u64,
    worst_turn: Duration,
    /// The skills of today's proposal, by the names of its stages.
    pub(super) proposed: Vec<String>,
    /// How much sooner than each clock's stamps ours sound, as the player was told.
    ahead: Option<AheadFrames>,
}

impl Live {
    /// Everything put together; nothing runs yet.
    pub fn new(
        rig: Rig,
        audio: AudioSupervisor,
        inputs: Inputs,
        outlets: Outlets,
        reloading: Reloading,
        script: Scripted,
    ) -> Live {
        Live {
            rig,
            audio,
            inputs,
            outlets,
            reloading,
            script,
            outcome: RigOutcome::default(),
            devices: Devices::default(),
            updates: Updates::default(),
            published: Instant::now(),
            late_edges: 0,
            slow_turns: 0,
            worst_turn: Duration::ZERO,
            proposed: Vec::new(),
            ahead: None,
        }
    }

    /// Shows something the user can mend, at the next rest.
    pub fn message(&mut self, title: String, lines: Vec<String>) {
        // They may quote names of devices and of files.
        let title = printable(&title);
        let lines = lines.iter().map(|line| printable(line)).collect();
        self.handle_now(EventKind::Message { title, lines });
    }

    fn handle(&mut self, at: Frame, what: EventKind) {
        self.rig.handle(Event { at, what }, &mut self.outcome);
    }

    pub(super) fn handle_now(&mut self, what: EventKind) {
        let at = self.audio.now();
        self.handle(at, what);
    }

    /// Runs to the end. A SIGHUP has all files read anew.
    ///
    /// # Errors
    /// When the audio server hangs (69).
    pub fn run(&mut self) -> Result<(), Failure> {
        let clock = self.audio.clock();
        self.inputs.stamp_with(clock);
        let page = self.rig.core.page();
        self.outcome.pages.push((page, None));
        self.turn(None)?;
        // Whoever waited for us and asks now is told how it is.
        self.publish();
        self.outlets.manager.tell(Word::Ready);
        self.look_back();
        self.look_for_proposal();
        self.check_up();
        self.watch_updates();
        loop {
            let patience = self.patience();
            let input = self.inputs.wait(patience);
            let begun = Instant::now();
            let was_playing = self.rig.end.is_some();
            let now = self.turn(input)?;
            self.read_anew();
            // To open or close the audio device takes its time; nothing sounds meanwhile.
            if was_playing && self.rig.end.is_some() {
                let took = begun.elapsed();
                self.slow_turns += u64::from(took > SLOW);
                self.worst_turn = self.worst_turn.max(took);
            }
            if self.inputs.is_ended() || self.script.is_over(now, self.rig.rate()) {
                break;
            }
        }
        self.end();
        Ok(())
    }

    /// All that is there at once; gives its time.
    fn turn(&mut self, first: Option<Input>) -> Result<Frame, Failure> {
        let mut next = first;
        while let Some(input) = next.or_else(|| self.inputs.poll()) {
            self.input(input);
            next = None;
        }
        if let Some(change) = self.audio.look() {
            self.audio_changed(change)?;
        }
        let now = self.audio.now();
        self.take_notices(now);
        self.tend_ear();
        self.script.begin(&mut self.rig, now, &mut self.outcome);
        self.play_script(now);
        self.handle(now, EventKind::Tick);
        self.hand_on(now);
        Ok(now)
    }

    fn input(&mut self, input: Input) {
        match input {
            Input::Edge(edge) => self.edge(edge),
            Input::Song(at, number) => self.handle(at, EventKind::Song(number)),
            Input::Act(action) => self.handle_now(EventKind::Act(action)),
            Input::Clock(at, source, message) => self.rig.send(Command::Clock {
                at,
                source,
                message,
            }),
            Input::Trouble(title, lines) => self.message(title, lines),
            Input::PlayedBack(replay, samples) => self.rig.play_back(replay, samples),
            Input::Heard(told) => {
                let told = told.into_iter().map(EventKind::Heard);
                told.for_each(|what| self.handle_now(what));
            }
            Input::End => self.inputs.ask_to_end(),
            Input::Device(name, device, error) => self.device(name, device, error),
            Input::Shown(id, screen, at) => {
                let (at, shown) = (self.audio.frame_at(at), (id, screen.as_str()));
                self.outlets.shown(shown, at, &self.rig, &mut self.outcome);
            }
            Input::WeakSpots(found) => self.weak_spots(found),
            Input::Known(known) => self.handle_now(EventKind::Known(known)),
            Input::Proposal(proposal) => self.propose(proposal),
            Input::Report(told) => self.report(told),
            Input::BandSound(sound) => self.band_loaded(*sound),
            Input::LateBand(late) => self.band_joins(*late),
            Input::FilesChanged(writing) => self.reloading.changed = Some(writing),
            Input::Update(told) => self.update(told),
            Input::Reloaded(read) => self.reloaded(*read),
            Input::Dismissed(names) => self.dismissed(names),
            Input::Renewed => self.renewed(),
        }
    }

    fn edge(&mut self, edge: Edge) {
        if edge.at < self.rig.core.now() {
            self.late_edges += 1;
        }
        self.handle(edge.at, EventKind::Edge(edge));
    }

    fn device(&mut self, name: String, state: DeviceState, reason: Option<String>) {
        let news = self.devices.take(&name, state, reason);
        if news.is_new {
            let name = name.clone();
            self.handle_now(EventKind::Device { name, state });
        }
        if let Some(doubt) = news.doubt {
            self.message(name, vec![doubt]);
        }
    }

    fn audio_changed(&mut self, change: AudioChange) -> Result<(), Failure> {
        match change {
            AudioChange::Came(end, rate) => self.audio_came(end, rate),
            AudioChange::Went(why) => {
                self.rig.lose_player();
                self.handle_now(EventKind::AudioLost { why });
            }
            AudioChange::Hung(why) => {
                log::error!("{why}");
                let at = self.audio.now();
                self.handle(at, EventKind::AudioLost { why: why.clone() });
                self.hand_on(at);
                self.publish();
                self.outlets.manager.tell(Word::AudioHangs);
                self.outlets.finish();
                return Err(Failure::new(exit::UNAVAILABLE, why));
            }
        }
        Ok(())
    }

    /// Tells the ear what the core asks for, and the core how far an ear is that sleeps.
    fn tend_ear(&mut self) {
        let (hearing, core) = (&mut self.outlets.hearing, &self.rig.core);
        hearing.listen_for_voice(core.listens_to_voice());
        hearing.tell_readings(core.is_tuning());
        hearing.check_input(core.checks_input());
        if let Some(told) = hearing.tend() {
            self.handle_now(EventKind::Heard(told));
        }
    }

    fn audio_came(&mut self, end: PlayerEnd, rate: u32) {
        self.rig.new_player(end, rate);
        if let Some(tap) = self.audio.take_tap() {
            self.outlets.hearing.listen_to(tap, rate);
        }
        self.send_leads(self.rig.core.leads());
        self.ahead = None;
        self.tell_ahead();
        let now = self.audio.now();
        let at = now.plus_ms(RESUME_AFTER_MS, rate);
        self.handle(now, EventKind::AudioBack { rate, at });
    }

    /// Tells the player which clocks it follows, and whether it sends its own: as configured, unless the tune that is on
    /// says who leads.
    pub(super) fn send_leads(&mut self, leads: Option<Leads>) {
        let clock = &self.reloading.config.clock;
        let follow = match leads {
            Some(Leads::We) => FollowSettings {
                order: Default::default(),
                ..clock.follow.clone()
            },
            Some(Leads::They) | None => clock.follow.clone(),
        };
        let send = clock.send && leads != Some(Leads::They);
        self.rig.send(Command::Follow(follow));
        self.rig.send(Command::Lead(send));
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

    fn take_notices(&mut self, now: Frame) {
        while let Some(notice) = self.rig.end.as_mut().and_then(PlayerEnd::notice) {
            if let Notice::Midi { frame, bytes, len } = notice {
                let len = usize::from(len).min(bytes.len());
                let edges = self.inputs.midi(&bytes[..len], frame);
                let song = song_of(&bytes[..len]).filter(|_| edges.is_empty());
                edges.into_iter().for_each(|edge| self.edge(edge));
                if let Some(number) = song {
                    self.handle(frame, EventKind::Song(number));
                }
            }
            self.handle(now, EventKind::Notice(notice));
        }
        while let Some(played) = self.audio.played() {
            self.rig.played(played, &mut self.outcome);
        }
    }

    /// What a scripted foot does is known ahead.
    fn play_script(&mut self, now: Frame) {
        let (rate, period) = (self.rig.rate(), self.audio.period_frames());
        let Some(known) = self.script.known_until(now, rate, period) else {
            return;
        };
        while let Some(input) = self.script.input_until(known) {
            match input {
                ScriptedInput::Edge(edge) => self.edge(edge),
                ScriptedInput::Song(at, number) => self.handle(at, EventKind::Song(number)),
            }
        }
        // What a held switch comes to is known as early: no edge comes in between.
        if let Some(at) = self.rig.core.next_deadline().filter(|at| *at <= known) {
            self.handle(at, EventKind::Tick);
        }
    }

    fn hand_on(&mut self, now: Frame) {
        // The wish stays until whatever is read meanwhile is in force.
        if self.outcome.weak_spots && self.reloading.is_free() {
            self.outcome.weak_spots = false;
            let chart = self.rig.core.written_chart().cloned();
            self.reloading.weak_spots(chart, self.inputs.sender());
        }
        if let Some(leads) = self.outcome.clock.take() {
            self.send_leads(leads);
        }
        self.ask_journal();
        self.tend_updates();
        self.outlets.hand_on(&mut self.rig, &mut self.outcome);
        if self.rig.core.foot_state() == FootState::CountingIn {
            self.script.has_begun(now);
        }
        if self.published.elapsed() >= PUBLISH_EVERY {
            self.tell_ahead();
            self.publish();
        }
    }

    pub(super) fn publish(&mut self) {
        self.published = Instant::now();
        if let Some(frames) = self.audio.way_round_frames() {
            self.outlets.hearing.set_latency(frames);
            let input = self.audio.input_comes_from();
            self.outlets.hearing.comes_from(input);
        }
        let mut counters = vec![
            ("late_edges", self.late_edges),
            ("slow_turns", self.slow_turns),
            ("worst_turn_us", self.worst_turn.as_micros() as u64),
            ("unheard_blocks", self.outlets.hearing.lost()),
            ("lost_lines", self.outlets.keeper.lost_lines()),
        ];
        counters.extend(self.outlets.diary.counters());
        counters.extend(self.inputs.counters());
        counters.extend(self.audio.lost());
        counters.extend(self.rig.counts());
        let status = Status {
            core: self.rig.core.status(),
            jack: self.audio.status(),
            devices: self.devices.all(),
            counters,
            reload: self.reloading.last.clone(),
        };
        self.outlets.publish(status, self.audio.goes_on());
    }

    /// Fades out, lets go of all notes, and has everything kept.
    fn end(&mut self) {
        self.outlets.manager.tell(Word::Stopping);
        if let Some(end) = &mut self.rig.end {
            for level in [Level::Master, Level::Cue] {
                let (at, db) = (Frame(0), -90.0);
                let _ = end.send(Command::Level { at, level, db });
            }
        }
        std::thread::sleep(FADE_OUT);
        let now = self.audio.now();
        self.handle(now, EventKind::Act(Action::Panic));
        std::thread::sleep(LAST_CYCLES);
        self.take_notices(now);
        self.hand_on(now);
        self.outlets.finish();
    }

    /// Leaves server, screens and socket in order.
    pub fn leave(self) {
        self.audio.leave();
    }
}
