//! What the box gives away, and how that fades.

use crate::fault::TableView;
use crate::fault::settings::{flag, settings, word};

/// How much the comping gives away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Comping {
    /// Whole voicings.
    #[default]
    Full,
    /// The target is never the top voice.
    Inside,
    /// The target is not in the voicing.
    WithoutTarget,
    Off,
}

/// What keeps the time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Drums {
    /// Ride cymbal and foot hi-hat.
    #[default]
    Ride,
    HiHat,
    Click(Click),
    Off,
}

/// Which clicks sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Click {
    /// Every count; below 60 a minute subdivided.
    All,
    /// The second and fourth.
    TwoAndFour,
    First,
    /// Every count of every other bar.
    EveryOtherBar,
}

/// When the model tone sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Model {
    /// Never.
    #[default]
    Off,
    /// Half a beat before the chord.
    Before,
    /// Two beats (half of a shorter chord) after the last place.
    After,
}

/// What the page shows of a target set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum PageHelp {
    /// Spelled notes.
    #[default]
    Notes,
    Degrees,
    /// Nothing; the chord symbol stays.
    Symbol,
    /// Nothing at all, not even the symbol.
    Off,
}

/// When the voice names the targets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Voice {
    /// In the first pass that is played, of the stage or of a new key (missed ones in the one after).
    #[default]
    FirstPass,
    Always,
    Off,
}

settings! {
    /// What the box gives away in a pass: all but melody and model tone, where a stage says nothing.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub struct Help {
        comping: Comping = Comping::Full, word([
            ("full", Comping::Full),
            ("inside", Comping::Inside),
            ("without-target", Comping::WithoutTarget),
            ("off", Comping::Off),
        ]);
        /// Whether the bass plays.
        bass: bool = true, flag;
        /// What keeps the time.
        drums: Drums = Drums::Ride, word([
            ("ride", Drums::Ride),
            ("hi-hat", Drums::HiHat),
            ("click", Drums::Click(Click::All)),
            ("click 2 and 4", Drums::Click(Click::TwoAndFour)),
            ("click 1", Drums::Click(Click::First)),
            ("click every other bar", Drums::Click(Click::EveryOtherBar)),
            ("off", Drums::Off),
        ]);
        /// Whether the chart's melody sounds.
        melody: bool = false, flag;
        model: Model = Model::Off,
            word([("off", Model::Off), ("before", Model::Before), ("after", Model::After)]);
        page: PageHelp = PageHelp::Notes, word([
            ("notes", PageHelp::Notes),
            ("degrees", PageHelp::Degrees),
            ("symbol", PageHelp::Symbol),
            ("off", PageHelp::Off),
        ]);
        voice: Voice = Voice::FirstPass,
            word([("first pass", Voice::FirstPass), ("always", Voice::Always), ("off", Voice::Off)]);
    }
}

/// Help that fades: each entry changes what it names from its pass on; without `from_pass` that is the pass
/// after the entry before it.
pub(super) fn read_fade(view: &TableView<'_, '_>, first: Help) -> Vec<(u32, Help)> {
    if view.get("fade").is_none() {
        return Vec::new();
    }
    let (mut pass, mut help) = (1, first);
    let mut fade = Vec::new();
    for entry in view.tables("fade") {
        let from = entry
            .integer("from_pass", 2..=999, "passes")
            .unwrap_or(pass + 1);
        if from <= pass {
            entry.fault("from_pass", format!("from_pass is {from}, but the help before it holds from pass {pass}: passes must go up"),
            );
        }
        pass = from.max(pass);
        help = help.over(&entry);
        entry.finish();
        fade.push((pass, help));
    }
    fade
}
