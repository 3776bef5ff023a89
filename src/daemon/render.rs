//! The offline renderer: the same core and player as the daemon, in virtual time.
//!
//! Every 64 frames, in this order: the foot, what the player reported, the core, its commands; then the player
//! renders. The size of the blocks it renders in changes nothing.

use super::events::{EventLog, Line};
use super::hearing::Listener;
use super::rig::{Outcome, Rig, Voice};
use crate::audio::{BLOCK_FRAMES, MidiSink, Outputs, Played, Player, Prepared, SynthError};
use crate::display::Page;
use crate::foot::Action;
use crate::judging::EarEvent;
use crate::listen::Instrument;
use crate::pedal::Edge;
use crate::practice::{Core, Event, EventKind};
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
    /// This many seconds, whatever plays.
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
    pub voice: Box<dyn Voice>,
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

/// What a rendering leaves besides the sound.
#[derive(Debug, Default)]
pub struct Rendered {
    /// The event log, head first, sorted by frame.
    pub lines: Vec<String>,
    /// Every MIDI message with its frame.
    pub midi: Vec<(Frame, [u8; 3])>,
    /// Everything played, in ticks.
    pub played: Vec<Played>,
    /// The pages that were turned to, with their frames.
    pub pages: Vec<(Frame, Page)>,
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
struct Sink {
    base: u64,
    midi: Vec<(Frame, [u8; 3])>,
    played: Vec<Played>,
}

impl MidiSink for Sink {
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
        mut foot,
        length,
        blocks,
        voice,
        mut guitar,
    } = job;
    let rate = prepared.rate;
    for edge in &mut foot {
        edge.at.0 += BASE.0;
    }
    let (mut player, end) = Player::new(prepared)?;
    open(&mut player);
    let mut rig = Rig::new(
        core,
        Some(end),
        EventLog::new(Some(BASE), rate),
        voice,
        rate,
    );
    let mut outcome = Outcome::default();
    rig.prepare();
    rig.handle(
        Event {
            at: BASE,
            what: EventKind::Begin { at: BASE },
        },
        &mut outcome,
    );
    let mut state = Running::new(length, rate);
    let mut sink = Sink::default();
    let largest = blocks.iter().copied().max().unwrap_or(BLOCK_FRAMES);
    let mut buffers = [vec![0.0; largest], vec![0.0; largest], vec![0.0; largest]];
    let mut rendered = Rendered::default();
    let mut lines: Vec<Line> = Vec::new();
    let mut at = BASE.0;
    let mut pumped = at;
    for frames in blocks.iter().copied().cycle() {
        if state.is_over(at) {
            break;
        }
        while pumped < at + frames as u64 {
            pump(&mut rig, Frame(pumped), &mut foot, &mut state, &mut outcome);
            for (page, turned) in outcome.pages.drain(..) {
                if turned.is_some() {
                    rendered.pages.push((Frame(pumped - BASE.0), page));
                }
            }
            lines.append(&mut outcome.lines);
            pumped += BLOCK_FRAMES as u64;
        }
        let [left, right, cue] = &mut buffers;
        let outputs = Outputs {
            left: &mut left[..frames],
            right: &mut right[..frames],
            cue: &mut cue[..frames],
        };
        sink.base = at;
        player.render(Frame(at), outputs, &mut sink);
        out.sound(&left[..frames], &right[..frames], &cue[..frames])?;
        for played in sink.played.drain(..) {
            rig.played(played, &mut outcome);
            rendered.played.push(played);
        }
        if let Some(guitar) = &mut guitar {
            let heard = guitar.hear(at, &left[..frames], &right[..frames], &rig.core);
            let end = Frame(at + frames as u64);
            for sounded in heard {
                let what = EventKind::Heard(sounded);
                rig.handle(Event { at: end, what }, &mut outcome);
            }
        }
        for replay in std::mem::take(&mut outcome.replays) {
            let samples = guitar
                .as_ref()
                .and_then(|guitar| guitar.between(replay.from, replay.to));
            if let Some(samples) = samples {
                rig.play_back(replay, samples);
            }
        }
        at += frames as u64;
    }
    lines.append(&mut outcome.lines);
    lines.sort_by_key(|(frame, _)| *frame);
    rendered.lines.extend(rig.log.take_head(seed));
    rendered
        .lines
        .extend(lines.into_iter().map(|(_, line)| line));
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

struct Running {
    length: Length,
    rate: u32,
    asked: bool,
    ends_at: Option<u64>,
}

impl Running {
    fn new(length: Length, rate: u32) -> Running {
        let ends_at = match length {
            Length::Seconds(seconds) => {
                Some(BASE.0 + (seconds.max(0.0) * f64::from(rate)).round() as u64)
            }
            Length::Passes(_) => None,
        };
        Running {
            length,
            rate,
            asked: false,
            ends_at,
        }
    }

    fn is_over(&self, at: u64) -> bool {
        self.ends_at.is_some_and(|end| at >= end)
    }
}

fn pump(
    rig: &mut Rig,
    at: Frame,
    foot: &mut VecDeque<Edge>,
    state: &mut Running,
    outcome: &mut Outcome,
) {
    while let Some(edge) = foot.front().copied().filter(|edge| edge.at <= at) {
        foot.pop_front();
        rig.handle(
            Event {
                at: edge.at,
                what: EventKind::Edge(edge),
            },
            outcome,
        );
    }
    rig.notices(at, outcome);
    if let Length::Passes(passes) = state.length {
        if !state.asked && rig.core.passes_begun() >= passes {
            state.asked = true;
            rig.handle(
                Event {
                    at,
                    what: EventKind::Act(Action::LastTime),
                },
                outcome,
            );
        }
        let stopped = state.asked && rig.core.foot_state() == crate::foot::FootState::Stopped;
        if stopped && state.ends_at.is_none() {
            state.ends_at = Some(at.0 + RING_OUT_S * u64::from(state.rate));
        }
    }
    rig.handle(
        Event {
            at,
            what: EventKind::Tick,
        },
        outcome,
    );
}
