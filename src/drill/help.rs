//! What the box gives away, and how that fades.

use super::toml::whole;
use crate::fault::TableView;

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
    /// Silent.
    Off,
}

/// What keeps the time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Drums {
    /// Ride cymbal and foot hi-hat.
    #[default]
    Ride,
    /// Hi-hat alone.
    HiHat,
    /// A click.
    Click(Click),
    /// Silent.
    Off,
}

/// Which clicks sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Click {
    /// Every count; below 60 a minute subdivided.
    All,
    /// The second and fourth.
    TwoAndFour,
    /// The first only.
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
    /// Degrees as words.
    Degrees,
    /// Nothing; the chord symbol stays.
    Symbol,
    /// Nothing at all, not even the symbol.
    Off,
}

/// When the voice names the targets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Voice {
    /// In the first pass (missed ones in the second).
    #[default]
    FirstPass,
    /// In every pass.
    Always,
    /// Never.
    Off,
}

/// What the box gives away in a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Help {
    /// The comping.
    pub comping: Comping,
    /// Whether the bass plays.
    pub bass: bool,
    /// What keeps the time.
    pub drums: Drums,
    /// Whether the chart's melody sounds.
    pub melody: bool,
    /// The model tone.
    pub model: Model,
    /// The page.
    pub page: PageHelp,
    /// The voice.
    pub voice: Voice,
}

impl Default for Help {
    /// All help but melody and model tone: what a stage has that says nothing.
    fn default() -> Help {
        Help {
            comping: Comping::Full,
            bass: true,
            drums: Drums::Ride,
            melody: false,
            model: Model::Off,
            page: PageHelp::Notes,
            voice: Voice::FirstPass,
        }
    }
}

/// Help as a table says it, over `base` for the keys it leaves out.
pub(super) fn read_help(view: &TableView<'_, '_>, base: Help) -> Help {
    let comping = [
        ("full", Comping::Full),
        ("inside", Comping::Inside),
        ("without-target", Comping::WithoutTarget),
        ("off", Comping::Off),
    ];
    let drums = [
        ("ride", Drums::Ride),
        ("hi-hat", Drums::HiHat),
        ("click", Drums::Click(Click::All)),
        ("click 2 and 4", Drums::Click(Click::TwoAndFour)),
        ("click 1", Drums::Click(Click::First)),
        ("click every other bar", Drums::Click(Click::EveryOtherBar)),
        ("off", Drums::Off),
    ];
    let model = [
        ("off", Model::Off),
        ("before", Model::Before),
        ("after", Model::After),
    ];
    let page = [
        ("notes", PageHelp::Notes),
        ("degrees", PageHelp::Degrees),
        ("symbol", PageHelp::Symbol),
        ("off", PageHelp::Off),
    ];
    let voice = [
        ("first pass", Voice::FirstPass),
        ("always", Voice::Always),
        ("off", Voice::Off),
    ];
    let help = Help {
        comping: view.one_of("comping", &comping).unwrap_or(base.comping),
        bass: view.boolean("bass").unwrap_or(base.bass),
        drums: view.one_of("drums", &drums).unwrap_or(base.drums),
        melody: view.boolean("melody").unwrap_or(base.melody),
        model: view.one_of("model", &model).unwrap_or(base.model),
        page: view.one_of("page", &page).unwrap_or(base.page),
        voice: view.one_of("voice", &voice).unwrap_or(base.voice),
    };
    view.finish();
    help
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
        let from = whole(&entry, "from_pass", 2, 999, "passes").unwrap_or(pass + 1);
        if from <= pass {
            entry.reader.fault(
                entry.offset("from_pass"),
                format!("from_pass is {from}, but the help before it holds from pass {pass}: passes must go up"),
            );
        }
        pass = from.max(pass);
        help = read_help(&entry, help);
        fade.push((pass, help));
    }
    fade
}
