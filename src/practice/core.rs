//! The core's state, and what every part of it does with it: look, show, record, save.

use super::board::Board;
use super::clock_link::{ClockLink, ClockStatus};
use super::event::{Effect, Record, Recorded, Saved};
use super::page::page;
use super::running::{Running, State};
use super::session::Session;
use super::settings::{ACTION_DELAY_MS, Library, Settings};
use super::telling::{page_record, vocabulary};
use super::view::View;
use super::voice::VoiceCues;
use crate::audio::{ClockSource, Command, Level};
use crate::chart::Chart;
use crate::clock::ClockState;
use crate::clock::tap::TapTempo;
use crate::display::Page;
use crate::drill::Phase;
use crate::foot::{FootState, Gestures};
use crate::harmony::Key;
use crate::judging::{PassRecords, Readiness, Summary, Sureness};
use crate::plan::Loop;
use crate::speech::PhraseSet;
use crate::time::{Frame, Tick, UsPerQuarter};

/// What the status command tells of the core.
#[derive(Debug, Clone, PartialEq)]
pub struct CoreStatus {
    /// stopped, counting in, playing, menu.
    pub state: &'static str,
    /// What is practised; none while there is no chart.
    pub chart: Option<String>,
    pub stage: Option<String>,
    pub section: Option<String>,
    /// Bar in the section.
    pub bar: Option<u32>,
    /// Quarter notes a minute.
    pub qpm: f64,
    /// Dotted quarters a minute, where the meter counts those.
    pub dotted_qpm: Option<u32>,
    /// The clock that counts.
    pub clock: ClockStatus,
}

/// What was told last in the event log, so that only what changes is told.
#[derive(Debug, Default)]
pub(super) struct LastTold {
    /// The stage, and the drill's title.
    pub stage: Option<(usize, String)>,
    /// The tune of the set.
    pub tune: Option<usize>,
    pub key: Option<Key>,
}

/// What was practised since the start of the program.
#[derive(Debug, Default)]
pub(super) struct Practised {
    /// Takes begun, jumps included.
    pub takes: u32,
    /// Passes of music begun.
    pub passes: u32,
    /// When the first take since the last long rest began.
    pub since: Option<Frame>,
    /// Where the take that plays, or the last one, began and ended.
    pub last_take: Option<(Frame, Option<Frame>)>,
    /// The take before it, which is the last one again where nothing came of a start but a menu.
    pub take_before: Option<(Frame, Option<Frame>)>,
}

/// What the player has of us: numbers go on whatever plays.
#[derive(Debug, Default)]
pub(super) struct Sent {
    /// The epoch of the newest bars.
    pub epoch: u32,
}

/// The switches, and what a press of them has begun.
#[derive(Debug)]
pub(super) struct Feet {
    pub gestures: Gestures,
    pub taps: TapTempo,
    /// The press that began the take, by switch: held on, it means what it would have meant at rest.
    pub began_by: Option<(u8, Frame)>,
}

/// The core: events in, effects out.
#[derive(Debug)]
pub struct Core {
    pub(super) settings: Settings,
    pub(super) session: Session,
    pub(super) state: State,
    pub(super) board: Board,
    pub(super) feet: Feet,
    pub(super) voice: VoiceCues,
    pub(super) heard: PassRecords,
    pub(super) readiness: Readiness,
    /// What is known of the player from other days, where that is kept.
    pub(super) known: Option<Box<dyn Sureness>>,
    pub(super) summary: Summary,
    pub(super) clock: ClockLink,
    pub(super) told: LastTold,
    pub(super) practised: Practised,
    pub(super) sent: Sent,
    /// The frame up to which everything is served.
    pub(super) now: Frame,
    pub(super) out: Vec<Effect>,
}

impl Core {
    /// A core at rest. `saved` is where the last session ended, if it still fits.
    pub fn new(library: Library, settings: Settings, saved: Option<&Saved>) -> Core {
        let mut core = Core {
            session: Session::new(library, &settings, saved),
            state: State::Rest { paused_bar: None },
            board: Board::default(),
            feet: Feet {
                gestures: Gestures::new(&settings.switches, settings.rate),
                taps: TapTempo::new(settings.rate),
                began_by: None,
            },
            voice: VoiceCues::default(),
            heard: PassRecords::new(settings.rate),
            readiness: Readiness::default(),
            known: None,
            summary: Summary::default(),
            clock: ClockLink::default(),
            told: LastTold::default(),
            practised: Practised::default(),
            sent: Sent::default(),
            now: Frame(0),
            out: Vec::new(),
            settings,
        };
        core.bind_switches();
        core
    }

    /// What it is doing.
    pub fn foot_state(&self) -> FootState {
        self.foot_state_at(self.now)
    }

    /// What `underfoot status` tells.
    pub fn status(&self) -> CoreStatus {
        let view = self.view();
        let (section, bar) = view.place();
        let there_is = !self.session.is_blank();
        CoreStatus {
            state: match self.foot_state() {
                FootState::Stopped => "stopped",
                FootState::CountingIn => "counting in",
                FootState::Playing => "playing",
                FootState::Menu => "menu",
            },
            chart: there_is.then(|| self.session.material.chart.title.clone()),
            stage: there_is.then(|| self.session.stage().name.clone()),
            section: there_is.then_some(section),
            bar,
            qpm: self.clock.tempo.unwrap_or(self.session.tempo_here()).qpm(),
            dotted_qpm: view.dotted_qpm(),
            clock: self.clock.status(),
        }
    }

    /// The titles of the chart and of the drill that are practised.
    pub fn practised(&self) -> (&str, &str) {
        let material = &self.session.material;
        (&material.chart.title, &material.drill.title)
    }

    /// The chart that is practised, as it is written; none where there is none yet.
    pub fn written_chart(&self) -> Option<&Chart> {
        self.session.written_chart()
    }

    /// Whether a library has other charts than what is practised, and another drill.
    pub fn differs_from(&self, library: &Library) -> (bool, bool) {
        self.session.differs_from(library)
    }

    /// Whether there is no chart yet.
    pub fn is_blank(&self) -> bool {
        self.session.is_blank()
    }

    /// The phrases that practising from here may need, for rendering ahead.
    pub fn vocabulary(&self) -> Vec<PhraseSet> {
        vocabulary(&self.session.material, &self.settings)
    }

    /// The page as it stands now: for a screen that has just come.
    pub fn page(&self) -> Page {
        page(&self.view())
    }

    /// The frame up to which everything is served.
    pub fn now(&self) -> Frame {
        self.now
    }

    /// The length of the count-in that a take from here begins with, and the tempo.
    pub fn count_in(&self) -> (Tick, UsPerQuarter) {
        let session = &self.session;
        let counts = session.material.played().count_in_bars != Some(0);
        let count = match session.stage().pulse && counts {
            true => session
                .here()
                .count_len(false, session.tempo_here(), &session.passes),
            false => Tick(0),
        };
        (count, session.tempo_here())
    }

    /// Goes to a stage and to one section or the whole form, before a take begins.
    pub fn stand(&mut self, stage: usize, whole_form: bool) {
        let session = &mut self.session;
        session.standing.stage = stage.min(session.material.drill.stages.len() - 1);
        let standing = session
            .standing
            .clone()
            .as_its_stage_says(&session.material);
        session.standing = standing.opening(&session.material);
        if whole_form {
            session.standing.looping = Loop::Form;
        }
    }

    /// Sets the tempo before a take begins, in quarter notes a minute (30 to 300).
    pub fn set_start_tempo(&mut self, qpm: f64) {
        self.session.set_tempo(qpm);
    }

    /// Chooses where there is a choice.
    pub fn seed(&self) -> u64 {
        self.session.passes.seed
    }

    /// Passes of music begun since the start of the program.
    pub fn passes_begun(&self) -> u32 {
        self.practised.passes
    }

    /// Whether the player is asked to sing now.
    pub fn listens_to_voice(&self) -> bool {
        self.running().is_some() && self.phase() == Phase::Sing
    }

    /// Whether readings of the pitch are asked for.
    pub fn is_tuning(&self) -> bool {
        self.board.tuner.is_some() && self.running().is_none()
    }

    /// The take that plays.
    pub(super) fn running(&self) -> Option<&Running> {
        match &self.state {
            State::Playing(running) => Some(running),
            State::Rest { .. } => None,
        }
    }

    /// The take that plays, to be changed.
    pub(super) fn running_mut(&mut self) -> Option<&mut Running> {
        match &mut self.state {
            State::Playing(running) => Some(running),
            State::Rest { .. } => None,
        }
    }

    /// The tick of the take that sounds now; `None` at rest.
    pub(super) fn tick_now(&self) -> Option<Tick> {
        self.running().map(|running| running.plan.tick(self.now))
    }

    /// Everything as it is now, to be looked at.
    pub(super) fn view(&self) -> View<'_> {
        let since = self.practised.since.unwrap_or(self.now);
        let frames = self.now.0 - since.0.min(self.now.0);
        View {
            settings: &self.settings,
            session: &self.session,
            running: self.running(),
            paused_bar: match self.state {
                State::Rest { paused_bar } => paused_bar,
                State::Playing(_) => None,
            },
            board: &self.board,
            heard: &self.heard,
            summary: &self.summary,
            now: self.now,
            minutes: frames / (60 * u64::from(self.settings.rate)),
            lost_clock: self.lost_clock(),
        }
    }

    /// Whether a clock from outside drives the take.
    pub(super) fn is_driven(&self) -> bool {
        let running = self.running();
        running.is_some_and(|running| running.driven_since.is_some())
    }

    /// The clock that went silent while it drives the take.
    pub(super) fn lost_clock(&self) -> Option<ClockSource> {
        let (source, state) = self.clock.told?;
        (self.is_driven() && state == ClockState::Holding).then_some(source)
    }

    /// Whether a chord is held out of time.
    pub(super) fn is_held(&self) -> bool {
        self.running().is_some() && !self.session.stage().pulse
    }

    /// When an action given on `stamp` takes effect at the earliest.
    pub(super) fn earliest(&self, stamp: Frame) -> Frame {
        stamp.plus_ms(ACTION_DELAY_MS, self.settings.rate)
    }

    /// The tick of the take at which an action given on `stamp` takes effect. While the audio server is gone the take
    /// stands where it was lost.
    pub(super) fn tick_of(&self, stamp: Frame) -> Tick {
        let at = match self.board.no_sound {
            Some(_) => self.now,
            None => self.earliest(stamp),
        };
        let running = self.running();
        running.map_or(Tick(0), |running| running.plan.tick(at))
    }

    pub(super) fn send(&mut self, command: Command) {
        self.out.push(Effect::Audio(command));
    }

    /// Sends the level, to be heard from `at` on.
    pub(super) fn send_levels(&mut self, at: Frame) {
        self.send(Command::Level {
            at,
            level: Level::Master,
            db: self.session.master_db - self.board.quiet_start.below_db(),
        });
    }

    /// Keeps the place to come back to.
    pub(super) fn save(&mut self) {
        // Without a chart there is no place; the one of the last session may fit again.
        if self.session.is_blank() {
            return;
        }
        self.out.push(Effect::Save(self.session.saved()));
    }

    /// Shows the page as it stands.
    pub(super) fn refresh(&mut self) {
        let page = self.page();
        self.out.push(Effect::Show(page));
    }

    /// Shows and records the page: after a press, so that it is acknowledged.
    pub(super) fn acknowledge(&mut self) {
        self.refresh();
        let what = page_record(&self.view());
        match self.tick_now() {
            Some(at) => self.record(at, what),
            None => self.record_on(self.now, what),
        }
    }

    /// A line of the event log at a tick of the take.
    pub(super) fn record(&mut self, at: Tick, what: Recorded) {
        let Some(running) = self.running() else {
            return self.record_on(self.now, what);
        };
        let frame = running.plan.frame(at);
        self.push_record(frame, Some(at), what);
    }

    /// A line of the event log on a frame.
    pub(super) fn record_on(&mut self, frame: Frame, what: Recorded) {
        let running = self.running();
        let tick = running.map(|running| running.plan.tick(frame));
        self.push_record(frame, tick, what);
    }

    fn push_record(&mut self, frame: Frame, tick: Option<Tick>, what: Recorded) {
        let view = self.view();
        let (section, bar) = tick.map_or_else(|| view.place(), |tick| view.place_at(tick));
        let record = Record {
            frame,
            tick,
            bar,
            section,
            stage: self.session.stage().name.clone(),
            pass: self.session.standing.pass + 1,
            what,
        };
        self.out.push(Effect::Record(record));
    }
}
