//! What a chart is, whatever file it came from.

use crate::harmony::{HabitChoices, Harmony, KeyDeclaration, Pitch, ScaleName, SymbolError};
use crate::time::{Meter, Tick};
use std::sync::Arc;

/// The most bars of a chart: as written in the file, and as its form plays them.
pub const MAX_BARS: usize = 10_000;

/// How the tune is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Feel {
    /// Eighths long and short, by tempo.
    #[default]
    Swing,
    Straight,
    /// Even eighths, bossa patterns.
    Bossa,
    Waltz,
    /// Slow, two-feel, sparse.
    Ballad,
    /// Swung eighths on every beat, a back beat.
    Shuffle,
}

impl Feel {
    /// Every feel by its word in charts and on paper.
    pub const ALL: [(&'static str, Feel); 6] = [
        ("swing", Feel::Swing),
        ("straight", Feel::Straight),
        ("bossa", Feel::Bossa),
        ("waltz", Feel::Waltz),
        ("ballad", Feel::Ballad),
        ("shuffle", Feel::Shuffle),
    ];

    /// Its word.
    pub fn word(self) -> &'static str {
        let own = Feel::ALL.iter().find(|(_, feel)| *feel == self);
        own.map_or("swing", |(word, _)| word)
    }
}

/// A chart as written.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    pub title: String,
    /// The declared key; `None`: left out, to be inferred (and said so).
    pub key: Option<KeyDeclaration>,
    /// The meter at the start.
    pub meter: Meter,
    /// Quarter notes a minute.
    pub tempo_qpm: f64,
    /// How it is played.
    pub feel: Feel,
    /// What the chart itself chooses where good teachers differ; it wins over the configuration.
    pub habits: HabitChoices,
    /// The form: indices into `sections`, at least one. It is a chorus, which goes round.
    pub form: Vec<usize>,
    /// Sections that are played once, before the first chorus.
    pub intro: Vec<usize>,
    /// How the last time round is, where it is another than the others.
    pub last_time: Option<LastTime>,
    /// The pickup, bar 0, played once.
    pub pickup: Option<ChartBar>,
    /// The sections in the order of the file, at least one. A long chart is kept by many at a time: they share them.
    pub sections: Arc<[Section]>,
    /// The melody, if it is kept beside the chords.
    pub melody: Option<Melody>,
}

impl Chart {
    /// A bar of silence, for when there is no chart yet.
    pub fn silence() -> Chart {
        let meter = Meter::COMMON;
        let bar = ChartBar {
            meter,
            key: None,
            cells: vec![Cell {
                at: Tick(0),
                len: meter.bar_ticks(),
                harmony: Some(Harmony::Silence),
                hint: None,
                unread: None,
            }],
        };
        Chart {
            title: String::new(),
            key: None,
            meter,
            tempo_qpm: 120.0,
            feel: Feel::default(),
            habits: HabitChoices::default(),
            form: vec![0],
            intro: Vec::new(),
            last_time: None,
            pickup: None,
            sections: Arc::from([Section {
                name: String::new(),
                bars: vec![bar],
                endings: Vec::new(),
                vamp: false,
            }]),
            melody: None,
        }
    }
}

/// A section of the tune.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Its name, unique in the chart.
    pub name: String,
    /// Its bars without the endings, `%` already written out.
    pub bars: Vec<ChartBar>,
    /// Its endings: the last bars, appended to `bars`, by pass.
    pub endings: Vec<Ending>,
    /// It goes round until a foot moves on.
    pub vamp: bool,
}

/// The last time round.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LastTime {
    /// The form of the last time; empty: that of the others.
    pub form: Vec<usize>,
    /// So many bars of its last section are played before the coda; `None`: all.
    pub to_coda: Option<u32>,
    /// What follows, and ends the tune.
    pub coda: Vec<usize>,
}

impl LastTime {
    /// Every section that it names.
    pub fn sections(&self) -> impl Iterator<Item = &usize> {
        self.form.iter().chain(&self.coda)
    }
}

/// The last bars of a section in one of its passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Ending {
    /// The pass of the section within the form, from 1. Passes not named take the last ending given.
    pub pass: u32,
    /// The bars.
    pub bars: Vec<ChartBar>,
}

/// A bar of the chart with everything that holds in it.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartBar {
    pub meter: Meter,
    /// The key declared here (the chart's, or a change's).
    pub key: Option<KeyDeclaration>,
    /// What stands in it, in order; the cells fill the bar without gaps.
    pub cells: Vec<Cell>,
}

/// A chord's stretch within a bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Where it starts, from the bar's first tick.
    pub at: Tick,
    /// How long it lasts within this bar.
    pub len: Tick,
    /// The chord; `None`: the chord of the bar before goes on (a leading `/`).
    pub harmony: Option<Harmony>,
    /// A teacher's word for it.
    pub hint: Option<Hint>,
    /// The symbol that could not be read and stands for silence; only in a chart that was read with
    /// [`Chart::read_tolerant`].
    pub unread: Option<Box<Unread>>,
}

/// A chord symbol that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unread {
    pub text: String,
    /// What is wrong with it, the column counted in the symbol.
    pub error: SymbolError,
}

/// A teacher's word about one chord.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hint {
    /// The scale to use.
    pub scale: Option<ScaleName>,
    /// A note to the player.
    pub note: Option<String>,
}

/// The melody of a chart.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Melody {
    /// The pickup's notes, in a bar that ends where the form begins.
    pub pickup: Vec<MelodyNote>,
    /// For each of `Chart::sections` its bars, those of its endings numbered on; empty: no melody there.
    pub sections: Vec<Vec<Vec<MelodyNote>>>,
}

/// A note of the melody within a bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MelodyNote {
    /// Where it starts, from the bar's first tick.
    pub at: Tick,
    /// How long it lasts within this bar.
    pub len: Tick,
    /// How it is spelled.
    pub pitch: Pitch,
    /// Its octave: middle C is C4.
    pub octave: i8,
    /// Whether it goes on into the next note of the same pitch.
    pub tied: bool,
}

impl MelodyNote {
    /// The MIDI key: 60 is C4. Clamped to 0 to 127.
    pub fn midi(&self) -> u8 {
        let key = 12 * (i32::from(self.octave) + 1)
            + self.pitch.letter.semitones()
            + i32::from(self.pitch.alter);
        key.clamp(0, 127) as u8
    }
}
