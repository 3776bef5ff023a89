//! The core: events in, effects out. It decides by stamps alone, never by when an event happened to arrive, so
//! the daemon and the offline renderer come to the same music.
mod clockwork;
mod cues;
mod heard;
mod log;
mod ready;
mod told;

use self::cues::Handed;
use self::log::Done;
use crate::practice::doing::Reloading;

use crate::audio::{Command, Level};
use crate::chart::Chart;
use crate::clock::tap::TapTempo;
use crate::display::Page;
use crate::drill::{Drill, Names};
use crate::foot::{FootMap, FootState, Gestures, Menu, SwitchSettings};
use crate::harmony::Habits;
use crate::judging::{PassRecords, Readiness, Rules, Summary};
use crate::plan::cursor::Cursor;
use crate::plan::material::Material;
use crate::plan::pass::{Pass, PassSettings};
use crate::plan::standing::Standing;
use crate::plan::take::TakePlan;
use crate::practice::doing::Finding;
use crate::practice::event::{Effect, Event, EventKind, Saved};
use crate::practice::show;
use crate::practice::tuning::Tuner;
use crate::speech::{FormLimit, PhraseSet};
use crate::time::{Frame, Tick, UsPerQuarter};
use std::collections::VecDeque;
use std::sync::Arc;

/// From a press to its effect: constant, so that what is heard does not depend on who was quick.
pub const ACTION_DELAY_MS: f64 = 10.0;
/// Edges may arrive this much after their stamp and still be taken exactly; less than the delay of an action.
pub(super) const EDGE_SLACK_MS: f64 = 5.0;

/// What the core is set up with.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Frames a second.
    pub rate: u32,
    /// Chooses where there is a choice.
    pub seed: u64,
    /// Tempo in per cent of the chart's.
    pub tempo_per_cent: f64,
    /// Quarter notes a minute of one "tempo up".
    pub tempo_step_qpm: f64,
    /// dB of one "louder".
    pub level_step_db: f32,
    /// The master level at the start, in dB.
    pub master_db: f32,
    /// How notes are named.
    pub names: Names,
    /// The neck that notes are looked for on.
    pub neck: crate::fretboard::Neck,
    /// After how much playing the breath suggests to rest the hands, in minutes; 0: never.
    pub rest_after_min: u32,
    /// Where teachers differ.
    pub habits: Habits,
    /// What is said at all.
    pub spoken: Spoken,
    /// When a note is right.
    pub rules: Rules,
    /// The A above middle C in Hz, for tuning.
    pub a4_hz: f64,
    /// Whether the summary of a round is spoken, too.
    pub spoken_summary: bool,
    /// What the switches do.
    pub map: FootMap,
    /// The switches.
    pub switches: Vec<SwitchSettings>,
}

/// What is said at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Spoken {
    /// What the stage asks for.
    #[default]
    Drill,
    /// Only names of stages and sections, never notes.
    Sections,
    /// Nothing but answers to "say again".
    Asked,
}

/// The charts to choose from and the drill.
#[derive(Debug, Clone)]
pub struct Library {
    /// At least one chart.
    pub charts: Vec<Chart>,
    /// The drill.
    pub drill: Drill,
}

/// A cue that the player was given.
#[derive(Debug, Clone)]
pub(super) struct Awaited {
    pub id: u32,
    pub phrases: PhraseSet,
    pub limit: FormLimit,
    pub deadline: Option<Tick>,
    pub index: Option<usize>,
}

/// What the status command tells of the core.
#[derive(Debug, Clone, PartialEq)]
pub struct CoreStatus {
    /// stopped, counting in, playing, menu.
    pub state: &'static str,
    /// The chart's title.
    pub chart: String,
    /// The stage's name.
    pub stage: String,
    /// The section's name.
    pub section: String,
    /// Bar in the section.
    pub bar: Option<u32>,
    /// Quarter notes a minute.
    pub qpm: f64,
    /// Dotted quarters a minute, where the meter counts those.
    pub dotted_qpm: Option<u32>,
    /// The clock that counts.
    pub clock: ClockStatus,
}

/// What the status command tells of the clock.
#[derive(Debug, Clone, PartialEq)]
pub struct ClockStatus {
    /// jack, serial, internal.
    pub source: &'static str,
    /// own, waiting, locking, locked, holding.
    pub state: &'static str,
    /// How far the master's ticks usually are off, in ms.
    pub jitter_ms: f64,
    /// Ticks of it that did not come.
    pub lost: u32,
}

/// A chord that is held out of time.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeldChord {
    /// The take, which a jump begins anew.
    pub(super) take: u32,
    pub(super) form_chord: usize,
    pub(super) since: Tick,
}

/// The core.
#[derive(Debug)]
pub struct Core {
    pub(super) settings: Settings,
    pub(super) library: Library,
    pub(super) chart: usize,
    pub(super) material: Arc<Material>,
    pub(super) standing: Standing,
    pub(super) tempo: UsPerQuarter,
    pub(super) playing: PassSettings,
    pub(super) master_db: f32,
    pub(super) take: Option<TakePlan>,
    pub(super) menu: Option<Menu>,
    pub(super) message: Option<Page>,
    pub(super) lost: Option<String>,
    pub(super) devices: Vec<String>,
    pub(super) taps: TapTempo,
    pub(super) gestures: Gestures,
    pub(super) now: Frame,
    pub(super) bar_ids: u32,
    pub(super) epoch: u32,
    pub(super) cue_ids: u32,
    pub(super) awaited: VecDeque<Awaited>,
    pub(super) handed: VecDeque<Handed>,
    pub(super) reloading: Option<Reloading>,
    /// The press that began the take, by switch: held on, it means what it would have meant at rest.
    pub(super) began_by: Option<(u8, Frame)>,
    /// What was done last, shown for a moment.
    pub(super) done: Option<Done>,
    pub(super) last_stage: Option<(usize, String)>,
    pub(super) last_section: Option<(usize, usize)>,
    /// Whether the stage that plays was announced since the start.
    pub(super) announced: Option<usize>,
    /// The key of the last pass.
    pub(super) last_key: Option<String>,
    /// The chord that is held out of time.
    pub(super) last_held: Option<HeldChord>,
    /// Where the take that plays, or the last one, began and ended.
    pub(super) last_take: Option<(Frame, Option<Frame>)>,
    /// When the first take since the last long rest began.
    pub(super) began: Option<Frame>,
    pub(super) passes_begun: u32,
    /// Whether a take was stopped in the middle.
    pub(super) paused_bar: Option<u32>,
    pub(super) clocked: super::clocked::Clocked,
    pub(super) hearing: PassRecords,
    pub(super) readiness: Readiness,
    pub(super) summary: Summary,
    /// What is found of a stage out of time.
    pub(super) finding: Finding,
    /// Set while the page for tuning stands.
    pub(super) tuning: Option<Tuner>,
    /// Takes begun, jumps included: times of one say nothing in another.
    pub(super) takes: u32,
    pub(super) out: Vec<Effect>,
}

impl Core {
    /// A core at rest. `saved` is where the last session ended, if it still fits.
    ///
    /// # Panics
    /// When the library has no chart.
    pub fn new(library: Library, settings: Settings, saved: Option<&Saved>) -> Core {
        let found = saved.and_then(|saved| {
            library
                .charts
                .iter()
                .position(|chart| chart.title == saved.title)
        });
        let chart = found.unwrap_or(0);
        let mut material = Material::new(
            library.charts[chart].clone(),
            library.drill.clone(),
            settings.habits.clone(),
        )
        .with_seed(settings.seed);
        let mut standing = Standing::first();
        let mut qpm = material.chart.tempo_qpm * settings.tempo_per_cent / 100.0;
        let mut master_db = settings.master_db;
        if let Some(saved) = saved.filter(|_| found.is_some()) {
            if let Some(key) = saved.key.as_ref().and_then(|key| key.parse().ok()) {
                material = material.in_key(key);
            }
            standing.stage = saved.stage.min(material.drill.stages.len() - 1);
            standing = standing.in_section(saved.item.min(material.form.items().saturating_sub(1)));
            qpm = saved.tempo_qpm.clamp(30.0, 300.0);
            master_db = saved.master_db.clamp(-60.0, 0.0);
        }
        let gestures = Gestures::new(&settings.switches, settings.rate);
        let playing = PassSettings {
            neck: settings.neck.clone(),
            seed: settings.seed,
            muted: Vec::new(),
            model: None,
        };
        let mut core = Core {
            chart,
            material: Arc::new(material),
            standing,
            tempo: UsPerQuarter::from_qpm(qpm),
            playing,
            master_db,
            take: None,
            menu: None,
            message: None,
            lost: None,
            devices: Vec::new(),
            taps: TapTempo::new(settings.rate),
            gestures,
            now: Frame(0),
            bar_ids: 0,
            epoch: 0,
            cue_ids: 0,
            awaited: VecDeque::new(),
            handed: VecDeque::new(),
            reloading: None,
            began_by: None,
            done: None,
            last_stage: None,
            last_section: None,
            announced: None,
            last_key: None,
            last_held: None,
            last_take: None,
            began: None,
            passes_begun: 0,
            paused_bar: None,
            clocked: super::clocked::Clocked::default(),
            hearing: PassRecords::new(settings.rate),
            readiness: Readiness::default(),
            summary: Summary::default(),
            finding: Finding::default(),
            tuning: None,
            takes: 0,
            out: Vec::new(),
            settings,
            library,
        };
        core.bind_switches();
        core
    }

    /// Takes an event in and appends what is to be done to `effects`. Events must come in the order of their
    /// stamps, but for edges, which may be a little behind: they count by their own stamp.
    pub fn handle(&mut self, event: Event, effects: &mut Vec<Effect>) {
        let at = Frame(event.at.0.max(self.now.0));
        self.run_until(at);
        match event.what {
            EventKind::Edge(edge) => {
                for gesture in self.gestures.edge(edge) {
                    self.gesture(gesture);
                }
            }
            EventKind::Act(action) => self.act(action, event.at),
            EventKind::Begin { at } => {
                self.begin(at);
                self.bind_switches();
            }
            EventKind::Notice(notice) => self.notice(notice),
            EventKind::AudioLost { why } => self.audio_lost(why),
            EventKind::AudioBack { rate, at } => self.audio_back(at, rate),
            EventKind::Reload(library) => self.reload(*library),
            EventKind::Device { name, state } => self.device(&name, state),
            EventKind::Message { title, lines } => {
                self.message = Some(Page::Message { title, lines });
                self.refresh();
            }
            EventKind::Heard(sounded) => self.sounded(sounded),
            EventKind::Tick => {}
        }
        self.judge_due();
        self.go_on_when_found();
        self.keep_home();
        effects.append(&mut self.out);
    }

    /// When the core wants to be called at the latest, if a gesture is waiting.
    pub fn next_deadline(&self) -> Option<Frame> {
        let certain = self.gestures.next_deadline()?;
        Some(Frame(
            certain.plus_ms(EDGE_SLACK_MS, self.settings.rate).0 + 1,
        ))
    }

    /// What it is doing.
    pub fn foot_state(&self) -> FootState {
        self.foot_state_at(self.now)
    }

    /// What `underfoot status` tells.
    pub fn status(&self) -> CoreStatus {
        let (section, bar) = self.where_now();
        CoreStatus {
            state: match self.foot_state() {
                FootState::Stopped => "stopped",
                FootState::CountingIn => "counting in",
                FootState::Playing => "playing",
                FootState::Menu => "menu",
            },
            chart: self.material.chart.title.clone(),
            stage: self.standing.stage_of(&self.material).name.clone(),
            section,
            bar,
            qpm: self.clocked.tempo.unwrap_or(self.tempo).qpm(),
            dotted_qpm: show::dotted_qpm(self),
            clock: self.clock_status(),
        }
    }

    /// The phrases that practising from here may need, for rendering ahead.
    pub fn vocabulary(&self) -> Vec<PhraseSet> {
        show::vocabulary(&self.material, self.settings.names)
    }

    /// The page as it stands now: for a screen that has just come.
    pub fn page(&self) -> Page {
        show::page(self)
    }

    /// The frame up to which everything is served.
    pub fn now(&self) -> Frame {
        self.now
    }

    /// The length of the count-in that a take from here begins with, and the tempo.
    pub fn count_in(&self) -> (Tick, UsPerQuarter) {
        let pulse = self.standing.stage_of(&self.material).pulse;
        if !pulse {
            return (Tick(0), self.tempo);
        }
        let standing = self.standing.clone();
        let count = Pass::count_in(&self.material, standing, false, self.tempo, &self.playing);
        (count.lap.len, self.tempo)
    }

    /// Goes to a stage and to one section or the whole form, before a take begins.
    pub fn stand(&mut self, stage: usize, whole_form: bool) {
        self.standing.stage = stage.min(self.material.drill.stages.len() - 1);
        if whole_form {
            self.standing.looping = crate::plan::Loop::Form;
        }
    }

    /// Sets the tempo before a take begins, in quarter notes a minute (30 to 300).
    pub fn set_start_tempo(&mut self, qpm: f64) {
        self.tempo = UsPerQuarter::from_qpm(qpm.clamp(30.0, 300.0));
    }

    /// Chooses where there is a choice.
    pub fn seed(&self) -> u64 {
        self.playing.seed
    }

    /// What is practised.
    pub fn material(&self) -> &Material {
        &self.material
    }

    /// Passes of music begun since the start of the program.
    pub fn passes_begun(&self) -> u32 {
        self.passes_begun
    }

    /// Minutes since this spell of practising began.
    pub(super) fn minutes(&self) -> u64 {
        let began = self.began.unwrap_or(self.now);
        (self.now.0 - began.0.min(self.now.0)) / (60 * u64::from(self.settings.rate))
    }

    fn device(&mut self, name: &str, state: crate::device::DeviceState) {
        self.devices.retain(|device| device != name);
        if state != crate::device::DeviceState::Present {
            self.devices.push(name.to_string());
        }
        self.refresh();
    }

    /// Sends the level, to be heard from `at` on.
    pub(super) fn send_levels(&mut self, at: Frame) {
        self.out.push(Effect::Audio(Command::Level {
            at,
            level: Level::Master,
            db: self.master_db,
        }));
    }

    /// The cursor of the present standing.
    pub(super) fn here(&self) -> Cursor {
        Cursor::pass(&self.material, self.standing.clone())
    }

    /// When an action given on `stamp` takes effect at the earliest.
    pub(super) fn earliest(&self, stamp: Frame) -> Frame {
        stamp.plus_ms(ACTION_DELAY_MS, self.settings.rate)
    }
}
