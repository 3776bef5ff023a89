//! What is to be rendered, and what comes of it.

use crate::audio::{Played, Prepared, SynthError};
use crate::daemon::hearing::Listener;
use crate::daemon::landmarks::Landmark;
use crate::daemon::rig::VoicePort;
use crate::display::Page;
use crate::judging::EarEvent;
use crate::listen::Instrument;
use crate::pedal::script::ScriptedInput;
use crate::practice::Core;
use crate::time::Frame;
use std::collections::VecDeque;
use std::sync::Arc;

/// The frame of the first count. Far enough from zero that no guard reaches below it; a whole number of
/// sub-blocks.
pub(super) const BASE: Frame = Frame(1 << 20);
/// How long to render.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Length {
    /// This many seconds, whatever plays; then it stops as by foot.
    Seconds(f64),
    /// This many passes, the last one as the last time round, then let ring.
    Passes(u32),
    /// Each chord of a stage out of time for this many passes, then the same.
    Held(u32),
}

/// What is to be rendered, besides the core.
pub struct Job {
    pub prepared: Prepared,
    /// The foot, and songs that are chosen, in the order of time; frames from the first count on.
    pub foot: VecDeque<ScriptedInput>,
    pub length: Length,
    /// Block sizes, used in turn.
    pub blocks: Vec<usize>,
    pub voice: Box<dyn VoicePort>,
    pub guitar: Option<Guitar>,
    pub keep: Keep,
}

/// What is kept of a rendering: of a long one, only what is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Keep {
    /// The event log.
    pub lines: bool,
    /// What was played, and where sections and stages begin.
    pub notes: bool,
    /// The messages of MIDI with their frames.
    pub midi: bool,
    /// Pages on which only a count or a cell went on.
    pub every_page: bool,
}

impl Keep {
    /// Everything there is.
    pub const ALL: Keep = Keep {
        lines: true,
        notes: true,
        midi: true,
        every_page: true,
    };
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
    pub(super) fn between(&self, from: Frame, to: Frame) -> Option<Arc<[f32]>> {
        let index = |frame: Frame| frame.0.checked_sub(BASE.0).map(|index| index as usize);
        let sound = self.sound.get(index(from)?..index(to)?)?;
        Some(sound.into())
    }

    /// Listens to what was played beside a block that begins on `at`.
    pub(super) fn hear(
        &mut self,
        at: u64,
        left: &[f32],
        right: &[f32],
        core: &Core,
    ) -> Vec<EarEvent> {
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

    /// Whether anybody hears it: what is not heard need not be brought to its levels.
    fn is_heard(&self) -> bool {
        true
    }

    /// So many passes have begun.
    fn passes(&mut self, begun: u32) {
        let _ = begun;
    }
}

/// Sound that nobody hears.
#[derive(Debug, Clone, Copy)]
pub struct Unheard;

impl SoundSink for Unheard {
    fn is_heard(&self) -> bool {
        false
    }

    fn sound(&mut self, _: &[f32], _: &[f32], _: &[f32]) -> std::io::Result<()> {
        Ok(())
    }
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
    /// Where something new began: the count-in, a section, a pass, a break.
    pub landmarks: Vec<Landmark>,
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
