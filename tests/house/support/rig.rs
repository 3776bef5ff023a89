//! A player under test: bars written as lines, and a sink that keeps the MIDI. The guard of the callback and the benchmark
//! include this file too.

use arrayvec::ArrayVec;
use std::sync::Arc;
use underfoot::audio::{Band, Command, MidiSink, Outputs, Played, Player, PlayerEnd, Prepared};
use underfoot::time::{Bar, Frame, Meter, PPQ, Part, Tick, TimedNote, UsPerQuarter};

pub const RATE: u32 = 48_000;

/// The MIDI that came out, with absolute frames, and what was played in ticks.
#[derive(Default)]
pub struct Tape {
    pub block_start: u64,
    pub midi: Vec<(u64, [u8; 3])>,
    pub played: Vec<Played>,
}

impl MidiSink for Tape {
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]) {
        self.midi
            .push((self.block_start + u64::from(offset_frames), bytes));
    }
    fn played(&mut self, what: Played) {
        self.played.push(what);
    }
}

/// A player under test with everything that came out of it.
pub struct Rig {
    pub player: Player,
    pub end: PlayerEnd,
    pub tape: Tape,
    pub at: u64,
    pub left: Vec<f32>,
    pub right: Vec<f32>,
    pub cue: Vec<f32>,
}

/// The settings of most tests; with the SoundFont of the package timgm6mb-soundfont if `font`.
pub fn prepared(font: bool) -> Prepared {
    let load = || {
        let path = underfoot::audio::soundfont::find()
            .expect("a General MIDI SoundFont (Debian package timgm6mb-soundfont)");
        underfoot::audio::soundfont::load(&path, 1 << 30).expect("a sound SoundFont")
    };
    static FONT: std::sync::OnceLock<Arc<underfoot::audio::soundfont::SoundFont>> =
        std::sync::OnceLock::new();
    Prepared {
        rate: RATE,
        font: font.then(|| Arc::clone(FONT.get_or_init(load))),
        band: Band::default(),
        levels: Vec::new(),
        cue_to_outputs: false,
    }
}

impl Rig {
    pub fn new(prepared: Prepared) -> Rig {
        let (player, end) = Player::new(prepared).expect("a player");
        Rig {
            player,
            end,
            tape: Tape::default(),
            at: 0,
            left: Vec::new(),
            right: Vec::new(),
            cue: Vec::new(),
        }
    }

    pub fn send(&mut self, command: Command) {
        assert!(self.end.send(command).is_ok(), "a full queue");
    }

    /// Renders `frames` in one block.
    pub fn block(&mut self, frames: usize) {
        let (mut left, mut right, mut cue) =
            (vec![9.0; frames], vec![9.0; frames], vec![9.0; frames]);
        self.tape.block_start = self.at;
        let out = Outputs {
            left: &mut left,
            right: &mut right,
            cue: &mut cue,
        };
        self.player.render(Frame(self.at), out, &mut self.tape);
        self.left.extend(left);
        self.right.extend(right);
        self.cue.extend(cue);
        self.at += frames as u64;
    }

    /// Renders until `frame`, in blocks of at most `block`.
    pub fn until(&mut self, frame: u64, block: usize) {
        while self.at < frame {
            self.block(block.min((frame - self.at) as usize));
        }
    }

    /// Bars that should have begun and were not there.
    pub fn starved(&self) -> u32 {
        let counters = self.end.counters();
        counters.starved.load(std::sync::atomic::Ordering::Relaxed)
    }

    pub fn notices(&mut self) -> Vec<underfoot::audio::Notice> {
        std::iter::from_fn(|| self.end.notice()).collect()
    }
}

/// A 4/4 bar at `qpm` that is bar number `index` from the take's start. Notes: beat (from 0, in quarters),
/// length in quarters, part, key.
pub fn bar(index: i64, qpm: f64, notes: &[(f64, f64, Part, u8)]) -> Box<Bar> {
    let start = index * 4 * PPQ;
    let note = |&(at, len, part, key): &(f64, f64, Part, u8)| TimedNote {
        at: Tick(start + Tick::from_quarters(at).0),
        len: Tick::from_quarters(len),
        part,
        key,
        velocity: 100,
    };
    Box::new(Bar {
        epoch: 0,
        start: Tick(start),
        len: Tick(4 * PPQ),
        meter: Meter::COMMON,
        tempo: UsPerQuarter::from_qpm(qpm),
        notes: notes.iter().map(note).collect(),
        last: false,
    })
}

/// A bar in which the whole band plays.
pub fn band_bar(index: i64, qpm: f64) -> Box<Bar> {
    let root = 36 + (index * 5 % 12) as u8;
    bar(
        index,
        qpm,
        &[
            (0.0, 0.9, Part::Comping, root + 16),
            (0.0, 0.9, Part::Comping, root + 22),
            (0.0, 0.95, Part::Bass, root),
            (0.0, 0.1, Part::Drums, 51),
            (0.0, 0.1, Part::Click, 76),
            (1.0, 0.95, Part::Bass, root + 4),
            (1.0, 0.1, Part::Drums, 51),
            (1.667, 0.2, Part::Drums, 51),
            (2.0, 0.95, Part::Bass, root + 7),
            (2.0, 1.5, Part::Model, root + 28),
            (2.5, 0.4, Part::Comping, root + 16),
            (2.5, 0.4, Part::Comping, root + 22),
            (3.0, 1.5, Part::Bass, root + 6),
            (3.0, 0.1, Part::Click, 77),
            (3.667, 1.0, Part::Comping, root + 17),
        ],
    )
}

/// Appends bars.
pub fn append(bars: impl IntoIterator<Item = Box<Bar>>) -> Command {
    replace(i64::MAX, bars)
}

/// Replaces what lies at or after a tick.
pub fn replace(from: i64, bars: impl IntoIterator<Item = Box<Bar>>) -> Command {
    Command::Replace {
        from: Tick(from),
        bars: bars.into_iter().collect::<ArrayVec<_, 4>>(),
    }
}

pub fn start(at: u64, tick: i64) -> Command {
    Command::Start {
        at: Frame(at),
        tick: Tick(tick),
    }
}

pub fn stop(at: u64) -> Command {
    Command::Stop { at: Frame(at) }
}
