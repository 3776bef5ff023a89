//! The offline renderer: the same core and player as the daemon, in virtual time.
//!
//! Every 64 frames, in this order: the foot, what the player reported, the core, its commands; then the player
//! renders. The size of the blocks it renders in changes nothing.

mod job;

pub use job::{Guitar, Job, Keep, Length, RenderError, Rendered, ShownPage, SoundSink, Unheard};

use super::events::{EventLog, LogLine};
use super::landmarks;
use super::rig::{Rig, RigOutcome};
use crate::audio::{BLOCK_FRAMES, MidiSink, Outputs, Played, Player};
use crate::foot::{Action, FootState};
use crate::pedal::script::ScriptedInput;
use crate::practice::{ACTION_DELAY_MS, Core, Event, EventKind};
use crate::time::Frame;
use job::BASE;
use std::collections::VecDeque;

/// What is rendered before it and thrown away: by then the player has opened, as a daemon's has long since.
const LEAD_FRAMES: usize = BLOCK_FRAMES << 8;
/// Seconds that ring out after the last bar.
const RING_OUT_S: u64 = 3;

#[derive(Default)]
struct RenderSink {
    base: u64,
    keeps_midi: bool,
    midi: Vec<(Frame, [u8; 3])>,
    played: Vec<Played>,
}

impl MidiSink for RenderSink {
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]) {
        if self.keeps_midi {
            let frame = self.base + u64::from(offset_frames) - BASE.0;
            self.midi.push((Frame(frame), bytes));
        }
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
        keep,
    } = job;
    let rate = prepared.rate;
    let (mut player, end) = Player::new(prepared)?;
    if guitar.is_none() && !out.is_heard() {
        player.leave_unheard();
    }
    open(&mut player);
    let log = EventLog::new(Some(BASE), rate);
    let mut rig = Rig::new(core, Some(end), log, voice, rate);
    rig.prepare();
    let mut run = RenderRun::new(rig, foot, guitar, length, keep);
    let mut sink = RenderSink {
        keeps_midi: keep.midi,
        ..RenderSink::default()
    };
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
        out.passes(run.rig.core.passes_begun());
        run.take_played(&mut sink);
        run.hear(at, &left[..frames], &right[..frames]);
        at += frames as u64;
    }
    run.end_notes(&mut player, at, &mut sink);
    let mut rendered = run.finish(seed);
    rendered.midi = sink.midi;
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
    /// What is to come in.
    foot: VecDeque<ScriptedInput>,
    guitar: Option<Guitar>,
    rendered: Rendered,
    lines: Vec<LogLine>,
    /// The frame up to which all was handed to the core.
    pumped: u64,
    length: Length,
    keep: Keep,
    /// The pass on which the chord that is held was taken.
    held_since: u32,
    asked: bool,
    ends_at: Option<u64>,
}

impl RenderRun {
    /// The take begins.
    fn new(
        rig: Rig,
        foot: VecDeque<ScriptedInput>,
        guitar: Option<Guitar>,
        length: Length,
        keep: Keep,
    ) -> RenderRun {
        let foot = foot.into_iter().map(|input| input.later(BASE.0)).collect();
        let ends_at = match length {
            Length::Seconds(seconds) => {
                let frames = (seconds.max(0.0) * f64::from(rig.rate())).round();
                Some(BASE.0 + frames as u64)
            }
            Length::Passes(_) | Length::Held(_) => None,
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
            keep,
            held_since: 1,
            asked: false,
            ends_at,
        };
        run.handle(BASE, EventKind::Begin { at: BASE });
        run
    }

    fn handle(&mut self, at: Frame, what: EventKind) {
        self.rig.handle(Event { at, what }, &mut self.outcome);
        if let Some(bar) = self.outcome.bar.take() {
            let phase = self.rig.core.phase();
            if self.keep.notes {
                landmarks::note(&mut self.rendered.landmarks, &bar, phase, BASE);
            }
        }
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
            let shown = last.filter(|_| turned || self.keep.every_page);
            let shown = shown.map(|(page, _)| ShownPage { turned, page });
            self.rendered.pages.extend(shown);
            self.keep_lines();
            self.pumped += BLOCK_FRAMES as u64;
        }
    }

    fn pump(&mut self, at: Frame) {
        while let Some(input) = self.foot.pop_front_if(|input| input.at() <= at) {
            match input {
                ScriptedInput::Edge(edge) => self.handle(edge.at, EventKind::Edge(edge)),
                ScriptedInput::Song(at, number) => self.handle(at, EventKind::Song(number)),
            }
        }
        self.rig.notices(at, &mut self.outcome);
        self.come_to_an_end(at);
        self.handle(at, EventKind::Tick);
    }

    fn keep_lines(&mut self) {
        let lines = std::mem::take(&mut self.outcome.lines);
        if self.keep.lines {
            self.lines.extend(lines);
        }
    }

    fn come_to_an_end(&mut self, at: Frame) {
        match self.length {
            Length::Passes(_) | Length::Held(_) => {
                if !self.asked && self.has_had_its_passes(at) {
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

    /// Whether the last pass has begun. A chord that was held long enough gives way to the next, as by foot.
    fn has_had_its_passes(&mut self, at: Frame) -> bool {
        let begun = self.rig.core.passes_begun();
        match self.length {
            Length::Seconds(_) => false,
            Length::Passes(passes) => begun >= passes,
            Length::Held(passes) => {
                let enough = begun + 1 >= self.held_since + passes;
                if enough && self.rig.core.holds_another() {
                    self.held_since = begun + 1;
                    self.handle(at, EventKind::Act(Action::NextStage));
                    return false;
                }
                enough
            }
        }
    }

    fn take_played(&mut self, sink: &mut RenderSink) {
        for played in sink.played.drain(..) {
            self.rig.played(played, &mut self.outcome);
            if self.keep.notes {
                self.rendered.played.push(played);
            }
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
        self.keep_lines();
        self.lines.sort_by_key(|(frame, _)| *frame);
        let head = self.rig.log.take_head(seed);
        let lines = self.lines.into_iter().map(|(_, line)| line);
        self.rendered.lines = head.into_iter().chain(lines).collect();
        self.rendered
    }
}
