//! The offline renderer: the same core and player as the daemon, in virtual time.
//!
//! Every 64 frames, in this order: the foot, what the player reported, the core, its commands; then the player
//! renders. The size of the blocks it renders in changes nothing.

use super::events::{EventLog, LogLine};
use super::hearing::Listener;
use super::rig::{Rig, RigOutcome, VoicePort};
use crate::audio::{BLOCK_FRAMES, MidiSink, Outputs, Played, Player, Prepared, SynthError};
use crate::display::Page;
use crate::foot::{Action, FootState};
use crate::judging::EarEvent;
use crate::listen::Instrument;
use crate::pedal::Edge;
use crate::practice::{ACTION_DELAY_MS, Core, Event, EventKind};
use crate::time::Frame;
use std::collections::VecDeque;
use std::sync::Arc;

/// The frame of the first count. Far enough from zero that no guard reaches below it; a whole number of
/// sub-blocks.
const BASE: Frame = Frame(1 << 20);
/// What is rendered before it and thrown away: by then the player has opened, as a daemon's has long since.
const LEAD_FRAMES: usize = BLOCK_FRAMES << 8;
/// Seconds that ring out after the last bar.
const RING_OUT_S: u64 = 3;

/// How long to render.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Length {
    /// This many seconds, whatever plays; then it stops as by foot.
    Seconds(f64),
    /// This many passes, the last one as the last time round, then let ring.
    Passes(u32),
}

/// What is to be rendered, besides the core.
pub struct Job {
    pub prepared: Prepared,
    /// The foot, in the order of time; frames from the first count on.
    pub foot: VecDeque<Edge>,
    pub length: Length,
    /// Block sizes, used in turn.
    pub blocks: Vec<usize>,
    pub voice: Box<dyn VoicePort>,
    pub guitar: Option<Guitar>,
}

/// A player who was recorded.
pub struct Guitar {
    /// One channel from the first count on; after its end there is silence.
    pub sound: Vec<f32>,
    pub listener: Listener,
    /// What is listened for where nothing is to be sung.
    pub instrument: Instrument,
}

impl Guitar {
    /// What was played between two frames, if they lie in the recording.
    fn between(&self, from: Frame, to: Frame) -> Option<Arc<[f32]>> {
        let index = |frame: Frame| frame.0.checked_sub(BASE.0).map(|index| index as usize);
        let sound = self.sound.get(index(from)?..index(to)?)?;
        Some(sound.into())
    }

    /// Listens to what was played beside a block that begins on `at`.
    fn hear(&mut self, at: u64, left: &[f32], right: &[f32], core: &Core) -> Vec<EarEvent> {
        let mut heard = Vec::new();
        self.listener.listen_for(match core.listens_to_voice() {
            true => Instrument::Voice,
            false => self.instrument,
        });
        let from = (at - BASE.0) as usize;
        let sample = |index: usize| self.sound.get(index).copied().unwrap_or(0.0);
        let sound: Vec<f32> = (from..from + left.len()).map(sample).collect();
        let band: Vec<f32> = left.iter().zip(right).map(|(l, r)| l + r).collect();
        self.listener.push(Frame(at), &sound, &band, &mut heard);
        heard
    }
}

/// Where sound goes, block by block.
pub trait SoundSink {
    /// Takes a block: left, right, cue.
    ///
    /// # Errors
    /// When it cannot be kept.
    fn sound(&mut self, left: &[f32], right: &[f32], cue: &[f32]) -> std::io::Result<()>;
}

/// A page that stood on a screen.
#[derive(Debug)]
pub struct ShownPage {
    /// The page was turned to, or answers a press; otherwise only a count or a cell went on.
    pub turned: bool,
    pub page: Page,
}

/// What a rendering leaves besides the sound.
#[derive(Debug, Default)]
pub struct Rendered {
    /// The event log, head first, sorted by frame.
    pub lines: Vec<String>,
    /// Every MIDI message with its frame.
    pub midi: Vec<(Frame, [u8; 3])>,
    /// Everything played, in ticks.
    pub played: Vec<Played>,
    /// What stood on a screen, one after the other.
    pub pages: Vec<ShownPage>,
    pub frames: u64,
}

/// Why a rendering failed.
#[derive(Debug, thiserror::Error)]
pub enum RenderError {
    /// The synthesizer refuses.
    #[error("{0}")]
    Synth(#[from] SynthError),
    /// The sound could not be kept.
    #[error("the sound cannot be written: {0}")]
    Sound(#[from] std::io::Error),
}

#[derive(Default)]
struct RenderSink {
    base: u64,
    midi: Vec<(Frame, [u8; 3])>,
    played: Vec<Played>,
}

impl MidiSink for RenderSink {
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]) {
        self.midi
            .push((Frame(self.base + u64::from(offset_frames)), bytes));
    }

    fn played(&mut self, what: Played) {
        self.played.push(what);
    }
}

/// Renders a take: it begins on frame 0 with the count-in.
///
/// # Errors
/// When the synthesizer refuses the rate or the sound cannot be kept.
pub fn render(
    core: Core,
    job: Job,
    seed: u64,
    out: &mut dyn SoundSink,
) -> Result<Rendered, RenderError> {
    let Job {
        prepared,
        foot,
        length,
        blocks,
        voice,
        guitar,
    } = job;
    let rate = prepared.rate;
    let (mut player, end) = Player::new(prepared)?;
    open(&mut player);
    let log = EventLog::new(Some(BASE), rate);
    let mut rig = Rig::new(core, Some(end), log, voice, rate);
    rig.prepare();
    let mut run = RenderRun::new(rig, foot, guitar, length);
    let mut sink = RenderSink::default();
    let largest = blocks.iter().copied().max().unwrap_or(BLOCK_FRAMES);
    let mut buffers = [vec![0.0; largest], vec![0.0; largest], vec![0.0; largest]];
    let mut at = BASE.0;
    for frames in blocks.iter().copied().cycle() {
        if run.is_over(at) {
            break;
        }
        run.pump_until(at + frames as u64);
        let [left, right, cue] = &mut buffers;
        let outputs = Outputs {
            left: &mut left[..frames],
            right: &mut right[..frames],
            cue: &mut cue[..frames],
        };
        sink.base = at;
        player.render(Frame(at), outputs, &mut sink);
        out.sound(&left[..frames], &right[..frames], &cue[..frames])?;
        run.take_played(&mut sink);
        run.hear(at, &left[..frames], &right[..frames]);
        at += frames as u64;
    }
    run.end_notes(&mut player, at, &mut sink);
    let mut rendered = run.finish(seed);
    let told = |(frame, bytes): (Frame, [u8; 3])| (Frame(frame.0 - BASE.0), bytes);
    rendered.midi = sink.midi.into_iter().map(told).collect();
    rendered.frames = at - BASE.0;
    Ok(rendered)
}

/// Lets the player open from silence before anything is to be heard.
fn open(player: &mut Player) {
    let mut buffers = [[0.0; BLOCK_FRAMES]; 3];
    for at in (BASE.0 - LEAD_FRAMES as u64..BASE.0).step_by(BLOCK_FRAMES) {
        let [left, right, cue] = &mut buffers;
        player.render(Frame(at), Outputs { left, right, cue }, &mut ());
    }
}

/// A rendering in progress.
struct RenderRun {
    rig: Rig,
    outcome: RigOutcome,
    /// The edges to come.
    foot: VecDeque<Edge>,
    guitar: Option<Guitar>,
    rendered: Rendered,
    lines: Vec<LogLine>,
    /// The frame up to which all was handed to the core.
    pumped: u64,
    length: Length,
    asked: bool,
    ends_at: Option<u64>,
}

impl RenderRun {
    /// The take begins.
    fn new(
        rig: Rig,
        mut foot: VecDeque<Edge>,
        guitar: Option<Guitar>,
        length: Length,
    ) -> RenderRun {
        for edge in &mut foot {
            edge.at.0 += BASE.0;
        }
        let ends_at = match length {
            Length::Seconds(seconds) => {
                let frames = (seconds.max(0.0) * f64::from(rig.rate())).round();
                Some(BASE.0 + frames as u64)
            }
            Length::Passes(_) => None,
        };
        let mut run = RenderRun {
            rig,
            outcome: RigOutcome::default(),
            foot,
            guitar,
            rendered: Rendered::default(),
            lines: Vec::new(),
            pumped: BASE.0,
            length,
            asked: false,
            ends_at,
        };
        run.handle(BASE, EventKind::Begin { at: BASE });
        run
    }

    fn handle(&mut self, at: Frame, what: EventKind) {
        self.rig.handle(Event { at, what }, &mut self.outcome);
        // There is no journal here.
        if std::mem::take(&mut self.outcome.weak_spots) {
            self.handle(at, EventKind::WeakSpots(None));
        }
        if std::mem::take(&mut self.outcome.report) {
            self.handle(at, EventKind::Report(None));
        }
    }

    fn is_over(&self, at: u64) -> bool {
        self.ends_at.is_some_and(|end| at >= end)
    }

    /// Hands all to the core that is before `until`, a sub-block after the other.
    fn pump_until(&mut self, until: u64) {
        while self.pumped < until {
            self.pump(Frame(self.pumped));
            // Of several pages at one time only the last can be seen.
            let turned = self
                .outcome
                .pages
                .iter()
                .any(|(_, turned)| turned.is_some());
            let last = self.outcome.pages.pop();
            self.outcome.pages.clear();
            let shown = last.map(|(page, _)| ShownPage { turned, page });
            self.rendered.pages.extend(shown);
            self.lines.append(&mut self.outcome.lines);
            self.pumped += BLOCK_FRAMES as u64;
        }
    }

    fn pump(&mut self, at: Frame) {
        while let Some(edge) = self.foot.pop_front_if(|edge| edge.at <= at) {
            self.handle(edge.at, EventKind::Edge(edge));
        }
        self.rig.notices(at, &mut self.outcome);
        self.come_to_an_end(at);
        self.handle(at, EventKind::Tick);
    }

    fn come_to_an_end(&mut self, at: Frame) {
        match self.length {
            Length::Passes(passes) => {
                if !self.asked && self.rig.core.passes_begun() >= passes {
                    self.asked = true;
                    self.handle(at, EventKind::Act(Action::LastTime));
                }
                let stopped = self.asked && self.rig.core.foot_state() == FootState::Stopped;
                if stopped && self.ends_at.is_none() {
                    self.ends_at = Some(at.0 + RING_OUT_S * u64::from(self.rig.rate()));
                }
            }
            // As a foot would, whose press takes effect so much later: on the last frame and not before.
            Length::Seconds(_) => {
                let end = Frame(self.ends_at.unwrap_or(u64::MAX));
                let press = end.minus_ms(ACTION_DELAY_MS, self.rig.rate());
                if !self.asked && at >= press {
                    self.asked = true;
                    self.foot.clear();
                    self.handle(press, EventKind::Act(Action::Stop));
                }
            }
        }
    }

    fn take_played(&mut self, sink: &mut RenderSink) {
        for played in sink.played.drain(..) {
            self.rig.played(played, &mut self.outcome);
            self.rendered.played.push(played);
        }
    }

    /// The end may fall on the first frame that is not rendered: its sound goes nowhere, its notes end.
    fn end_notes(&mut self, player: &mut Player, at: u64, sink: &mut RenderSink) {
        self.pump_until(at + BLOCK_FRAMES as u64);
        let mut unheard = [[0.0; BLOCK_FRAMES]; 3];
        let [left, right, cue] = &mut unheard;
        sink.base = at;
        player.render(Frame(at), Outputs { left, right, cue }, sink);
        self.take_played(sink);
    }

    /// Listens to what was played beside a block, and plays back what is asked for.
    fn hear(&mut self, at: u64, left: &[f32], right: &[f32]) {
        if let Some(guitar) = &mut self.guitar {
            let end = Frame(at + left.len() as u64);
            for sounded in guitar.hear(at, left, right, &self.rig.core) {
                self.handle(end, EventKind::Heard(sounded));
            }
        }
        for replay in std::mem::take(&mut self.outcome.replays) {
            let guitar = self.guitar.as_ref();
            if let Some(samples) = guitar.and_then(|own| own.between(replay.from, replay.to)) {
                self.rig.play_back(replay, samples);
            }
        }
    }

    /// What it leaves, but for the MIDI.
    fn finish(mut self, seed: u64) -> Rendered {
        self.lines.append(&mut self.outcome.lines);
        self.lines.sort_by_key(|(frame, _)| *frame);
        let head = self.rig.log.take_head(seed);
        let lines = self.lines.into_iter().map(|(_, line)| line);
        self.rendered.lines = head.into_iter().chain(lines).collect();
        self.rendered
    }
}
