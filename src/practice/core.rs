//! The core: events in, effects out. It decides by stamps alone, never by when an event happened to arrive, so
//! the daemon and the offline renderer come to the same music.

use super::action::Action;
use super::event::{Effect, Event, Record, Recorded, Saved, Saying, What};
use super::footmap::{FootMap, FootState};
use super::gesture::{Gesture, Gestures, SwitchSettings};
use super::menu::Menu;
use super::pass::{Pass, PassKind, Playing};
use super::plan::{Cursor, Due, Take};
use super::{Material, Standing, show};
use crate::audio::{Command, CueForm, Level, Notice};
use crate::chart::Chart;
use crate::clock::tap::TapTempo;
use crate::display::Page;
use crate::drill::{Drill, Names};
use crate::harmony::Habits;
use crate::speech::{FormLimit, PhraseSet};
use crate::time::{Frame, Tick, UsPerQuarter};
use std::collections::VecDeque;
use std::sync::Arc;

/// From a press to its effect: constant, so that what is heard does not depend on who was quick.
pub const ACTION_DELAY_MS: f64 = 10.0;
/// Edges may arrive this much after their stamp and still be taken exactly; less than [`ACTION_DELAY_MS`].
const EDGE_SLACK_MS: f64 = 5.0;
/// Cues that wait for the player's word at most; older ones are taken as not said.
const CUES_AWAITED: usize = 32;

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
    /// What the switches do.
    pub map: FootMap,
    /// The switches.
    pub switches: Vec<SwitchSettings>,
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

/// The core.
#[derive(Debug)]
pub struct Core {
    pub(super) settings: Settings,
    pub(super) library: Library,
    pub(super) chart: usize,
    pub(super) material: Arc<Material>,
    pub(super) standing: Standing,
    pub(super) tempo: UsPerQuarter,
    pub(super) playing: Playing,
    pub(super) master_db: f32,
    pub(super) take: Option<Take>,
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
    pub(super) last_stage: Option<(usize, String)>,
    pub(super) last_section: Option<(usize, usize)>,
    /// Whether the stage that plays was announced since the start.
    pub(super) announced: Option<usize>,
    /// When the first take since the last long rest began.
    pub(super) began: Option<Frame>,
    pub(super) passes_begun: u32,
    /// Whether a take was stopped in the middle.
    pub(super) paused_bar: Option<u32>,
    pub(super) clocked: super::clocked::Clocked,
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
        );
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
        let playing = Playing {
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
            last_stage: None,
            last_section: None,
            announced: None,
            began: None,
            passes_begun: 0,
            paused_bar: None,
            clocked: super::clocked::Clocked::default(),
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
            What::Edge(edge) => {
                for gesture in self.gestures.edge(edge) {
                    self.gesture(gesture);
                }
            }
            What::Act(action) => self.act(action, event.at),
            What::Begin { at } => {
                self.begin(at);
                self.bind_switches();
            }
            What::Notice(notice) => self.notice(notice),
            What::AudioLost { why } => self.audio_lost(why),
            What::AudioBack { rate, at } => self.audio_back(at, rate),
            What::Reload(library) => self.reload(*library),
            What::Device { name, state } => self.device(&name, state),
            What::Message { title, lines } => {
                self.message = Some(Page::Message { title, lines });
                self.refresh();
            }
            What::Tick => {}
        }
        self.keep_home();
        effects.append(&mut self.out);
    }

    /// When the core wants to be called at the latest, if a gesture is waiting.
    pub fn next_deadline(&self) -> Option<Frame> {
        self.gestures.next_deadline()
    }

    /// What it is doing.
    pub fn foot_state(&self) -> FootState {
        self.foot_state_at(self.now)
    }

    fn foot_state_at(&self, frame: Frame) -> FootState {
        if self.menu.is_some() {
            return FootState::Menu;
        }
        match self.take.as_ref().map(|take| take.timeline.tick(frame)) {
            None => FootState::Stopped,
            Some(now) => {
                let timeline = self.take.as_ref().map(|take| &take.timeline);
                // A take that begins in a moment counts as begun.
                let segment = timeline.and_then(|timeline| {
                    let first = timeline
                        .segments()
                        .next()
                        .filter(|first| now < first.start());
                    first.or_else(|| timeline.segment_at(now))
                });
                match segment {
                    Some(segment) if segment.pass.kind == PassKind::CountIn => {
                        FootState::CountingIn
                    }
                    _ => FootState::Playing,
                }
            }
        }
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

    /// Serves gestures and everything due up to `frame`, in the order of time.
    pub(super) fn run_until(&mut self, frame: Frame) {
        // Gestures are decided a little behind now: an edge that was slow to arrive still counts by its stamp.
        let certain = frame.minus_ms(EDGE_SLACK_MS, self.settings.rate);
        for gesture in self.gestures.until(certain) {
            self.run_take(Frame(gesture.at.0.min(frame.0)));
            self.gesture(gesture);
        }
        self.run_take(frame);
        if self
            .menu
            .as_ref()
            .is_some_and(|menu| menu.is_idle(frame, self.settings.rate))
        {
            self.menu = None;
            self.bind_switches();
            self.refresh();
        }
    }

    fn run_take(&mut self, frame: Frame) {
        self.now = Frame(self.now.0.max(frame.0));
        while let Some(take) = self.take.as_mut().filter(|_| self.lost.is_none()) {
            let now = take.timeline.tick(self.now);
            match take.due(now) {
                Some((at, due)) => self.serve(at, due),
                None => break,
            }
        }
    }

    fn serve(&mut self, at: Tick, due: Due) {
        match due {
            Due::Bar => self.bar_begins(at),
            Due::Step(index) => self.step_begins(at, index),
            Due::Flip(index) => self.page_turns(at, index),
            Due::Count => self.refresh_at_count(),
            Due::Cue(index) => self.hand_over_cue(index),
        }
    }

    fn bar_begins(&mut self, at: Tick) {
        let Some(take) = self.take.as_mut() else {
            return;
        };
        if take.ends && at >= take.timeline.end() {
            return;
        }
        let landed = take.armed.as_ref().is_some_and(|armed| armed.cut <= at);
        if landed {
            take.armed = None;
        }
        take.forget_before(at);
        if take.extend(at, self.tempo, &self.playing) {
            take.settle();
        }
        let commands: Vec<_> = take.top_up(at, &mut self.bar_ids).into_iter().collect();
        self.out.extend(commands.into_iter().map(Effect::Audio));
        let Some(segment) = self
            .take
            .as_ref()
            .and_then(|take| take.timeline.segment_at(at))
        else {
            return;
        };
        let pass = segment.pass.clone();
        let form_bar = pass.lap.bars[segment.bar_at(at)].form_bar;
        let begins = segment.start() == at;
        if begins && pass.kind != PassKind::CountIn {
            self.standing = pass.standing.clone();
            self.material = pass.material.clone();
            self.passes_begun += u32::from(pass.kind != PassKind::Breathe);
        }
        self.record(at, Recorded::Bar);
        if pass.kind == PassKind::CountIn {
            return;
        }
        let stage = (pass.standing.stage, self.material.drill.title.clone());
        let item = (form_bar_item(&self.material, form_bar), pass.standing.stage);
        let before = self.last_section.replace(item).map(|(item, _)| item);
        let section = |item: usize| self.material.form.section_of(item);
        // The going-on ending belongs to another item of the form, but it is the same section.
        let is_top = self.material.form.bars[form_bar].bar == 1;
        let goes_on = before.is_some_and(|before| section(before) == section(item.0));
        if before != Some(item.0) && (is_top || !goes_on) {
            self.record(at, Recorded::Section);
            self.save();
        }
        if self.last_stage.as_ref() != Some(&stage) {
            self.last_stage = Some(stage);
            self.record(at, Recorded::Stage);
            self.save();
        }
        if begins {
            self.bind_switches();
        }
    }

    fn step_begins(&mut self, at: Tick, index: usize) {
        let Some(step) = self.take.as_ref().and_then(|take| take.steps.get(index)) else {
            return;
        };
        let Some(form_chord) = step.form_chord() else {
            return;
        };
        let value = step
            .pass
            .context(step.chord.unwrap_or(0))
            .map(show::symbol_text)
            .unwrap_or_default();
        self.record(
            at,
            Recorded::Change {
                what: "chord",
                index: Some(form_chord),
                value,
            },
        );
        // A cell of a group is inverted with its chord.
        if show::is_grouped(self) {
            self.refresh();
        }
    }

    fn page_turns(&mut self, at: Tick, index: usize) {
        let Some(take) = self.take.as_mut() else {
            return;
        };
        take.shown = take.flips.get(index).copied();
        self.refresh();
        self.record_page(at);
    }

    fn refresh_at_count(&mut self) {
        if self.message.is_none() && self.menu.is_none() {
            self.refresh();
        }
    }

    /// Shows the page as it stands.
    pub(super) fn refresh(&mut self) {
        let page = show::page(self);
        self.out.push(Effect::Show(page));
    }

    /// Shows and records the page: after a press, so that it is acknowledged.
    pub(super) fn acknowledge(&mut self) {
        self.refresh();
        let at = self.take.as_ref().map(|take| take.timeline.tick(self.now));
        match at {
            Some(at) => self.record_page(at),
            None => self.record_outside(show::page_record(self)),
        }
    }

    fn record_page(&mut self, at: Tick) {
        let what = show::page_record(self);
        self.record(at, what);
    }

    /// A line of the event log at a tick of the take.
    pub(super) fn record(&mut self, at: Tick, what: Recorded) {
        let Some(take) = &self.take else {
            return self.record_outside(what);
        };
        let frame = take.timeline.frame(at);
        let (section, bar) = show::place_at(self, at);
        let record = Record {
            frame,
            tick: Some(at),
            bar,
            section,
            stage: self.standing.stage_of(&self.material).name.clone(),
            pass: self.standing.pass + 1,
            what,
        };
        self.out.push(Effect::Record(record));
    }

    /// A line of the event log on the frame that is now.
    pub(super) fn record_outside(&mut self, what: Recorded) {
        self.record_on(self.now, what);
    }

    /// A line of the event log on a frame.
    fn record_on(&mut self, frame: Frame, what: Recorded) {
        let tick = self.take.as_ref().map(|take| take.timeline.tick(frame));
        let (section, bar) = match tick {
            Some(tick) => show::place_at(self, tick),
            None => self.where_now(),
        };
        let stage = self.standing.stage_of(&self.material).name.clone();
        let pass = self.standing.pass + 1;
        self.out.push(Effect::Record(Record {
            frame,
            tick,
            bar,
            section,
            stage,
            pass,
            what,
        }));
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
            self.standing.looping = super::Loop::Form;
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

    pub(super) fn where_now(&self) -> (String, Option<u32>) {
        match &self.take {
            Some(take) => show::place_at(self, take.timeline.tick(self.now)),
            None => (show::section_name(&self.material, &self.standing), None),
        }
    }

    fn gesture(&mut self, gesture: Gesture) {
        self.now = Frame(self.now.0.max(gesture.at.0));
        let state = self.foot_state_at(gesture.at);
        let action = self
            .settings
            .map
            .lookup(state, gesture.switch, gesture.kind);
        let stamp = if gesture.kind == super::GestureKind::Press {
            gesture.pressed
        } else {
            gesture.at
        };
        let applied = action.map(|action| self.applied(action, stamp));
        let what = Recorded::Foot {
            switch: gesture.switch,
            gesture: gesture.kind.name(),
            action: action
                .map(|action| action.name().to_string())
                .unwrap_or_default(),
            moment: action.map_or("", |action| action.moment().name()),
            applied: applied.flatten(),
        };
        self.record_on(stamp, what);
        if self.message.take().is_some() {
            // A press first clears a message; it should not also start the band.
            self.refresh();
            return;
        }
        if let Some(action) = action {
            self.act(action, stamp);
        }
    }

    fn hand_over_cue(&mut self, index: usize) {
        let Some(cue) = self.take.as_ref().and_then(|take| take.cue(index)).cloned() else {
            return;
        };
        if cue.windows.is_empty() || cue.limit == FormLimit::None {
            self.not_said(&cue.phrases, Some(cue.deadline), cue.form_chord);
            return;
        }
        let id = self.await_cue(
            cue.phrases.clone(),
            cue.limit,
            Some(cue.deadline),
            cue.form_chord,
        );
        self.out.push(Effect::Say(Saying {
            id,
            phrases: cue.phrases,
            limit: cue.limit,
            windows: cue.windows,
            now: None,
        }));
    }

    pub(super) fn await_cue(
        &mut self,
        phrases: PhraseSet,
        limit: FormLimit,
        deadline: Option<Tick>,
        index: Option<usize>,
    ) -> u32 {
        self.cue_ids += 1;
        if self.awaited.len() == CUES_AWAITED {
            self.awaited.pop_front();
        }
        self.awaited.push_back(Awaited {
            id: self.cue_ids,
            phrases,
            limit,
            deadline,
            index,
        });
        self.cue_ids
    }

    fn not_said(&mut self, phrases: &PhraseSet, deadline: Option<Tick>, index: Option<usize>) {
        let deadline =
            deadline.and_then(|tick| self.take.as_ref().map(|take| take.timeline.frame(tick)));
        let text = phrases.full.clone();
        self.record_outside(Recorded::Say {
            text,
            form: CueForm::None,
            end: None,
            deadline,
            index,
        });
    }

    fn notice(&mut self, notice: Notice) {
        match notice {
            Notice::CueStarted {
                cue,
                form,
                frame,
                end,
            } => {
                let Some(found) = self.take_awaited(cue) else {
                    return;
                };
                let choices = found.phrases.choices(found.limit);
                let said = choices.iter().find(|(choice, _)| *choice == form);
                let text = said
                    .map(|(_, text)| (*text).to_string())
                    .unwrap_or_default();
                let deadline = found
                    .deadline
                    .and_then(|tick| Some(self.take.as_ref()?.timeline.frame(tick)));
                let what = Recorded::Say {
                    text,
                    form,
                    end: Some(end),
                    deadline,
                    index: found.index,
                };
                let (section, bar) = self.where_now();
                let tick = self.take.as_ref().map(|take| take.timeline.tick(frame));
                let stage = self.standing.stage_of(&self.material).name.clone();
                let pass = self.standing.pass + 1;
                self.out.push(Effect::Record(Record {
                    frame,
                    tick,
                    bar,
                    section,
                    stage,
                    pass,
                    what,
                }));
            }
            Notice::CueSkipped { cue, .. } => {
                if let Some(found) = self.take_awaited(cue) {
                    self.not_said(&found.phrases, found.deadline, found.index);
                }
            }
            Notice::Ended { frame } => self.ended(frame),
            Notice::Clock { .. } | Notice::ClockBegan { .. } => self.clock_notice(notice),
            _ => {}
        }
    }

    fn take_awaited(&mut self, id: u32) -> Option<Awaited> {
        let index = self.awaited.iter().position(|awaited| awaited.id == id)?;
        self.awaited.remove(index)
    }

    fn device(&mut self, name: &str, state: crate::device::DeviceState) {
        self.devices.retain(|device| device != name);
        if state != crate::device::DeviceState::Present {
            self.devices.push(name.to_string());
        }
        self.refresh();
    }

    /// Tells the gesture engine which gestures the present state uses.
    pub(super) fn bind_switches(&mut self) {
        let state = self.foot_state();
        for switch in 1..=self.settings.switches.len() as u8 {
            let kinds = self.settings.map.kinds(state, switch);
            self.gestures.set_uses(switch, kinds);
        }
    }

    pub(super) fn save(&mut self) {
        let item = match self.standing.looping {
            super::Loop::Item(item) => item,
            _ => 0,
        };
        let is_moved = self.material.chart.key != self.library.charts[self.chart].key;
        let key = self.material.key().filter(|_| is_moved);
        let saved = Saved {
            chart: self.chart,
            title: self.material.chart.title.clone(),
            stage: self.standing.stage,
            item,
            tempo_qpm: self.tempo.qpm(),
            key: key.map(|key| key.to_string()),
            master_db: self.master_db,
        };
        self.out.push(Effect::Save(saved));
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

fn form_bar_item(material: &Material, form_bar: usize) -> usize {
    material.form.bars.get(form_bar).map_or(0, |bar| bar.item)
}

/// The actions of the menu and the screens use the same words as the configuration.
pub(super) fn words(action: Action) -> String {
    action.name().to_string()
}
