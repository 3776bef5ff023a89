//! What the control thread asks of the player.

use super::synth::Synth;
use crate::clock::ClockMessage;
use crate::time::{Bar, Frame, Part, Tick};
use arrayvec::ArrayVec;

/// The most bars one `Replace` can carry.
pub const REPLACE_BARS: usize = 4;
/// The most lengths a cue can come in.
pub const CUE_CHOICES: usize = 3;
/// The most stretches of time a cue can be offered.
pub const CUE_WINDOWS: usize = 16;

/// What the control thread asks of the player. Boxes are handed back as garbage, never freed there.
#[derive(Debug)]
pub enum Command {
    /// A take begins: `tick` sounds on `at`. Everything of an earlier take is dropped, its sounding notes let
    /// go. The bars follow by `Replace`, sent after this command; while no take is running also before it.
    Start {
        /// When.
        at: Frame,
        /// The first tick (negative with a count-in).
        tick: Tick,
    },
    /// The future is written anew: every note at or after `from` that did not sound yet is dropped, bars that
    /// start at or after `from` are dropped, then the given bars are taken (of a bar that starts before
    /// `from` only the notes from `from` on). Sounding notes keep their note-offs.
    Replace {
        /// From where; `i64::MAX` drops nothing and only appends.
        from: Tick,
        /// The bars, in order.
        bars: ArrayVec<Box<Bar>, REPLACE_BARS>,
    },
    /// The take ends at `at`: sounding notes are let go, bars dropped.
    Stop {
        /// When.
        at: Frame,
    },
    /// Something to say; the player chooses the length and the start.
    Cue(Box<Cue>),
    /// On `at` (or at once, if that is over) cues that did not start yet are dropped and one that sounds is faded
    /// out in 10 ms. Only cues with an id of `from..below` are meant, also those that come too late for it.
    HushCues {
        /// When.
        at: Frame,
        /// The first id that is meant.
        from: u32,
        /// The first id after it that is not.
        below: u32,
    },
    /// A level changes on `at` (or at once, if that is over), without a jump.
    Level {
        /// When.
        at: Frame,
        /// Which.
        level: Level,
        /// To what, in dB; at or below -90 is silence.
        db: f32,
    },
    /// Silence at once: all notes, cues, reverb tails; the take ends.
    Panic,
    /// Which clocks are followed.
    Follow(FollowSettings),
    /// A message of a clock that does not come in on `midi_in`.
    Clock {
        /// When it came.
        at: Frame,
        /// From where.
        source: ClockSource,
        /// What it says.
        message: ClockMessage,
    },
    /// How much sooner than each source's stamps ours sound from now on. A change while a clock drives the take is
    /// made little by little.
    ClockAhead(AheadFrames),
    /// The bars with which a song begins that the master starts at its beginning, so that they sound with its
    /// first tick. They take the place of those that were sent before.
    Home {
        /// The take's first tick.
        tick: Tick,
        /// The bars, in order.
        bars: ArrayVec<Box<Bar>, REPLACE_BARS>,
    },
    /// Whether takes send MIDI clock (and Start, Stop, Continue, Song Position) as MIDI.
    Lead(bool),
    /// The synth of the take that the next `Start` begins. [`PlayerEnd::send`](super::PlayerEnd::send) makes one for every `Start`,
    /// so that a take never depends on what was played before; nobody else needs to send it.
    SwapSynth(Box<Synth>),
}

/// Where a clock comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ClockSource {
    /// Our JACK port `midi_in`.
    Jack,
    /// A serial line with MIDI.
    Serial,
    /// A MIDI port of ALSA.
    Midi,
    /// The server's transport.
    Transport,
    /// Our own tempo: what goes on when the others are gone.
    Internal,
}

impl ClockSource {
    /// Every source.
    pub const ALL: [ClockSource; 5] = [
        ClockSource::Jack,
        ClockSource::Serial,
        ClockSource::Midi,
        ClockSource::Transport,
        ClockSource::Internal,
    ];

    /// Its word in configuration, page and status.
    pub fn name(self) -> &'static str {
        match self {
            ClockSource::Jack => "jack",
            ClockSource::Serial => "serial",
            ClockSource::Midi => "midi",
            ClockSource::Transport => "transport",
            ClockSource::Internal => "internal",
        }
    }
}

/// Which clocks are followed, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct FollowSettings {
    /// The sources, the best first; none: the own tempo counts.
    pub order: ArrayVec<ClockSource, { ClockSource::ALL.len() }>,
    /// For how many quarter notes the last tempo goes on when ticks stay away; for ever where the order names
    /// the internal clock.
    pub hold_quarters: u32,
    /// How much sooner than the master's ticks ours sound, in ms, besides what [`Command::ClockAhead`] says.
    pub latency_ms: f64,
}

impl Default for FollowSettings {
    /// No clock but our own; one that falls silent is played on to for four bars of four.
    fn default() -> FollowSettings {
        FollowSettings {
            order: ArrayVec::new(),
            hold_quarters: 16,
            latency_ms: 0.0,
        }
    }
}

/// By how many frames our ticks are to be earlier than a source's stamps, so that both are heard together: what the
/// way of its ticks in and of our sound out takes. In the order of [`ClockSource::ALL`].
pub type AheadFrames = [f64; ClockSource::ALL.len()];

/// What has a level of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// The band's outputs.
    Master,
    /// The cue output: speech and model tones.
    Cue,
    /// One part.
    Part(Part),
}

/// A phrase ready to sound, in up to three lengths, longest first.
#[derive(Debug, Clone)]
pub struct Cue {
    /// Comes back in the notices.
    pub id: u32,
    /// The clips at the player's rate, mono, longest (fullest) first.
    pub choices: ArrayVec<CueChoice, CUE_CHOICES>,
    /// Where it may sound: `(start, end)`, each start on a beat; the clip starts on a start and ends at or
    /// before the end. The player takes the fullest choice that fits anywhere, at the latest start it fits.
    pub windows: ArrayVec<(Tick, Tick), CUE_WINDOWS>,
    /// Sound on this frame, or at once if it is over, whatever plays (outside a take too); windows are ignored.
    pub now: Option<Frame>,
}

/// One length of a phrase.
#[derive(Debug, Clone)]
pub struct CueChoice {
    /// How full it is.
    pub form: CueForm,
    /// Its samples at the player's rate.
    pub samples: std::sync::Arc<[f32]>,
}

/// How full a spoken cue is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CueForm {
    /// All of it.
    Full,
    /// Shortened.
    Short,
    /// Shortened to the root.
    Root,
    /// Not spoken.
    None,
}
